/** Three steps for who comes here first; shown once, skipped with one key. */
import { signal } from '@preact/signals'
import { go } from '../state/route.js'
import type { StopId } from '../stops.js'

const KEPT = 'halfbit-tour-seen'
const step = signal(localStorage.getItem(KEPT) ? -1 : 0)

const STEPS: { stop: StopId; says: string }[] = [
  {
    stop: 'proof',
    says: 'This is a whole station, calculated. The table says for each demand of the published standards whether it is met, and by what margin. Nothing is met that was not shown.',
  },
  {
    stop: 'controller',
    says: 'The line above is the signal’s own way. Each stop shows its worst margin. Change a number on the design side, such as the half of a one bit, and watch all of it follow.',
  },
  {
    stop: 'waveform',
    says: 'Run the firmware at the controller, or drop a capture here, and simulation and measurement join the proof. Ctrl+Z takes any change back.',
  },
]

export function Tour() {
  const now = STEPS[step.value]
  if (!now) return null
  const leave = () => {
    localStorage.setItem(KEPT, '1')
    step.value = -1
  }
  const last = step.value === STEPS.length - 1
  return (
    <section
      class="tour"
      aria-label="A short tour"
      onKeyDown={(event) => {
        if (event.key === 'Escape') leave()
      }}
    >
      <p role="status">
        <strong>
          {step.value + 1} of {STEPS.length}.
        </strong>{' '}
        {now.says}
      </p>
      <div class="acts">
        <button
          type="button"
          class="main"
          onClick={() => {
            if (last) return leave()
            step.value++
            go(STEPS[step.value]!.stop)
          }}
        >
          {last ? 'Done' : 'Next'}
        </button>
        {!last && (
          <button type="button" onClick={leave}>
            Skip the tour
          </button>
        )}
      </div>
    </section>
  )
}
