/**
 * What durations mean where they are no whole steps, as those of analog records: an entry is a bin, so narrow that nearly all mean
 * the same throughout. The others count as odd and are left to the plain way.
 */
import { classesOf, type DurationBounds, justBelow, ODD_HALF } from './duration-class.js'
import { HalfBitTally } from './half-bits.js'

/** A column of the histogram has so many bins, as a power of two: the bin tells the column. */
export const BINS_OF_A_COLUMN = 4

export class DurationBins {
  /** Bins of a microsecond, a power of two: which bin a duration is in is exact. */
  readonly perUs = 2 ** BINS_OF_A_COLUMN / HalfBitTally.binUs
  /** Durations from here on have no bin, us. */
  readonly belowUs: number
  /** Index = level of the half, then the bin of its duration. */
  readonly classes: readonly [Uint8Array, Uint8Array]

  constructor(bounds: DurationBounds) {
    const most = HalfBitTally.bins << BINS_OF_A_COLUMN
    const bins = Math.min(most, Math.floor(bounds.plainZeroBelowUs * this.perUs))
    this.belowUs = bins / this.perUs
    this.classes = [this.#classesOf(0, bins, bounds), this.#classesOf(1, bins, bounds)]
  }

  /** The ends of a bin speak for all of it: each class is one stretch of durations, and wider than a bin. */
  #classesOf(level: 0 | 1, bins: number, bounds: DurationBounds): Uint8Array {
    return classesOf(level, bins, this.perUs, bounds, (bin, ofDuration) => {
      const shortest = ofDuration(bin / this.perUs)
      const longest = ofDuration(justBelow((bin + 1) / this.perUs))
      return shortest === longest ? shortest : ODD_HALF
    })
  }
}
