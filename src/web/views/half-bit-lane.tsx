/** One origin's lane in a detail of the half-bits: where its halves fall, as a distribution where one is known. */
import { isShownCell, marginText, type Row } from '../../proof/index.js'
import type { SignalReading } from '../../signal/index.js'
import type { Evidence, Origin } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import { classOf } from '../parts/margin.js'

export const LANE = 80
const HEAD = 16

export function rangeOf(row: Row, origin: Origin): { low: number; high: number } | undefined {
  const cell = row.cells[origin]
  if (!isShownCell(cell)) return undefined
  return {
    low: Math.min(...cell.evidence.map((e) => e.value.low)),
    high: Math.max(...cell.evidence.map((e) => e.value.high)),
  }
}

/** Without its unit, which the axis below has. */
function figuresOf({ value }: Evidence): string {
  const [low, high] = [value.low, value.high].map((us) => formatNumber(us, 5))
  return low === high ? low! : `${low} to ${high}`
}

interface LaneProps {
  origin: Origin
  row: Row
  left: number
  wide: number
  top: number
  x(us: number): number
  within(us: number): boolean
  reading: SignalReading | undefined
}

export function Lane({ origin, row, left, wide, top, x, within, reading }: LaneProps) {
  const cell = row.cells[origin]
  const range = rangeOf(row, origin)
  const base = top + LANE
  const high = LANE - HEAD - 10
  const core = coreOf(row, origin, range)
  return (
    <g class={`lane of-${origin}`}>
      <rect class="lane-head" x={left} y={top} width={wide} height={HEAD} />
      <text x={left + 5} y={top + 12}>
        {origin}
      </text>
      {range && isShownCell(cell) ? (
        <>
          <text x={left + 72} y={top + 12} class="quiet-text">
            {figuresOf(cell.evidence[0]!)}
          </text>
          <text
            x={left + wide - 5}
            y={top + 12}
            text-anchor="end"
            class={`strong ${classOf(cell.verdict)}-text`}
          >
            {{ met: '✓', broken: '✗', undecided: '?' }[cell.verdict]} {marginText(cell.margin)}
          </text>
          {core ? (
            <path
              class="range"
              d={`M${x(range.low)} ${base}L${x(core.low)} ${base - high}H${Math.max(x(core.low) + 2, x(core.high))}L${x(range.high)} ${base}z`}
            />
          ) : reading ? (
            <path class="bars" d={barsOf(reading, x, within, base, high, range)} />
          ) : (
            <rect
              class="range"
              x={x(range.low)}
              y={base - high}
              width={Math.max(3, x(range.high) - x(range.low))}
              height={high}
            />
          )}
        </>
      ) : (
        <text x={left + 72} y={top + 12} class="quiet-text">
          not shown
        </text>
      )}
    </g>
  )
}

/** What the clock alone makes of it, where the parts behind it make the range wider: then either may fall anywhere. */
function coreOf(
  row: Row,
  origin: Origin,
  range: { low: number; high: number } | undefined,
): { low: number; high: number } | undefined {
  const cell = row.cells[origin]
  if (!range || origin !== 'calculated' || !isShownCell(cell)) return undefined
  const { lowUs, highUs } = cell.evidence[0]?.finding?.params ?? {}
  if (typeof lowUs !== 'number' || typeof highUs !== 'number') return undefined
  // Two independent spreads, each even: the sum is flat as far as the difference of both, and falls off to the whole.
  const clock = (highUs - lowUs) / 2
  const parts = (range.high - range.low) / 2 - clock
  const middle = (range.low + range.high) / 2
  const flat = Math.abs(clock - parts)
  return parts > 0 ? { low: middle - flat, high: middle + flat } : undefined
}

/** The counted halves of this kind of bit; heights are logarithms, so that one late half is seen beside many. */
function barsOf(
  { histogram: { binUs, high, low } }: SignalReading,
  x: (us: number) => number,
  within: (us: number) => boolean,
  base: number,
  height: number,
  range: { low: number; high: number },
): string {
  const counts = high.map((count, i) => count + (low[i] ?? 0))
  // Bins of other bits are outside what was found of this one.
  const isOwn = (i: number) => (i + 1) * binUs >= range.low - binUs && i * binUs <= range.high + binUs
  const most = Math.max(1, ...counts.filter((_, i) => isOwn(i)))
  const path: string[] = []
  counts.forEach((count, i) => {
    if (count === 0 || !isOwn(i) || !within(i * binUs)) return
    const tall = ((Math.log10(count) + 0.3) / (Math.log10(most) + 0.3)) * height
    const from = x(i * binUs)
    const to = Math.max(from + 2, x((i + 1) * binUs))
    path.push(`M${from.toFixed(1)} ${base}V${(base - tall).toFixed(1)}H${to.toFixed(1)}V${base}Z`)
  })
  return path.join('')
}
