/** What noise at the converter does to a trip that counts samples: it blurs the current, and it delays. */
import type { SenseDesign } from './design/index.js'

type TripRule = { samples: number; of?: number | undefined; average: number; smoothing: number }

export interface TripNoise {
  /** So far below the threshold noise alone trips, within an hour or so, A. */
  belowAmp: number
  /** So far above it noise keeps the trip off for no longer than a second, A. */
  aboveAmp: number
  /** How long noise may hold up a trip whose current is so far above the threshold, us: longer once in 10^9 times. */
  heldUpUs(overAmp: number): number
}

const NO_NOISE: TripNoise = { belowAmp: 0, aboveAmp: 0, heldUpUs: () => 0 }

/** A trip that noise holds up for longer is as rare as that: a judgement, no source. */
const RARE = 1e-9
/** After so many time constants of the filter noise is another. */
const APART = 5
/** Runs of samples above the threshold that are due in a second, so that one comes; most of them overlap. */
const DUE = 50
/** A trip of noise alone in so many hours is none that anybody would notice: a judgement, no source. */
const HOURS = 1000

/**
 * Averages take noise down by √n, and √(a / (2 − a)) for an exponential one, as long as the filter does not carry it from one
 * sample to the next. What the converter rounds is no part of it.
 */
export function tripNoise(
  { noise, filter, rate }: NonNullable<SenseDesign>,
  { samples, of = samples, average, smoothing }: TripRule,
  voltPerAmp: number,
): TripNoise {
  if (noise === 0) return NO_NOISE
  const carried = filter > 1e6 / rate
  const window = Math.max(1, Math.round(average))
  const kept = carried ? 1 : Math.sqrt(smoothing / (2 - smoothing) / window)
  const amp = (noise / voltPerAmp) * kept
  // Samples that follow each other stray together where the filter or an average carries them.
  const together = carried || window > 1 || smoothing < 1
  const apartUs = (1e6 / rate) * (window - 1 + APART * (1 / smoothing - 1)) + (carried ? APART * filter : 0)
  const alone = together ? 1 : samples
  const choices = together ? 0 : lnBinomial(Math.max(of, samples), samples)
  const wrong = Math.exp(-(Math.log(3600 * HOURS * rate) + choices) / alone)
  // Where a second has no room for as many, all but a stray sample have to be above.
  const right = Math.min(1 - RARE, DUE / rate) ** (1 / samples)
  return {
    belowAmp: amp * Math.max(0, upperQuantile(wrong)),
    aboveAmp: amp * Math.max(0, -upperQuantile(right)),
    heldUpUs(overAmp) {
      const above = 1 - upperTail(overAmp / amp)
      const run = above ** samples
      if (run >= 1 - RARE) return 0
      const periodUs = 1e6 / rate
      // Runs side by side, each of which may be the one; or any run, which begins after a sample below.
      const sideBySide = Math.ceil(Math.log(RARE) / Math.log1p(-run)) - 1
      const blockUs = samples * periodUs + apartUs
      const any = together ? Number.POSITIVE_INFINITY : Math.log(RARE) / Math.log1p(-(1 - above) * run)
      return Math.min(sideBySide * blockUs, any * periodUs)
    },
  }
}

/**
 * Standard deviations that a normal value exceeds with this chance; to 0.0005.
 * Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.23; from memory.
 */
function upperQuantile(chance: number): number {
  if (chance > 0.5) return -upperQuantile(1 - chance)
  const t = Math.sqrt(-2 * Math.log(chance))
  return (
    t -
    (2.515517 + 0.802853 * t + 0.010328 * t ** 2) / (1 + 1.432788 * t + 0.189269 * t ** 2 + 0.001308 * t ** 3)
  )
}

/**
 * Chance that a normal value exceeds x standard deviations; to 7.5e-8.
 * Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.17; from memory.
 */
function upperTail(x: number): number {
  if (x < 0) return 1 - upperTail(-x)
  if (x > 6) return 0
  const t = 1 / (1 + 0.2316419 * x)
  const sum = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
  return (Math.exp(-(x ** 2) / 2) / Math.sqrt(2 * Math.PI)) * sum
}

function lnBinomial(n: number, k: number): number {
  let sum = 0
  for (let i = 1; i <= k; i++) sum += Math.log((n - k + i) / i)
  return sum
}
