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

/** Entries beside a limit that are looked at one by one: more than rounding can move it. */
const NEAR = 3

/**
 * @param entriesOfUs how many entries a microsecond has; @param classOf an entry, given the class of a duration
 * @returns the class of each entry; only those near a limit are asked for, the rest are as the one between them.
 */
export function classesOf(
  level: 0 | 1,
  entries: number,
  entriesOfUs: number,
  bounds: DurationBounds,
  classOf: (entry: number, ofDuration: (us: number) => number) => number,
): Uint8Array {
  const ofDuration = classifier(level, bounds)
  const classes = new Uint8Array(entries)
  const { limits, uncertaintyUs: u, plainZeroBelowUs } = bounds
  const { one, zero } = limits
  const windows = [one.minUs - u, one.maxUs + u, zero.minUs - u, zero.maxUs + u]
  const changes = [...windows, bounds.shortUs[level], bounds.thresholdUs[level], plainZeroBelowUs]
    .map((us) => Math.min(entries, Math.max(0, Math.round(us * entriesOfUs))))
    .sort((a, b) => a - b)
  let done = 0
  for (const change of [...changes, entries]) {
    const alike = Math.max(done, Math.min(change - NEAR, entries))
    if (alike > done) classes.fill(classOf(done, ofDuration), done, alike)
    done = alike
    for (const end = Math.min(entries, change + NEAR); done < end; done++)
      classes[done] = classOf(done, ofDuration)
  }
  return classes
}

/** @returns a function from a duration of that level, us, to its class. */
function classifier(level: 0 | 1, bounds: DurationBounds): (us: number) => number {
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
