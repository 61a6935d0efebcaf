/**
 * How often a clause holds, and which quantity matters most: seeded sampling over the same intervals as the corners,
 * every value in an interval equally likely and independent of the others. A yield is no verdict: corners decide.
 */
import { isSettled, type Quantities, type Values } from './quantity.js'
import { seededRandom } from './random.js'
import type { CornerQuestion } from './search.js'

export interface Yield {
  /** Share of the sampled builds that hold. */
  share: number
  /** Where the true share lies with 95 % confidence (Wilson 1927). */
  low: number
  high: number
  builds: number
}

/**
 * The share of builds in which a clause holds.
 * @returns undefined where an interval has no end, so that nothing can be drawn from it
 */
export function yieldOf<K extends string>(
  { quantities, margin }: CornerQuestion<K>,
  builds: number,
  seed: number,
): Yield | undefined {
  const names = Object.keys(quantities) as K[]
  if (
    names.some(
      (name) =>
        !Number.isFinite(quantities[name].high - quantities[name].low) && !isSettled(quantities[name]),
    )
  )
    return undefined
  const random = seededRandom(seed)
  const values = {} as Record<K, number>
  let holds = 0
  for (let i = 0; i < builds; i++) {
    for (const name of names) {
      const q = quantities[name]
      values[name] = isSettled(q) ? q.low : q.low + (q.high - q.low) * random.uniform()
    }
    if (margin(values) >= 0) holds++
  }
  return { share: holds / builds, ...wilson(holds, builds), builds }
}

/**
 * 95 % confidence interval of a share by Wilson (1927).
 * @param hits of @param n trials; n > 0.
 */
export function wilson(hits: number, n: number): { low: number; high: number } {
  const z = 1.959964
  const share = hits / n
  const middle = (share + (z * z) / (2 * n)) / (1 + (z * z) / n)
  const half = (z / (1 + (z * z) / n)) * Math.sqrt((share * (1 - share)) / n + (z * z) / (4 * n * n))
  return { low: Math.max(0, middle - half), high: Math.min(1, middle + half) }
}

export interface TornadoRow<K extends string = string> {
  quantity: K
  /** Margin with this quantity at its ends, all others usual. */
  atLow: number
  atHigh: number
  /** How far it moves the margin. */
  swing: number
}

/** Each quantity between its ends with the others usual, the strongest first; those without effect are left out. */
export function tornado<K extends string>({ quantities, margin }: CornerQuestion<K>): TornadoRow<K>[] {
  const usual = usualValues(quantities)
  return (Object.keys(quantities) as K[])
    .filter((name) => !isSettled(quantities[name]))
    .map((quantity) => {
      const atLow = margin({ ...usual, [quantity]: quantities[quantity].low })
      const atHigh = margin({ ...usual, [quantity]: quantities[quantity].high })
      return { quantity, atLow, atHigh, swing: Math.abs(atHigh - atLow) }
    })
    .filter((row) => row.swing > 1e-9)
    .sort((a, b) => b.swing - a.swing)
}

export function usualValues<K extends string>(quantities: Quantities<K>): Values<K> {
  const usual = {} as Record<K, number>
  for (const name of Object.keys(quantities) as K[]) usual[name] = quantities[name].usual
  return usual
}
