/** The budget of a supply, and which rating and fuse fit. */

/** Usual ratings of desk-top supplies, A; common practice, no source. */
export const RATINGS: readonly number[] = [
  0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50,
]
/** Rated currents of miniature fuses, A: R10 series as used in IEC 60127 (from memory). */
export const FUSES: readonly number[] = [
  0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10, 12.5, 16, 20, 25, 32,
]

/** A supply should carry its worst load with a fifth to spare; common practice, no source. */
export const SUPPLY_RESERVE = 1.2
/** A fuse is loaded to at most three quarters of its rating for long; common practice, no source. */
export const FUSE_LOAD = 0.75
/** A miniature fuse melts in useful time only well above its rating: at 2.1 times within minutes (IEC 60127, from memory). */
export const FUSE_MELTS = 2.1

export interface BudgetRow {
  who: string
  runningAmp: number
  worstAmp: number
  stalledAmp: number
}

export interface Budget {
  rows: BudgetRow[]
  runningAmp: number
  worstAmp: number
  /** All motors stalled, each district held at its trip current. */
  stalledAmp: number
  /** The next usual rating with reserve for the worst load, and enough to trip. */
  adviseRatingAmp: number
  adviseFuseAmp: number
}

export function budget(rows: readonly BudgetRow[]): Budget {
  const sum = (key: 'runningAmp' | 'worstAmp' | 'stalledAmp') => rows.reduce((total, r) => total + r[key], 0)
  const worstAmp = sum('worstAmp')
  return {
    rows: [...rows],
    runningAmp: sum('runningAmp'),
    worstAmp,
    stalledAmp: sum('stalledAmp'),
    adviseRatingAmp: nextOf(RATINGS, worstAmp * SUPPLY_RESERVE),
    adviseFuseAmp: fuseFor(worstAmp),
  }
}

/** The smallest usual rating that gives a current, A. */
export function ratingFor(amp: number): number {
  return nextOf(RATINGS, amp)
}

/** The smallest usual fuse that a current may load for long, A. */
export function fuseFor(amp: number): number {
  return nextOf(FUSES, amp / FUSE_LOAD)
}

function nextOf(series: readonly number[], amp: number): number {
  return series.find((s) => s >= amp - 1e-9) ?? Math.ceil(amp)
}
