/** How finely a change-only record was sampled, from the times it holds. */

export interface Resolution {
  us: number
  /** How it is known. */
  from: string
}

/** Fewer edges than these may lie on a grid without showing it: both clocks drift apart too little. */
const MANY_EDGES = 500
/** Then this is taken for the spacing of the samples, us. */
const CAUTIOUS_US = 1
/** Rounding moves each end of a duration by half a digit, so a duration by up to one. */
const ROUNDING = 1.001

/**
 * Times that a sampling produced lie on a grid. A signal whose durations vary shows the grid: one kind of half-bit
 * lasts 57.75, 58 or 58.25 us, so the smallest step between such neighbours is the spacing of the samples, even
 * when the times were rounded for printing (24 MHz in ns). Without neighbours a long record is exact to its
 * digits; of a short one the greatest common step is taken, but nothing coarser than 1 us.
 *
 * @param ticks times of the first edges, in digits of the file. @param tickUs length of a digit, us.
 */
export function resolutionOf(ticks: ArrayLike<number>, count: number, tickUs: number): Resolution {
  const digit: Resolution = { us: tickUs, from: 'last digit of the times' }
  const durations: number[] = []
  for (let i = 1; i < count; i++) {
    const d = ticks[i]! - ticks[i - 1]!
    if (d > 0) durations.push(d)
  }
  const kinds = clusters(durations.sort((a, b) => a - b))
  if (kinds === undefined) return digit
  const steps: number[] = []
  for (let i = 1; i < kinds.length; i++) {
    const step = kinds[i]! - kinds[i - 1]!
    // Different kinds of half-bits lie far apart.
    if (step < kinds[i]! * 0.05) steps.push(step)
  }
  if (steps.length > 0) {
    const smallest = Math.min(...steps)
    const onGrid = steps.every((s) => Math.abs(s - Math.round(s / smallest) * smallest) <= 2 * ROUNDING)
    if (smallest < 3 || !onGrid) return digit
    return { us: smallest * tickUs, from: 'steps between the times' }
  }
  if (durations.length >= MANY_EDGES) return digit
  const common = durations.reduce(divisor, 0)
  const us = Math.max(tickUs, Math.min(common * tickUs, CAUTIOUS_US))
  return us > tickUs ? { us, from: 'too few edges to tell; stated with --rate it is known' } : digit
}

/** Centres of the groups of durations that rounding alone could make differ; undefined when groups run together. */
function clusters(sorted: number[]): number[] | undefined {
  const centres: number[] = []
  let from = 0
  for (let i = 1; i <= sorted.length; i++) {
    if (i < sorted.length && sorted[i]! - sorted[i - 1]! <= ROUNDING) continue
    const first = sorted[from]!
    const last = sorted[i - 1]!
    if (last - first > 2 * ROUNDING) return undefined
    centres.push((first + last) / 2)
    from = i
  }
  return sorted.length === 0 ? undefined : centres
}

function divisor(a: number, b: number): number {
  let [x, y] = [a, b]
  while (y > 0.5) [x, y] = [y, x % y]
  return x
}
