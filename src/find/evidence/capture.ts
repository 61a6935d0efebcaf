/** What a capture of one output shows, as readings. */
import type { SignalReading } from '../../signal/index.js'
import type { Quantity } from '../data/readings.data.js'
import type { Spot } from '../model/expect.js'
import type { Reading } from '../reading.js'

/** Fewer edges are no signal. */
const LEAST_EDGES = 10
/** The longest of fewer ones says nothing of rare delays. */
const LEAST_ONES = 2000
/** Ones are this part of the half-bits of any traffic; common practice, no source. */
const LEAST_SHARE_OF_ONES = 0.2

/**
 * Half of a one, preamble and lateness, as far as the capture shows them.
 * @param output name of the output that it shows
 */
export function readingsOfCapture(spots: readonly Spot[], output: string, signal: SignalReading): Reading[] {
  const at = (quantity: Quantity, value: number | undefined): Reading[] => {
    const spot = spots.find(
      (s) => s.quantity === quantity && s.place.kind === 'output' && s.place.name === output,
    )
    if (!spot || value === undefined) return []
    const shown = Math.min(spot.kind.span, Math.max(0, value))
    return [{ spot, instrument: spot.kind.instruments[0]!, value: shown }]
  }
  const halfUs = usualHalfUs(signal)
  const { one, preamble, packets } = signal
  const isRead = packets.valid > 0 && halfUs === one.meanUs
  return [
    ...at('half of a one', halfUs),
    ...at('preamble', isRead && preamble.sent.count > 0 ? preamble.sent.low : undefined),
    ...at('lateness', isRead && one.count >= LEAST_ONES ? one.maxUs - one.meanUs : undefined),
  ]
}

/** Usual duration of half a one; 0 without a signal, `undefined` where the capture does not tell. */
function usualHalfUs({ edges, one, zero, glitches, histogram }: SignalReading): number | undefined {
  if (edges < LEAST_EDGES) return 0
  const bits = one.count + zero.count
  if (bits > 0 && one.count >= LEAST_SHARE_OF_ONES * bits && glitches.count < bits) return one.meanUs
  if (glitches.count > bits) return glitches.shortestUs
  // All are too long to be ones: the commonest is taken for one, or the shortest where the last bin, of all longer, has most.
  const count = histogram.high.map((n, i) => n + histogram.low[i]!)
  const most = count.reduce((best, n, i) => (n > count[best]! ? i : best), 0)
  if (most < count.length - 1 && count[most]! > 0) return (most + 0.5) * histogram.binUs
  return zero.count > 0 ? zero.minUs : undefined
}
