/** The coupled bench: firmware, drivers, rails and decoders in one run, scenario by scenario on a timeline. */
import { useRef, useState } from 'preact/hooks'
import type { ScenarioResult } from '../../bench/index.js'
import { isShown } from '../../standard/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { GoingOn } from '../parts/going.js'
import { classOf, Sign } from '../parts/margin.js'
import { pageSvg } from '../parts/page-svg.js'
import { RunStatus } from '../parts/run-status.js'
import { TakeFigure } from '../parts/take-figure.js'
import { namedRuns } from '../state/automatic.js'
import { lastValid } from '../state/consequences.js'
import { COUPLED, chosenScenario, runCoupled, scenarios } from '../state/coupled.js'
import { benchFault, isBusy } from '../state/runs.js'
import './bench.css'

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
        <GoingOn />
        {!canRun && (
          <p class="quiet">
            The bench needs firmware that the design names, a controller that can be simulated, and a power
            stage.
          </p>
        )}
        {benchFault.value?.of === 'firmware' && <p class="notice broken">✗ {benchFault.value.says}</p>}
        {isStale && (
          <p class="notice undecided">The design has been changed since: these are the figures of before.</p>
        )}
        {chosen && chosen.timeline.length > 0 && <Timeline key={chosen.name} scenario={chosen} />}
        {chosen && <Found scenario={chosen} />}
        {chosen && chosen.timeline.length > 0 && <Events scenario={chosen} />}
        {list.length === 0 && canRun && (
          <p class="quiet">
            A short in each district, every locomotive started at once, a restart under way, a CV written on
            the service track: run the bench to see what the firmware does.
          </p>
        )}
      </div>
      <div class="beside" role="group" aria-label="Scenarios">
        {list.length > 0 && (
          <section aria-labelledby="scenarios">
            <h3 id="scenarios">Scenarios</h3>
            <ul class="plain-list">
              {list.map((s) => (
                <li>
                  {s.statements.map((e) => (
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

function Found({ scenario: { statements, findings } }: { scenario: ScenarioResult }) {
  const said = new Set(statements.map((s) => s.because))
  return (
    <ul class="sentences">
      {statements.map((s) => (
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

const WIDTH = 960
const LEFT = 104
const RIGHT = 14
const LANE = 74
const ROW = 20
const TOP = 26

/** Amperes of each district over time, and below them what happened to whom. */
function Timeline({ scenario }: { scenario: ScenarioResult }) {
  const drawing = useRef<SVGSVGElement>(null)
  const [zoom, setZoom] = useState<'all' | 'fault'>('all')
  const { name, timeline, amps, ranUs } = scenario
  const fault = timeline.find((e) => e.kind === 'short' || e.kind === 'restart')
  const [from, to] =
    zoom === 'fault' && fault ? [Math.max(0, fault.timeUs - 3000), fault.timeUs + 12_000] : [0, ranUs]
  const x = (us: number) => LEFT + ((us - from) / (to - from)) * (WIDTH - LEFT - RIGHT)
  const districts = [...amps.keys()]
  const most = Math.max(0.1, ...[...amps.values()].flatMap((list) => list.map((p) => p.amp)))
  const others = [...new Set(timeline.map((e) => e.about))].filter((about) => !districts.includes(about))
  const rowsTop = TOP + districts.length * LANE
  const rowOf = (about: string) => rowsTop + (others.indexOf(about) + 0.5) * ROW
  const height = rowsTop + others.length * ROW + 30
  const step = stepOf(to - from)
  const ticks: number[] = []
  for (let t = Math.ceil(from / step) * step; t <= to; t += step) ticks.push(t)
  const says = `${name}: current of ${districts.join(', ')} over ${formatTimeUs(ranUs, 3)}, at most ${formatNumber(most, 3)} A; ${timeline.length} events`
  return (
    <figure class="coupled">
      {fault && (
        <div class="switch" role="group" aria-label="Time in view">
          <button type="button" aria-pressed={zoom === 'all'} onClick={() => setZoom('all')}>
            Whole run
          </button>
          <button type="button" aria-pressed={zoom === 'fault'} onClick={() => setZoom('fault')}>
            Around the {fault.kind}
          </button>
        </div>
      )}
      <div class="wide" tabIndex={0} role="group" aria-label="Timeline">
        <svg ref={drawing} viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-label={says}>
          {ticks.map((t) => (
            <g>
              <line class="tick" x1={x(t)} x2={x(t)} y1={TOP - 6} y2={height - 24} />
              <text x={x(t)} y={height - 8} text-anchor="middle" class="quiet-text">
                {formatTimeUs(t, 5)}
              </text>
            </g>
          ))}
          {districts.map((district, i) => {
            const base = TOP + (i + 1) * LANE - 12
            const y = (amp: number) => base - (amp / most) * (LANE - 22)
            return (
              <g>
                <text x="6" y={base - 22} class="strong">
                  {district}
                </text>
                <text x="6" y={base - 8} class="quiet-text">
                  to {formatNumber(most, 2)} A
                </text>
                <line class="base" x1={LEFT} x2={WIDTH - RIGHT} y1={base} y2={base} />
                <path class="amps" d={stepsOf(amps.get(district)!, x, y, from, to)} />
              </g>
            )
          })}
          {others.map((about) => (
            <g>
              <text x="6" y={rowOf(about) + 4}>
                {about}
              </text>
              <line class="base" x1={LEFT} x2={WIDTH - RIGHT} y1={rowOf(about)} y2={rowOf(about)} />
            </g>
          ))}
          {timeline
            .filter((e) => e.timeUs >= from && e.timeUs <= to)
            .map((e) => {
              const lane = districts.indexOf(e.about)
              const at = lane >= 0 ? TOP + lane * LANE + 8 : rowOf(e.about)
              return (
                <g class={`event is-${e.kind}`}>
                  <title>
                    {formatTimeUs(e.timeUs, 6)}, {e.about}: {e.sentence}
                  </title>
                  {e.kind === 'short' || e.kind === 'restart' ? (
                    <line x1={x(e.timeUs)} x2={x(e.timeUs)} y1={TOP - 6} y2={height - 24} />
                  ) : (
                    <circle cx={x(e.timeUs)} cy={at} r="4" />
                  )}
                </g>
              )
            })}
        </svg>
      </div>
      <figcaption>
        <span>
          {says}. <span class="quiet">Point at a mark to read it; all of them are listed below.</span>
        </span>
        <TakeFigure
          name={`bench-${name.replace(/\W+/g, '-')}`}
          title={`Bench, ${name}`}
          caption={`${says}. Source: firmware of ${lastValid.value?.facts?.name ?? 'the design'} on the simulated bench, by Halfbit.`}
          svg={(scheme) => pageSvg(drawing.current!, scheme)}
        />
      </figcaption>
    </figure>
  )
}

/** Round steps, 1, 2 or 5 times a power of ten, at most eight of them. */
function stepOf(wide: number): number {
  const power = 10 ** Math.floor(Math.log10(wide / 8))
  return [1, 2, 5, 10].map((n) => n * power).find((s) => wide / s <= 8) ?? 10 * power
}

/** A step line with at most one high and one low in each pixel. */
function stepsOf(
  points: readonly { timeUs: number; amp: number }[],
  x: (us: number) => number,
  y: (amp: number) => number,
  from: number,
  to: number,
): string {
  const parts: string[] = []
  let level = 0
  let column = Number.NaN
  let low = 0
  let high = 0
  const flush = () => {
    if (Number.isNaN(column)) return
    parts.push(`H${column}V${y(high).toFixed(1)}V${y(low).toFixed(1)}V${y(level).toFixed(1)}`)
  }
  let start = 0
  for (const { timeUs, amp } of points) {
    if (timeUs > to) break
    if (timeUs < from) {
      start = amp
      level = amp
      continue
    }
    const at = Math.round(x(timeUs))
    if (at !== column) {
      flush()
      column = at
      low = Math.min(level, amp)
      high = Math.max(level, amp)
    } else {
      low = Math.min(low, amp)
      high = Math.max(high, amp)
    }
    level = amp
  }
  flush()
  return `M${x(from)} ${y(start).toFixed(1)}${parts.join('')}H${x(to).toFixed(1)}`
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
