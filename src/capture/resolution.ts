/** How finely a change-only record was sampled, from the times it holds. */

export interface Resolution {
  us: number
  /** How far writing the times down may have moved each, us; 0 where the grid is one of whole digits. */
  roundingUs: number
  /** How it is known. */
  from: string
}

/** So many half-bits of constant lengths prove themselves: the clocks of station and sampler drift apart. */
const MANY_EDGES = 500
/** Equal half-bits in a short record are known this well at least, us. */
const CAUTIOUS_US = 1
/** Rounding moves a time by up to half a digit. */
const HALF_DIGIT = 0.5
/** A grid finer than this many digits cannot be told from the digits. */
const FINEST_DIGITS = 1.2
/** Sampling more finely than this needs no search: it is known well enough by its digits, us. */
const FINEST_US = 0.01
/** Sampling more coarsely than this shows no half-bit, us. */
const COARSEST_US = 130
/** Between the longest one and the shortest zero, us. */
const LONGEST_ONE_US = 75
/** Both halves of a bit last alike in nearly all bits of a signal that lies on a grid by itself. */
const ALIKE_SHARE = 0.95
const FEWEST_BITS = 40
/** A half-bit has at least this many samples where one more or less is sampling, and not another kind of half-bit. */
const FEWEST_SAMPLES = 4
/** Ones last 61 us at most and zeros 95 us at least by S-9.1: steps well below this difference make no other kind, us. */
const KINDS_APART_US = 25
/** Longer ones are stretched zeros, whose lengths are the station's, us. */
const USUAL_US = 200
/** Below this step the lengths of half-bits run together by rounding, digits; searched only where digits are coarse, us. */
const BLURRED_DIGITS = 7
const BLURRED_TICK_US = 0.008
/** On a grid this wide, digits, twice the rounding is still close. */
const WIDE_DIGITS = 10
/** Steps are tried so closely that the last of the first edges moves by this share of a step. */
const PHASE_STEP = 0.1
const MOST_TRIES = 2e6
/** Edges that a search begins with. */
const FIRST_EDGES = 20
/** Mantissas of usual sampling rates. */
const RATES = [1, 1.2, 1.25, 1.6, 2, 2.4, 2.5, 3, 3.125, 3.2, 4, 4.8, 5, 6, 6.25, 6.4, 8, 9.6]

/**
 * Times that a sampling produced lie on a grid, and durations that are the same for the station last one sample more or
 * less: then the grid is that of the samples. Where every kind of half-bit has one length only, the signal itself may
 * lie on a grid: what many of them together prove counts. The first time may be the beginning of the record and no
 * edge; how a record begins changes nothing.
 *
 * @param ticks times of the first edges, in digits of the file; those that are no whole digits are left out.
 * @param tickUs length of a digit, us.
 */
export function resolutionOf(ticks: ArrayLike<number>, count: number, tickUs: number): Resolution {
  const digit: Resolution = { us: tickUs, roundingUs: 0, from: 'last digit of the times' }
  const times: number[] = []
  for (let i = 1; i < count; i++) {
    const t = ticks[i]!
    // A step back is damage, which the reader of the rows reports.
    if (Number.isInteger(t) && !(t <= (times.at(-1) ?? Number.NEGATIVE_INFINITY))) times.push(t)
  }
  if (times.length < 3) return digit
  const step = coarsestGrid(times, tickUs)
  if (step === undefined) return digit
  const lengths = times.slice(1).map((t, i) => Math.round((t - times[i]!) / step))
  const us = step * tickUs
  if (lastsOneMoreOrLess(lengths, us, step) || (us >= KINDS_APART_US && !comesInBits(lengths, us))) {
    return { us, roundingUs: roundingUs(us, tickUs), from: 'grid of the times' }
  }
  if (lengths.length >= MANY_EDGES) return digit
  const together = Math.max(tickUs, Math.min(CAUTIOUS_US, us / longestRun(lengths)))
  return together > tickUs
    ? {
        us: together,
        roundingUs: 0,
        from: 'equal half-bits in a row; more edges or the sampling rate would tell',
      }
    : digit
}

