/** What a duration means by itself, for the reader's quick way. */
import type { SignalLimits } from '../standard/index.js'

/** Classes of a duration. A half that needs a word said about it is neither: it is left to the plain way. */
export const ZERO_HALF = 0
export const ONE_HALF = 1
export const ODD_HALF = 2

export interface DurationBounds {
  limits: SignalLimits
  /** Durations are known to this, us. */
  uncertaintyUs: number
  /** A zero half below this is not stretched, us. */
  plainZeroBelowUs: number
  /** Index = level: below the first it is too short for a half-bit, below the second it is half of a one, us. */
  shortUs: readonly [number, number]
  thresholdUs: readonly [number, number]
}

/** @returns a function from a duration of that level, us, to its class. */
export function classifier(level: 0 | 1, bounds: DurationBounds): (us: number) => number {
  const { limits, uncertaintyUs, plainZeroBelowUs } = bounds
  const shortUs = bounds.shortUs[level]
  const thresholdUs = bounds.thresholdUs[level]
  const exact = uncertaintyUs === 0 ? 1e-9 : 0
  return (us) => {
    const isOne = us < thresholdUs
    const window = isOne ? limits.one : limits.zero
    const isSound =
      us >= shortUs &&
      us < plainZeroBelowUs &&
      us > window.minUs - uncertaintyUs - exact &&
      us < window.maxUs + uncertaintyUs + exact
    return isSound ? (isOne ? ONE_HALF : ZERO_HALF) : ODD_HALF
  }
}

/** @returns the greatest number below a positive one, or one so near that nothing between them matters. */
export function justBelow(value: number): number {
  return value * (1 - Number.EPSILON / 2)
}
