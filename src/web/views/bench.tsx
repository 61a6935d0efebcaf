/** The coupled bench: firmware, drivers, rails and decoders in one run, scenario by scenario on a timeline. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import { type ScenarioResult, timelineSvg } from '../../bench/index.js'
import { isShown } from '../../standard/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { Drop } from '../parts/drop.js'
import { GoingOn } from '../parts/going.js'
import { classOf, Sign } from '../parts/margin.js'
import { RunStatus } from '../parts/run-status.js'
import { TakeFigure } from '../parts/take-figure.js'
import { namedRuns } from '../state/automatic.js'
import { lastValid } from '../state/consequences.js'
import { COUPLED, chosenScenario, playFile, runCoupled, scenarioFault, scenarios } from '../state/coupled.js'
import { benchFault, isBusy } from '../state/runs.js'
import { pan, type Span, zoom } from '../wave/view.js'
import './bench.css'

/** In the order in which they are played. */
const PLAYS = [
  'a short in each district, at its weakest and at its strongest place, and on the service track',
  'a command to stop during a short',
  'every locomotive started at once, and full load',
  'the heaviest traffic, with every kind of command',
  'a restart, and a program that hangs, while trains run',
  'a stop of each train at each of its places',
  'a CV written and verified on the service track',
]

export function BenchView() {
  const facts = lastValid.value!.facts!
  const canRun = facts.simulated && facts.firmware !== undefined && facts.parts.includes('power')
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
        <Drop
          label="Play a scenario file"
          hint="or drop one here, such as a failure that a campaign wrote"
          accept=".yaml,.yml"
          disabled={!canRun || isBusy.value}
          onFile={(file) => void playFile(file)}
        />
        <GoingOn />
        {scenarioFault.value && <p class="notice broken">✗ {scenarioFault.value}</p>}
        {!canRun && (
          <p class="quiet">
            The bench needs firmware that the design names, a controller that can be simulated, and a power
            stage.
          </p>
        )}
        {benchFault.value?.of === 'firmware' && <p class="notice broken">✗ {benchFault.value.says}</p>}
        {isStale && (
          <p class="notice undecided">The design has been changed since: these are the previous figures.</p>
        )}
        {chosen && chosen.timeline.length > 0 && <Timeline key={chosen.name} scenario={chosen} />}
        {chosen && <Found scenario={chosen} />}
        {chosen && chosen.timeline.length > 0 && <Events scenario={chosen} />}
        {list.length === 0 && canRun && (
          <section aria-labelledby="plays">
            <h3 id="plays">What the bench plays</h3>
            <ul class="sentences">
              {PLAYS.map((what) => (
                <li>{what}</li>
              ))}
            </ul>
            <p class="quiet">
              Each is played with this design and its firmware, as far as the design has what it takes. The
              result is a timeline of packets, currents and trains, and what the firmware did right or wrong.
            </p>
          </section>
        )}
      </div>
      <div class="beside" role="group" aria-label="Scenarios">
        {list.length > 0 && (
          <section aria-labelledby="scenarios">
            <h3 id="scenarios">Scenarios</h3>
            <ul class="plain-list">
              {list.map((s) => (
                <li>
                  {(s.outcomes.length > 0 ? s.outcomes : s.statements).map((e) => (
                    <span class={classOf(e.verdict)}>
                      <Sign verdict={e.verdict} /> <span class="unseen">{e.verdict}: </span>
                    </span>
                  ))}
                  <button type="button" class="link" onClick={() => (chosenScenario.value = s.name)}>
                    {s.name}
                  </button>
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

/** Around what a scenario is about, us. */
const BEFORE_US = 3000
const AFTER_US = 12_000

/** Everything of the run on one axis, moved by the same keys as the waveform. */
function Timeline({ scenario }: { scenario: ScenarioResult }) {
  const { name, timeline, amps, ranUs } = scenario
  const whole = { from: 0, to: ranUs }
  const [span, setSpan] = useState<Span>(whole)
  const box = useRef<HTMLDivElement>(null)
  const svg = useMemo(
    () => timelineSvg(scenario, { fromUs: Math.max(0, span.from), toUs: span.to }),
    [scenario, span],
  )
  const url = useMemo(() => URL.createObjectURL(new Blob([svg], { type: 'image/svg+xml' })), [svg])
  useEffect(() => () => URL.revokeObjectURL(url), [url])
  const fault = timeline.find((e) => e.kind === 'short' || e.kind === 'restart')
  const most = Math.max(0, ...[...amps.values()].flatMap((list) => list.map((p) => p.amp)))
  const says = `${name}: current of ${[...amps.keys()].join(', ')} over ${formatTimeUs(ranUs, 3)}, at most ${formatNumber(most, 3)} A; ${timeline.length} events`
  const wide = span.to - span.from
  const middle = (span.from + span.to) / 2
  // Wheel listeners of the framework are passive; this one must keep the page from scrolling.
  useEffect(() => {
    const element = box.current!
    const wheel = (event: WheelEvent) => {
      event.preventDefault()
      const { width } = element.getBoundingClientRect()
      setSpan((now) =>
        Math.abs(event.deltaX) > Math.abs(event.deltaY)
          ? pan(now, (event.deltaX / width) * (now.to - now.from), whole)
          : zoom(
              now,
              1.0015 ** event.deltaY,
              now.from + (event.offsetX / width) * (now.to - now.from),
              whole,
            ),
      )
    }
    element.addEventListener('wheel', wheel, { passive: false })
    return () => element.removeEventListener('wheel', wheel)
  }, [ranUs])
  const keys = (event: KeyboardEvent) => {
    const acts: Record<string, () => void> = {
      ArrowLeft: () => setSpan(pan(span, -wide / 8, whole)),
      ArrowRight: () => setSpan(pan(span, wide / 8, whole)),
      ArrowUp: () => setSpan(zoom(span, 0.6, middle, whole)),
      ArrowDown: () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      Home: () => setSpan(pan(span, -span.from, whole)),
      End: () => setSpan(pan(span, whole.to - span.to, whole)),
      '+': () => setSpan(zoom(span, 0.6, middle, whole)),
      '-': () => setSpan(zoom(span, 1 / 0.6, middle, whole)),
      '0': () => setSpan(whole),
    }
    const act = acts[event.key]
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    act()
  }
  return (
    <figure class="coupled">
      <div class="switch" role="group" aria-label="Time in view">
        <button type="button" onClick={() => setSpan(zoom(span, 0.5, middle, whole))}>
          Zoom in
        </button>
        <button type="button" onClick={() => setSpan(zoom(span, 2, middle, whole))}>
          Zoom out
        </button>
        <button type="button" onClick={() => setSpan(whole)}>
          Whole run
        </button>
        {fault && (
          <button
            type="button"
            onClick={() =>
              setSpan({ from: Math.max(0, fault.timeUs - BEFORE_US), to: fault.timeUs + AFTER_US })
            }
          >
            Around the {fault.kind}
          </button>
        )}
        <span class="mono">{formatTimeUs(wide)} in view</span>
      </div>
      <div class="wide" tabIndex={0} role="group" aria-label="Timeline" ref={box} onKeyDown={keys}>
        <img src={url} alt={says} />
      </div>
      <figcaption>
        <span>
          {says}. <span class="quiet">Arrow keys and + and − move it; all events are listed below.</span>
        </span>
        <TakeFigure
          name={`bench-${name.replace(/\W+/g, '-')}`}
          title={`Bench, ${name}`}
          caption={`${says}. Source: firmware of ${lastValid.value?.facts?.name ?? 'the design'} on the simulated bench, by Halfbit.`}
          svg={() => svg}
        />
      </figcaption>
    </figure>
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