/** Spacing of the coarsest grid that all times lie on, digits; undefined when they lie on none. */
function coarsestGrid(times: readonly number[], tickUs: number): number | undefined {
  const candidates: number[] = []
  const common = commonDivisor(times)
  if (common !== undefined) candidates.push(common)
  for (let power = 1e4; power <= 1e9; power *= 10)
    for (const mantissa of RATES) candidates.push(1e6 / (mantissa * power) / tickUs)
  const usual = candidates
    .filter((s) => s >= FINEST_DIGITS && (s * tickUs <= COARSEST_US || s === common))
    .sort((a, b) => b - a)
    .find((s) => liesOn(times, s))
  // Nothing coarser than the difference of two lengths can be their grid.
  const near = smallestDifference(times)
  if (usual !== undefined && (near === undefined || usual > 0.9 * near)) return usual
  return searchGrid(times, near, tickUs) ?? usual
}

/**
 * A grid of an unusual rate: near the smallest difference of two lengths of a half-bit, or so fine that rounding blurs the
 * lengths. Steps are tried closely enough for the first edges; what fits them is fitted to more and more.
 */
function searchGrid(times: readonly number[], near: number | undefined, tickUs: number): number | undefined {
  const ranges: [number, number][] = []
  // Finer ones are no sampler's, and would take long to try.
  if (near !== undefined && near * tickUs >= FINEST_US) ranges.push([near + 2.2, Math.max(3, near - 2.2)])
  if (tickUs >= BLURRED_TICK_US) ranges.push([BLURRED_DIGITS, FINEST_DIGITS])
  const few = Math.min(FIRST_EDGES, times.length)
  const span = times[few - 1]! - times[0]!
  for (const [most, least] of ranges) {
    // Times that lie far apart would take long, and are no half-bits.
    if ((span * (1 / least - 1 / most)) / PHASE_STEP > MOST_TRIES) continue
    for (let step = most; step >= least; step -= (PHASE_STEP * step * step) / span) {
      if (!mayLieOn(times, few, step)) continue
      const found = fitGrid(times, few, step)
      if (found !== undefined && found * tickUs <= COARSEST_US) return found
    }
  }
  return undefined
}

/** Quick: whether the first times are where multiples of a step from the first one may have been rounded to. */
function mayLieOn(times: readonly number[], count: number, step: number): boolean {
  const first = times[0]!
  const most = 2 * HALF_DIGIT + 0.1 * step
  for (let i = 1; i < count; i++) {
    const off = (times[i]! - first) / step
    if (Math.abs(off - Math.round(off)) * step > most) return false
  }
  return true
}

/** Least squares on more and more of the times. @returns the step if all lie within rounding of its multiples. */
function fitGrid(times: readonly number[], from: number, guess: number): number | undefined {
  let step = guess
  let start = times[0]!
  for (let count = from; ; count = Math.min(2 * count, times.length)) {
    for (let pass = 0; pass < 2; pass++) {
      let [sumN, sumT, sumNN, sumNT] = [0, 0, 0, 0]
      for (let i = 0; i < count; i++) {
        const t = times[i]! - times[0]!
        const n = Math.round((times[i]! - start) / step)
        sumN += n
        sumT += t
        sumNN += n * n
        sumNT += n * t
      }
      const spread = count * sumNN - sumN * sumN
      if (!(spread > 0)) return undefined
      step = (count * sumNT - sumN * sumT) / spread
      start = times[0]! + (sumT - step * sumN) / count
    }
    // Few times leave room for the fit itself.
    const most = Math.max(step > WIDE_DIGITS ? 2 * HALF_DIGIT : 0, HALF_DIGIT * (1 + 5 / Math.sqrt(count)))
    for (let i = 0; i < count; i++) {
      const off = (times[i]! - start) / step
      if (Math.abs(off - Math.round(off)) * step > most) return undefined
    }
    if (count === times.length) return step
  }
}

