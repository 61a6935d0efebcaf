/**
 * What each duration in whole ticks means, and how often it came: the reader's quick way looks durations up instead of
 * judging each half-bit, and all statistics follow from the counters at the end.
 */
import type { SignalLimits } from '../standard/index.js'
import type { HalfBitTally } from './half-bits.js'

/** Classes of a duration. A half that needs a word said about it is neither: it is left to the plain way. */
export const ZERO_HALF = 0
export const ONE_HALF = 1
export const ODD_HALF = 2

/** Durations up to here have an entry: 0.3 ms in ticks of about 0.6 ns. */
const MOST_ENTRIES = 1 << 19

export interface TableBounds {
  limits: SignalLimits
  tickUs: number
  /** Durations are known to this, us. */
  uncertaintyUs: number
  /** A zero half below this is not stretched, us. */
  plainZeroBelowUs: number
  /** Index = level: below the first it is too short for a half-bit, below the second it is half of a one, us. */
  shortUs: readonly [number, number]
  thresholdUs: readonly [number, number]
}

export class DurationTable {
  /** Index = level of the half, then its duration in ticks. */
  readonly classes: readonly [Uint8Array, Uint8Array]
  readonly counts: readonly [Int32Array, Int32Array]
  /** For the reader's loop; index = class. */
  readonly signOfFirst = Float64Array.of(1, 1)
  readonly signOfSecond = Float64Array.of(1, 1)
  readonly knownLow = new Float64Array(2)
  readonly knownHigh = new Float64Array(2)
  readonly #tickUs: number

  private constructor(
    readonly entries: number,
    bounds: TableBounds,
  ) {
    this.#tickUs = bounds.tickUs
    this.classes = [classesOf(0, entries, bounds), classesOf(1, entries, bounds)]
    this.counts = [new Int32Array(entries), new Int32Array(entries)]
  }

  /** @returns undefined where ticks are too fine for a table. */
  static for(bounds: TableBounds): DurationTable | undefined {
    const entries = Math.ceil(bounds.plainZeroBelowUs / bounds.tickUs) + 1
    return entries > MOST_ENTRIES ? undefined : new DurationTable(entries, bounds)
  }

  /** Adds everything counted here to `halves`, and counts from 0 again. */
  flushTo(halves: HalfBitTally): void {
    const tickUs = this.#tickUs
    let differenceUs = 0
    for (const level of [0, 1] as const) {
      const counts = this.counts[level]
      const classes = this.classes[level]
      for (let ticks = 0; ticks < counts.length; ticks++) {
        const n = counts[ticks]!
        if (n === 0) continue
        const us = ticks * tickUs
        const isOne = classes[ticks] as 0 | 1
        halves.addMany(isOne, level, us, n)
        if (isOne === 1) continue
        differenceUs += level === 1 ? n * us : -n * us
        if (level === 1) halves.plainZeros += n
      }
      counts.fill(0)
    }
    halves.plainZeroDifference += differenceUs
    const { open } = halves
    halves.totalCount += open.bits[0]!
    halves.differenceCount += open.bits[1]!
    open.bits.fill(0)
    open.onesUs = 0
  }
}

/** Class of each duration of `level`, from 0 ticks on. */
function classesOf(level: 0 | 1, entries: number, bounds: TableBounds): Uint8Array {
  const { limits, tickUs, uncertaintyUs, shortUs, thresholdUs, plainZeroBelowUs } = bounds
  const { one, zero } = limits
  const exact = uncertaintyUs === 0 ? 1e-9 : 0
  const classes = new Uint8Array(entries).fill(ODD_HALF)
  const fill = (isOne: number, fromUs: number, belowUs: number, window: { minUs: number; maxUs: number }) => {
    const above = window.minUs - uncertaintyUs - exact
    const below = window.maxUs + uncertaintyUs + exact
    const first = Math.max(0, Math.floor(Math.max(fromUs, above) / tickUs) - 1)
    const last = Math.min(entries - 1, Math.ceil(Math.min(belowUs, below) / tickUs) + 1)
    for (let ticks = first; ticks <= last; ticks++) {
      const us = ticks * tickUs
      if (us >= fromUs && us < belowUs && us > above && us < below) classes[ticks] = isOne
    }
  }
  fill(ONE_HALF, shortUs[level], thresholdUs[level], one)
  fill(ZERO_HALF, Math.max(shortUs[level], thresholdUs[level]), plainZeroBelowUs, zero)
  return classes
}
