/** One origin's lane in a detail of the half-bits: where its halves fall, as a distribution where one is known. */
import { isShownCell, type Row } from '../../proof/index.js'
import type { SignalReading } from '../../signal/index.js'
import type { Evidence, Origin } from '../../standard/index.js'
import { formatEnds } from '../../units/index.js'
import { classOf, marginWords } from '../parts/margin.js'

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
const figuresOf = ({ value }: Evidence) => formatEnds(value.low, value.high)

interface LaneProps {
  origin: Origin
  row: Row
  left: number
  wide: number
  top: number
  tall: number
  x(us: number): number
  within(us: number): boolean
  /** What was counted; nothing where only the range is known. */
  counted: readonly Counted[] | undefined
}

/** So many halves, or differences, were within it. */
export interface Counted {
  fromUs: number
  toUs: number
  count: number
}

export function Lane({ origin, row, left, wide, top, tall, x, within, counted }: LaneProps) {
  const cell = row.cells[origin]
  const range = rangeOf(row, origin)
  const base = top + tall
  const high = tall - HEAD - Math.min(10, tall / 8)
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
            {{ met: '✓', broken: '✗', undecided: '?' }[cell.verdict]} {marginWords(cell.margin)}
          </text>
          {core ? (
            <path
              class="range"
              d={`M${x(range.low)} ${base}L${x(core.low)} ${base - high}H${Math.max(x(core.low) + 2, x(core.high))}L${x(range.high)} ${base}z`}
            />
          ) : counted ? (
            <path class="bars" d={barsOf(counted, x, within, base, high)} />
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

/** Halves of the kind that a range is of; bins of other bits are outside it. */
export function countedHalves(
  { histogram: { binUs, high, low } }: SignalReading,
  range: { low: number; high: number },
): Counted[] {
  return high.flatMap((count, i): Counted[] => {
    const bin = { fromUs: i * binUs, toUs: (i + 1) * binUs, count: count + (low[i] ?? 0) }
    return bin.toUs >= range.low - binUs && bin.fromUs <= range.high + binUs ? [bin] : []
  })
}

/** Differences between the halves of ones, whichever is longer. */
export function countedDifferences({ oneDifference: { histogram } }: SignalReading): Counted[] {
  const { binUs, firstUs, counts } = histogram
  const byBin = new Map<number, number>()
  counts.forEach((count, i) => {
    const bin = Math.abs(Math.round(firstUs / binUs) + i)
    byBin.set(bin, (byBin.get(bin) ?? 0) + count)
  })
  return [...byBin].map(([bin, count]) => ({
    fromUs: Math.max(0, (bin - 0.5) * binUs),
    toUs: (bin + 0.5) * binUs,
    count,
  }))
}

/** Heights are logarithms, so that one late half is seen beside many. */
function barsOf(
  counted: readonly Counted[],
  x: (us: number) => number,
  within: (us: number) => boolean,
  base: number,
  height: number,
): string {
  const most = Math.max(1, ...counted.map((c) => c.count))
  const path: string[] = []
  for (const { fromUs, toUs, count } of counted) {
    if (count === 0 || !within(fromUs)) continue
    const tall = ((Math.log10(count) + 0.3) / (Math.log10(most) + 0.3)) * height
    const from = x(fromUs)
    const to = Math.max(from + 2, x(toUs))
    path.push(`M${from.toFixed(1)} ${base}V${(base - tall).toFixed(1)}H${to.toFixed(1)}V${base}Z`)
  }
  return path.join('')
}
