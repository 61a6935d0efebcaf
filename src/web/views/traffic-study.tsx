/** Policies side by side and the sweep over numbers of locomotives, when someone asks for them. */
import { signal } from '@preact/signals'
import { Drawing } from '../parts/figure.js'
import { List } from '../parts/list.js'
import { Tables } from '../parts/table.js'
import { lastValid, lastValidText } from '../state/consequences.js'
import { study } from '../worker/callers.js'
import type { StudyCalls } from '../worker/study-calls.js'
import './traffic-study.css'

// They live on when the view changes.
const going = signal<{ share: number; says: string; stop(): void } | undefined>(undefined)
const found = signal<(StudyCalls['traffic']['gives'] & { of: string }) | undefined>(undefined)
const fault = signal('')

async function run(): Promise<void> {
  const stop = new AbortController()
  const text = lastValidText.value
  fault.value = ''
  going.value = { share: 0, says: 'loading …', stop: () => stop.abort() }
  try {
    const gives = await study().call(
      'traffic',
      { text },
      {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      },
    )
    found.value = { ...gives, of: text }
  } catch (error) {
    fault.value = error instanceof Error ? error.message : String(error)
  } finally {
    going.value = undefined
  }
}

export function TrafficStudy() {
  if (!lastValid.value?.facts?.parts.includes('fleet')) return null
  const answer = found.value
  const source = `calculated by Halfbit from ${lastValid.value.facts.name}`
  return (
    <section class="study" aria-labelledby="study">
      <h3 id="study">Policies and numbers of locomotives</h3>
      <p class="quiet">
        Every scheduling policy on clean and on dirty track, and how many locomotives each carries: many
        simulations, some of them long.
      </p>
      {going.value ? (
        <div class="going">
          <label>
            <span>Simulating traffic</span>
            <progress max={1} value={going.value.share} />
          </label>
          <span class="mono">{going.value.says}</span>
          <button type="button" onClick={going.value.stop}>
            Stop
          </button>
        </div>
      ) : (
        <button type="button" class="main" onClick={() => void run()}>
          {answer ? 'Compare policies again' : 'Compare policies'}
        </button>
      )}
      {fault.value && <p class="notice broken">✗ {fault.value}</p>}
      {answer && (
        <>
          {answer.of !== lastValidText.value && (
            <p class="notice">The design has changed since; these are the previous results.</p>
          )}
          <List title="What the policies do" sentences={[...answer.advice, ...answer.missing]} />
          <Tables tables={answer.tables} />
          <div class="drawings">
            {answer.figures.map((figure) => (
              <Drawing key={figure.name} figure={figure} source={source} />
            ))}
          </div>
        </>
      )}
    </section>
  )
}
