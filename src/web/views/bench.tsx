/** The coupled bench: firmware, drivers, rails and decoders in one run, scenario by scenario on a timeline. */
import type { ScenarioResult } from '../../bench/index.js'
import { isShown } from '../../standard/index.js'
import { formatTimeUs } from '../../units/index.js'
import { openPane } from '../edit/pane-state.js'
import { Drop } from '../parts/drop.js'
import { EmptyFigure } from '../parts/empty-figure.js'
import { GoingOn } from '../parts/going.js'
import { classOf, Sign } from '../parts/margin.js'
import { RunStatus } from '../parts/run-status.js'
import { canRunBench, lackedByBench, namedRuns } from '../state/automatic.js'
import { COUPLED, chosenScenario, playFile, runCoupled, scenarioFault, scenarios } from '../state/coupled.js'
import { benchFault, going, isBusy } from '../state/runs.js'
import { Timeline } from './bench-timeline.js'
import './bench.css'

/** In the order in which they are played. */
const PLAYS = [
  'a short in each district, at its weakest and at its strongest place, and on the service track',
  'a short in each district while a CV is written',
  'a command to stop during a short',
  'every locomotive started at once, and full load',
  'the heaviest traffic, with every kind of command',
  'a restart, and a program that hangs, while trains run',
  'a stop of each train at each of its places',
  'a CV written and verified on the service track',
]

export function BenchView() {
  const canRun = canRunBench.value
  const list = scenarios.value
  const chosen = list.find((s) => s.name === chosenScenario.value) ?? list[0]
  const isStale = namedRuns.value.some((r) => r.key === COUPLED && r.state === 'out of date')
  return (
    <div class="stage-body">
      <div class="figures">
        <div class="acts">
          <button
            type="button"
            class="main"
            disabled={!canRun || isBusy.value}
            onClick={() => void runCoupled()}
          >
            Run the bench
          </button>
          {list.length > 0 && (
            <label>
              Scenario{' '}
              <select
                value={chosen?.name}
                onChange={(event) =>
                  (chosenScenario.value = (event.currentTarget as HTMLSelectElement).value)
                }
              >
                {list.map((s) => (
                  <option value={s.name}>{s.name}</option>
                ))}
              </select>
            </label>
          )}
        </div>
        <GoingOn bench />
        {scenarioFault.value && <p class="notice broken">✗ {scenarioFault.value}</p>}
        {benchFault.value?.of === 'firmware' && <p class="notice broken">✗ {benchFault.value.says}</p>}
        {isStale && (
          <p class="notice undecided">The design has been changed since: these are the previous figures.</p>
        )}
        {chosen && chosen.timeline.length > 0 && <Timeline key={chosen.name} scenario={chosen} />}
        {chosen && <Found scenario={chosen} />}
        {chosen && chosen.timeline.length > 0 && <Events scenario={chosen} />}
        {!canRun && (
          <EmptyFigure title="The bench cannot run yet">
            <p>It still needs {lackedByBench.value.join(' and ')}.</p>
            <button type="button" onClick={openPane}>
              Open the design
            </button>
          </EmptyFigure>
        )}
        {list.length === 0 && canRun && (
          <EmptyFigure title={going.value?.key === COUPLED ? 'Running' : 'Not run yet'}>
            The bench plays each of these with this design and its firmware, as far as the design has what it
            takes. The result is a timeline of packets, currents and trains, and what the firmware did right
            or wrong.
            <ul>
              {PLAYS.map((what) => (
                <li>{what}</li>
              ))}
            </ul>
          </EmptyFigure>
        )}
        <Drop
          label="Play a scenario file"
          hint="or drop one here, such as a failure that a campaign wrote"
          accept=".yaml,.yml"
          disabled={!canRun || isBusy.value}
          onFile={(file) => void playFile(file)}
        />
      </div>
      <div class="beside" tabIndex={0} role="group" aria-label="Scenarios">
        {list.length > 0 && (
          <section aria-labelledby="scenarios">
            <h3 id="scenarios">Scenarios</h3>
            <ul class="plain-list">
              {list.map((s) => (
                <li>
                  <button type="button" class="link" onClick={() => (chosenScenario.value = s.name)}>
                    {s.name}
                  </button>{' '}
                  {countsOf(s).map(([verdict, count]) => (
                    <span class={classOf(verdict)}>
                      <Sign verdict={verdict} /> {count} <span class="unseen">{verdict}</span>{' '}
                    </span>
                  ))}
                </li>
              ))}
            </ul>
          </section>
        )}
        <RunStatus />
      </div>
    </div>
  )
}

/** How many of its outcomes have each verdict, worst first. */
function countsOf({ outcomes, statements }: ScenarioResult) {
  const all = outcomes.length > 0 ? outcomes : statements
  return (['broken', 'undecided', 'not shown', 'met'] as const)
    .map((verdict) => [verdict, all.filter((e) => e.verdict === verdict).length] as const)
    .filter(([, count]) => count > 0)
}

function Found({ scenario: { statements, findings, outcomes, digest } }: { scenario: ScenarioResult }) {
  const said = new Set([...statements.map((s) => s.because), ...outcomes.map((o) => o.finding.sentence)])
  // What is met of the clauses of the signal is one outcome; what is not has a line of its own.
  const isMore = (s: (typeof statements)[number]) =>
    !outcomes.some((o) => o.finding.sentence === s.because) && (outcomes.length === 0 || s.verdict !== 'met')
  return (
    <ul class="sentences" data-digest={digest}>
      {outcomes.map((o) => (
        <li>
          <span class={classOf(o.verdict)}>
            <Sign verdict={o.verdict} /> {o.verdict}
          </span>{' '}
          <strong>{inWords(o.key)}</strong>: {o.finding.sentence}
        </li>
      ))}
      {statements.filter(isMore).map((s) => (
        <li>
          <span class={classOf(s.verdict)}>
            <Sign verdict={s.verdict} /> {s.verdict}
          </span>{' '}
          <strong>{s.clause}</strong>
          {s.about && `, ${s.about}`}: {s.because}
          {isShown(s) && s.count ? `; ${s.count.outside} of ${s.count.seen}` : ''}
        </li>
      ))}
      {findings
        .filter((f) => !said.has(f.sentence))
        .map((f) => (
          <li>{f.sentence}</li>
        ))}
    </ul>
  )
}

function Events({ scenario: { timeline } }: { scenario: ScenarioResult }) {
  return (
    <details>
      <summary>{timeline.length} events</summary>
      <div class="wide" tabIndex={0} role="region" aria-label="Events">
        <table>
          <thead>
            <tr>
              <th scope="col" class="right">
                time
              </th>
              <th scope="col">where</th>
              <th scope="col">what</th>
            </tr>
          </thead>
          <tbody>
            {timeline.map((e) => (
              <tr>
                <td class="right">{formatTimeUs(e.timeUs, 6)}</td>
                <td>{e.about}</td>
                <td>{e.sentence}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  )
}

/** A key of the scenario file, as words: `shortOff`. */
function inWords(key: string): string {
  return key.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`)
}