/** Between groups of durations that rounding alone could make differ; undefined when groups run together. */
function smallestDifference(times: readonly number[]): number | undefined {
  const durations = times
    .slice(1)
    .map((t, i) => t - times[i]!)
    .sort((a, b) => a - b)
  let least = Number.POSITIVE_INFINITY
  let from = 0
  let before = Number.NaN
  for (let i = 1; i <= durations.length; i++) {
    if (i < durations.length && durations[i]! - durations[i - 1]! <= 1) continue
    if (durations[i - 1]! - durations[from]! > 2) return undefined
    const centre = (durations[i - 1]! + durations[from]!) / 2
    // Different kinds of half-bits lie far apart.
    if (centre - before < Math.min(least, centre / FEWEST_SAMPLES)) least = centre - before
    before = centre
    from = i
  }
  return Number.isFinite(least) ? least : undefined
}

/** Where steps are whole digits, nothing is rounded. */
const offAtMost = (step: number) => (Number.isInteger(step) ? 1e-6 : HALF_DIGIT + 0.02)

/** Whether all times are within rounding of multiples of a step, from some beginning. */
export function liesOn(times: readonly number[], step: number): boolean {
  // Most steps are refuted by a time or two: from the first, none is off by more than rounding both of them makes it.
  const first = times[0]!
  const most = 2 * offAtMost(step)
  for (const t of times) {
    const off = (t - first) / step
    // The last term is far above what the arithmetic here loses.
    if (Math.abs(off - Math.round(off)) * step > most + 1e-6 + 1e-12 * (t - first)) return false
  }
  return liesOnPlainly(times, step)
}

/** The same without the quick look, whose referee it is. */
export function liesOnPlainly(times: readonly number[], step: number): boolean {
  const first = times[0]!
  let cos = 0
  let sin = 0
  for (const t of times) {
    const phase = (2 * Math.PI * ((t - first) % step)) / step
    cos += Math.cos(phase)
    sin += Math.sin(phase)
  }
  const start = (Math.atan2(sin, cos) / (2 * Math.PI)) * step
  const most = offAtMost(step)
  for (const t of times) {
    const off = (t - first - start) / step
    if (Math.abs(off - Math.round(off)) * step > most) return false
  }
  return true
}

/** Greatest common divisor of the durations in whole digits; undefined when it is one digit. */
function commonDivisor(times: readonly number[]): number | undefined {
  let common = 0
  for (let i = 1; i < times.length; i++) {
    let [a, b] = [times[i]! - times[i - 1]!, common]
    while (b > 0) [a, b] = [b, a % b]
    common = a
    if (common === 1) return undefined
  }
  return common > 1 ? common : undefined
}

/** Whether durations come in neighbouring lengths, as only sampling or jitter makes them. */
function lastsOneMoreOrLess(lengths: readonly number[], us: number, digits: number): boolean {
  // So wide apart are the kinds of half-bits that neighbouring lengths are of one kind, unless rounding blurs them.
  const fewest = us < KINDS_APART_US && digits > BLURRED_DIGITS ? 2 : FEWEST_SAMPLES
  const counts = new Map<number, number>()
  for (const n of lengths) {
    if (n >= fewest && n * us <= USUAL_US) counts.set(n, (counts.get(n) ?? 0) + 1)
  }
  return [...counts].some(([n]) => counts.has(n + 1))
}

/**
 * Whether some lengths are short enough for a one, and lengths come in twos that are alike, as the halves of bits do;
 * samples far apart tear them.
 */
function comesInBits(lengths: readonly number[], us: number): boolean {
  if (!lengths.some((n) => n * us < LONGEST_ONE_US)) return false
  const alike = [0, 1].map((from) => {
    let bits = 0
    let same = 0
    for (let i = from; i + 1 < lengths.length; i += 2) {
      bits++
      if (lengths[i] === lengths[i + 1]) same++
    }
    return bits < FEWEST_BITS ? 1 : same / bits
  })
  return Math.max(...alike) >= ALIKE_SHARE
}

function longestRun(lengths: readonly number[]): number {
  let longest = 1
  let run = 1
  for (let i = 1; i < lengths.length; i++) {
    run = lengths[i] === lengths[i - 1] ? run + 1 : 1
    if (run > longest) longest = run
  }
  return longest
}

/** How far writing times down in digits moves those of a known sampling, us: nothing where samples fall on digits. */
export function roundingUs(sampleUs: number, tickUs: number): number {
  const digits = sampleUs / tickUs
  return Math.abs(digits - Math.round(digits)) < 1e-6 ? 0 : tickUs / 2
}
