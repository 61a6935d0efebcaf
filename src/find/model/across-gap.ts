/** What a meter shows across a gap in both rails: the same polarity on either side, or the opposite one. */
import type { Effects } from '../faults/effects.js'
import { fed } from './fed.js'
import type { Station } from './station.js'
import type { FaultyWiring } from './wiring.js'

/** Least voltage of a track from which its polarity is plain, V. */
const PLAIN_VOLT = 2

/** @returns `undefined` where the two sides do not carry the same signal, or are not meant to be alike. */
export function acrossGap(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring,
  gap: number,
): { words: Readonly<Record<string, number>> } | undefined {
  const { a, b, isMatched } = station.wiring!.gaps[gap]!
  const [first, second] = [station.districtOf(a), station.districtOf(b)]
  if (first === undefined || second === undefined) return undefined
  const outputOf = (name: string) => station.districts.get(name)!.stage.output
  if (outputOf(first) !== outputOf(second)) return undefined
  const isAlike = (w: FaultyWiring) => w.signedVolt(a).low * w.signedVolt(b).low * (isMatched ? 1 : -1) > 0
  if (!isAlike(station.wiring!.with([]))) return undefined
  const isPlain = [a, b].every((track, i) => {
    const { wave, share } = fed(station, effects, wiring, [first, second][i]!)
    const { low, high } = wiring.signedVolt(track)
    return wave.ac === 1 && Math.min(Math.abs(low), Math.abs(high)) * share.low > PLAIN_VOLT
  })
  if (!isPlain) return { words: { alike: 1 / 3, opposite: 1 / 3, unclear: 1 / 3 } }
  return { words: { [isAlike(wiring) ? 'alike' : 'opposite']: 1 } }
}
