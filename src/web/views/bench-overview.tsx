/** The whole run of a scenario as a strip: the current of all districts, faults and commands, and what is in view. */
import { useMemo } from 'preact/hooks'
import type { ScenarioResult } from '../../bench/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import type { Span } from '../wave/view.js'

const WIDE = 1000
const HIGH = 44
/** Of it the current; below are the marks. */
const CURRENT = 34
/** What is in view is never narrower. */
const LEAST = 4

interface OverviewProps {
  scenario: ScenarioResult
  span: Span
  goTo(us: number): void
}

export function BenchOverview({ scenario, span, goTo }: OverviewProps) {
  const { amps, ranUs, timeline } = scenario
  const { path, most } = useMemo(() => totalOf(amps, ranUs), [scenario])
  const x = (us: number) => Math.min(WIDE, Math.max(0, (us / ranUs) * WIDE))
  const [from, to] = [x(span.from), x(span.to)]
  const under = (event: MouseEvent) => {
    const { left, width } = (event.currentTarget as Element).getBoundingClientRect()
    goTo(((event.clientX - left) / width) * ranUs)
  }
  return (
    <div class="bench-overview">
      <p>
        <strong>Whole run</strong>{' '}
        <span class="quiet">
          {formatTimeUs(ranUs, 3)}, current of all districts, at most {formatNumber(most, 3)} A
        </span>
      </p>
      <svg
        viewBox={`0 0 ${WIDE} ${HIGH}`}
        preserveAspectRatio="none"
        height={HIGH}
        aria-hidden="true"
        onPointerDown={(event) => event.currentTarget.setPointerCapture(event.pointerId)}
        onPointerMove={(event) => event.buttons === 1 && under(event)}
        onClick={under}
      >
        <path class="amps" d={path} />
        {timeline.map((e) =>
          e.kind === 'short' || e.kind === 'restart' ? (
            <path class="fault" d={`M${x(e.timeUs).toFixed(1)} 0v${HIGH}`} />
          ) : e.kind === 'command' ? (
            <path class="told" d={`M${x(e.timeUs).toFixed(1)} ${CURRENT + 2}v${HIGH - CURRENT - 3}`} />
          ) : null,
        )}
        <rect
          class="in-view"
          x={Math.min(from, WIDE - LEAST)}
          y="0.5"
          width={Math.max(LEAST, to - from)}
          height={HIGH - 1}
        />
      </svg>
    </div>
  )
}

/** The sum of all currents: its highest in each column of the strip. */
function totalOf(amps: ScenarioResult['amps'], ranUs: number): { path: string; most: number } {
  const steps = [...amps.values()].flatMap((list) =>
    list.map(({ timeUs, amp }, i) => ({ timeUs, by: amp - (list[i - 1]?.amp ?? 0) })),
  )
  steps.sort((a, b) => a.timeUs - b.timeUs)
  const columns = new Float64Array(WIDE)
  let total = 0
  let filled = 0
  for (const { timeUs, by } of steps) {
    const column = Math.min(WIDE - 1, Math.max(0, Math.floor((timeUs / ranUs) * WIDE)))
    for (; filled <= column; filled++) columns[filled] = total
    total += by
    columns[column] = Math.max(columns[column]!, total)
  }
  columns.fill(total, filled)
  const most = Math.max(...columns)
  const y = (amp: number) => (CURRENT - 2 - (amp / Math.max(most, 0.1)) * (CURRENT - 6)).toFixed(1)
  const levels: string[] = []
  for (let i = 1; i < WIDE; i++) if (columns[i] !== columns[i - 1]) levels.push(`H${i}V${y(columns[i]!)}`)
  return { path: `M0 ${y(columns[0]!)}${levels.join('')}H${WIDE}`, most }
}
