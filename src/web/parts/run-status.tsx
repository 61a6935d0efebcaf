/** What the design names to be run and read: how far each is, whether it is up to date, and a button to run it. */
import {
  canRunBench,
  isAutomatic,
  isBenchAutomatic,
  type NamedRun,
  namedRuns,
  type RunState,
  setAutomatic,
  setBenchAutomatic,
} from '../state/automatic.js'
import { COUPLED } from '../state/coupled.js'
import { going, isBusy } from '../state/runs.js'

const SIGN: Record<RunState, string> = {
  'up to date': '✓',
  running: '◔',
  'out of date': '≠',
  'not run': '–',
  'stopped early': '■',
  failed: '✗',
}

export function RunStatus() {
  const runs = namedRuns.value
  if (runs.length === 0) return null
  return (
    <section class="runs" aria-labelledby="runs-title">
      <h3 id="runs-title">Firmware and captures</h3>
      <ul class="plain-list">
        {runs.map((run) => (
          <RunLine key={run.key} run={run} />
        ))}
      </ul>
      <label class="check">
        <input
          type="checkbox"
          checked={isAutomatic.value}
          onChange={(event) => setAutomatic((event.currentTarget as HTMLInputElement).checked)}
        />
        Run automatically after changes
      </label>
      {canRunBench.value && isAutomatic.value && (
        <label class="check">
          <input
            type="checkbox"
            checked={isBenchAutomatic.value}
            onChange={(event) => setBenchAutomatic((event.currentTarget as HTMLInputElement).checked)}
          />
          Run the bench automatically, too
        </label>
      )}
    </section>
  )
}

function RunLine({ run: { key, kind, label, state, says, start } }: { run: NamedRun }) {
  const now = going.value
  const mine = now?.key === key ? now : undefined
  const does = kind === 'run' ? 'Run' : 'Read'
  return (
    <li
      class={`run-line is-${state.replaceAll(' ', '-')}`}
      data-state={state}
      data-run={key === COUPLED ? 'bench' : kind}
    >
      <span class="run-label">
        <span aria-hidden="true">{SIGN[state]}</span> {label}
      </span>
      <span class={state === 'failed' ? 'broken' : state === 'out of date' ? 'undecided' : 'quiet'}>
        {state === 'not run' && kind === 'capture' ? 'not read' : state}
      </span>
      {mine ? (
        <>
          <progress max={1} value={mine.share} aria-label={mine.what} />
          <span class="quiet mono">{mine.says}</span>
          <button type="button" onClick={mine.stop}>
            Stop<span class="unseen"> {label}</span>
          </button>
        </>
      ) : (
        start &&
        state !== 'up to date' && (
          <button type="button" disabled={isBusy.value} onClick={() => void start(false)}>
            {state === 'not run' || state === 'failed' ? does : `${does} again`}
            <span class="unseen">: {label}</span>
          </button>
        )
      )}
      {says && <span class="quiet says">{says}</span>}
    </li>
  )
}
