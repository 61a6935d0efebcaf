/** What is not known exactly: a quantity between two ends, with where that comes from. */

export interface Uncertain {
  /** In a sentence after "with the": `voltage of supply main`. */
  name: string
  unit: string
  /** `low` ≤ `usual` ≤ `high`; `high` may be Infinity where nothing limits it. */
  low: number
  usual: number
  high: number
  /** Where the interval comes from, in words: design file, data sheet, common practice. */
  source: string
  /** Neither the design nor a data sheet tells it: the interval holds everything that may be. */
  unknown?: true
}

export type Quantities<K extends string = string> = Readonly<Record<K, Uncertain>>
/** One value for each quantity. */
export type Values<K extends string = string> = Readonly<Record<K, number>>

/** A quantity that is known exactly. */
export function exactly(name: string, value: number, unit: string, source: string): Uncertain {
  return { name, unit, low: value, usual: value, high: value, source }
}

/** A value with a tolerance as a share either way. */
export function within(name: string, value: number, share: number, unit: string, source: string): Uncertain {
  return { name, unit, low: value * (1 - share), usual: value, high: value * (1 + share), source }
}

/** Between two ends; the usual value lies in the middle unless it is given. */
export function between(
  name: string,
  ends: { low: number; high: number; usual?: number },
  unit: string,
  source: string,
): Uncertain {
  const { low, high } = ends
  const usual = ends.usual ?? (Number.isFinite(high) ? (low + high) / 2 : low)
  return { name, unit, low, usual, high, source }
}

export function isSettled(q: Uncertain): boolean {
  return q.low === q.high
}
