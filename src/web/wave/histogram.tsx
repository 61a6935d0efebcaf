/** How long the half-bits were, by polarity: two humps at the right places, or not. */

import { useRef } from 'preact/hooks'
import type { SignalReading } from '../../signal/index.js'
import { formatNumber, formatRange } from '../../units/index.js'
import { pageSvg } from '../parts/page-svg.js'
import { TakeFigure } from '../parts/take-figure.js'

const WIDTH = 760
const HALF = 70
const LEFT = 56
const RIGHT = 20

export function Histogram({ reading, source }: { reading: SignalReading; source: string }) {
  const drawing = useRef<SVGSVGElement>(null)
  const { binUs, high, low, windows: limits } = reading.histogram
  const used = (i: number) => (high[i] ?? 0) + (low[i] ?? 0) > 0
  let first = 0
  while (first < high.length && !used(first)) first++
  let last = high.length - 1
  while (last > first && !used(last)) last--
  if (first >= high.length) return null
  first = Math.max(0, Math.min(first - 8, Math.floor((limits.one[0] - 5) / binUs)))
  last = Math.min(high.length - 1, Math.max(last + 8, Math.ceil((limits.zero[0] + 15) / binUs)))
  const most = Math.max(1, ...high, ...low)
  // Counts span decades: a bar's height is the logarithm, so that one late edge is seen beside a million good ones.
  const y = (count: number) =>
    count === 0 ? 0 : ((Math.log10(count) + 0.3) / (Math.log10(most) + 0.3)) * HALF
  const x = (us: number) =>
    LEFT + ((us - first * binUs) / ((last + 1 - first) * binUs)) * (WIDTH - LEFT - RIGHT)
  const middle = HALF + 6
  const bars = (counts: number[], up: boolean) => {
    const path: string[] = []
    for (let i = first; i <= last; i++) {
      const h = y(counts[i] ?? 0)
      if (h === 0) continue
      const a = x(i * binUs)
      const b = Math.max(a + 1, x((i + 1) * binUs))
      path.push(
        `M${a.toFixed(1)} ${middle}V${(up ? middle - h : middle + h).toFixed(1)}H${b.toFixed(1)}V${middle}Z`,
      )
    }
    return path.join('')
  }
  const step = niceStep(((last - first) * binUs) / 10)
  const ticks: number[] = []
  for (let t = Math.ceil((first * binUs) / step) * step; t <= last * binUs; t += step) ticks.push(t)
  const windows: [string, number, number][] = [
    ['one', ...limits.one],
    ['zero', limits.zero[0], Math.min(limits.zero[1], last * binUs)],
  ]
  return (
    <figure class="histogram">
      <figcaption>
        <strong>Half-bit durations</strong>{' '}
        <span class="quiet">
          high above the line, low below it; heights are logarithms, what the station must keep is shaded
        </span>
      </figcaption>
      <svg
        ref={drawing}
        viewBox={`0 0 ${WIDTH} ${2 * HALF + 34}`}
        role="img"
        aria-label={`Histogram of ${reading.one.count} halves of ones and ${reading.zero.count} halves of zeros; ones from ${formatRange(reading.one.minUs, reading.one.maxUs, 'us')}, zeros from ${formatRange(reading.zero.minUs, reading.zero.maxUs, 'us')}`}
      >
        {windows.map(([name, from, to]) => (
          <g>
            <rect class="room" x={x(from)} y="4" width={Math.max(0, x(to) - x(from))} height={2 * HALF + 4} />
            <text x={x(from) + 3} y="14">
              {name}
            </text>
          </g>
        ))}
        <text x="4" y={middle - 20}>
          high
        </text>
        <text x="4" y={middle + 28}>
          low
        </text>
        <path class="high" d={bars(high, true)} />
        <path class="low" d={bars(low, false)} />
        <line class="limit" x1={LEFT} x2={WIDTH - RIGHT} y1={middle} y2={middle} />
        {ticks.map((t) => (
          <text x={x(t)} y={2 * HALF + 28} text-anchor="middle">
            {formatNumber(t)}
          </text>
        ))}
        <text x="4" y={2 * HALF + 28}>
          us
        </text>
      </svg>
      <TakeFigure
        name="half-bits"
        title="Half-bit durations"
        caption={`Half-bit durations, high above the line and low below it, heights logarithmic; shaded: the station’s limits. Source: ${source}, read by Halfbit.`}
        svg={(scheme) => pageSvg(drawing.current!, scheme)}
      />
    </figure>
  )
}

function niceStep(rough: number): number {
  const power = 10 ** Math.floor(Math.log10(rough))
  const lead = rough / power
  return power * (lead > 5 ? 10 : lead > 2 ? 5 : lead > 1 ? 2 : 1)
}
