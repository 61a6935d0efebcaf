/**
 * Supplies as they behave beyond their limit, in steady state: constant current, foldback, hiccup, and those without
 * a limit (a fuse, a battery). Output capacitors add a pulse of their own, which the energy of a short counts apart.
 */
import { between, exactly, type Uncertain, type Values, within } from '../corner/index.js'
import type { SupplyDesign } from './design/index.js'

export type SupplyQuantity = 'volt' | 'limit' | 'shortCurrent' | 'hiccupOn'

/** Spread of the times of a hiccup supply, either way; common practice, no source. */
const HICCUP_SPREAD = 0.2
const NEVER = Number.POSITIVE_INFINITY

/** A supply that nothing holds back but its fuse and resistances. */
export function hasNoLimit(limit: SupplyDesign['limit']): boolean {
  return limit === 'none' || limit === 'battery'
}

/** The current where its limit begins: it never lies below the rating. */
export function limitOf(supply: SupplyDesign, name: string): Uncertain {
  const what = `current limit of supply ${name}`
  const { limit, limitCurrent, limitTolerance: share, rating } = supply
  if (hasNoLimit(limit)) return exactly(what, NEVER, 'A', 'it has none')
  if (limitCurrent === undefined)
    return {
      ...between(what, { low: rating, high: NEVER }, 'A', 'its limit is not given, only its rating'),
      unknown: true,
    }
  return between(
    what,
    {
      low: Math.max(rating, limitCurrent * (1 - share)),
      usual: limitCurrent,
      // A stated limit of a supply of unknown kind holds nothing for certain.
      high: limit === 'unknown' ? NEVER : Math.max(rating, limitCurrent * (1 + share)),
    },
    'A',
    'its limit and the tolerance of that',
  )
}

export function supplyQuantities(supply: SupplyDesign, name: string): Record<SupplyQuantity, Uncertain> {
  const limit = limitOf(supply, name)
  const { shortCurrent, limitTolerance, hiccupOn } = supply
  const short = `current of supply ${name} into a short`
  const on = `time that supply ${name} delivers into a short`
  return {
    volt: within(`voltage of supply ${name}`, supply.voltage, supply.tolerance, 'V', 'its tolerance'),
    limit,
    shortCurrent:
      supply.limit !== 'foldback'
        ? exactly(short, limit.high, 'A', 'it does not fold back')
        : shortCurrent === undefined
          ? {
              ...between(short, { low: 0, high: limit.high }, 'A', 'its foldback current is not given'),
              unknown: true,
            }
          : within(
              short,
              shortCurrent,
              limitTolerance,
              'A',
              'its foldback current and the tolerance of that',
            ),
    hiccupOn:
      supply.limit !== 'hiccup'
        ? exactly(on, NEVER, 'us', 'it does not switch off')
        : hiccupOn === undefined
          ? { ...between(on, { low: 0, high: NEVER }, 'us', 'its times are not given'), unknown: true }
          : within(on, hiccupOn, HICCUP_SPREAD, 'us', 'its time, 20 % either way (assumed)'),
  }
}

/**
 * What a supply gives into a load that takes `loadVolt(amp)` to carry a current, rising with it.
 * @param besideAmp what it gives to others at the same time
 * @param free the same without a limit, where that is known
 * @returns the current, and whether its limit holds it
 */
export function supplyAmp(
  supply: SupplyDesign,
  v: Values<SupplyQuantity>,
  loadVolt: (amp: number) => number,
  besideAmp = 0,
  free = freeAmp(supply, v.volt, loadVolt, besideAmp),
): { amp: number; limited: boolean } {
  const limit = Math.max(0, v.limit - besideAmp)
  if (free <= limit) return { amp: free, limited: false }
  if (supply.limit !== 'foldback') return { amp: limit, limited: true }
  // Foldback: the current at an output voltage U is short + (limit − short) · U / V; where the load takes that.
  const short = Math.max(0, Math.min(v.shortCurrent, v.limit) - besideAmp)
  const at = (volt: number) => short + (limit - short) * Math.min(1, volt / Math.max(v.volt, 1e-9))
  return { amp: crossing((amp) => at(loadVolt(amp)) - amp, limit), limited: true }
}

/** What it would give if only its resistance held it back, A. */
export function freeAmp(
  supply: SupplyDesign,
  volt: number,
  loadVolt: (amp: number) => number,
  besideAmp: number,
): number {
  const r = Math.max(supply.resistance, 1e-3)
  const open = volt - r * besideAmp
  return crossing((amp) => open - r * amp - loadVolt(amp), open / r)
}

/** The smallest root of a function that is positive at 0 and falls through it once, between 0 and `most`. */
function crossing(left: (amp: number) => number, most: number): number {
  if (left(0) <= 0) return 0
  let [low, high] = [0, most]
  if (left(high) > 0) return high
  for (let i = 0; i < 60 && high - low > 1e-9 * most; i++) {
    const middle = (low + high) / 2
    if (left(middle) > 0) low = middle
    else high = middle
  }
  return low
}
