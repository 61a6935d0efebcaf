/**
 * What each duration in whole steps (ticks, or an even part of them) means, and how often it came: the reader's quick way looks durations up instead of
 * judging each half-bit, and all statistics follow from the counters at the end.
 */
import { classesOf, type DurationBounds } from './duration-class.js'
import type { HalfBitTally } from './half-bits.js'

/** Durations up to here have an entry: 0.3 ms in ticks of about 0.6 ns. */
const MOST_ENTRIES = 1 << 19

export interface TableBounds extends DurationBounds {
  tickUs: number
  /** Edges lie on the so manieth part of a tick, a power of two. */
  scale: number
}

export class DurationTable {
  /** Index = level of the half, then its duration in steps. */
  readonly classes: readonly [Uint8Array, Uint8Array]
  readonly counts: readonly [Int32Array, Int32Array]
  /** Steps of a tick, and how long one is, us: exact, as a tick is divided by a power of two. */
  readonly scale: number
  readonly stepUs: number
  /** Something was counted: where pairs of durations do, that is seldom, and half a million entries take a while to look through. */
  isUsed = false

  private constructor(
    readonly entries: number,
    bounds: TableBounds,
  ) {
    this.scale = bounds.scale
    this.stepUs = bounds.tickUs / bounds.scale
    const classes = (level: 0 | 1) =>
      classesOf(level, entries, 1 / this.stepUs, bounds, (steps, ofDuration) =>
        ofDuration(steps * this.stepUs),
      )
    this.classes = [classes(0), classes(1)]
    this.counts = [new Int32Array(entries), new Int32Array(entries)]
  }

  /** @returns undefined where ticks are too fine for a table. */
  static for(bounds: TableBounds): DurationTable | undefined {
    const entries = Math.ceil((bounds.plainZeroBelowUs / bounds.tickUs) * bounds.scale) + 1
    return entries > MOST_ENTRIES ? undefined : new DurationTable(entries, bounds)
  }

  /** Adds everything counted here to `halves`, and counts from 0 again. */
  flushTo(halves: HalfBitTally): void {
    if (!this.isUsed) return
    this.isUsed = false
    for (const level of [0, 1] as const) {
      const counts = this.counts[level]
      const classes = this.classes[level]
      for (let steps = 0; steps < counts.length; steps++) {
        const n = counts[steps]!
        if (n === 0) continue
        const us = steps * this.stepUs
        const isOne = classes[steps] as 0 | 1
        halves.addMany(isOne, level, us, n)
        // Each bit has a half of either level: it is counted with the high one.
        halves.closeBits(isOne, level === 1 ? n : 0, isOne * n * us)
        if (isOne === 1) continue
        halves.plainZeroDifference += level === 1 ? n * us : -n * us
        if (level === 1) halves.plainZeros += n
      }
      counts.fill(0)
    }
  }
}

/** The finest part of a tick that is tried. */
const MOST_SCALE = 1 << 10

/** @returns into how many parts a tick is divided by these edges, a power of two; undefined where they lie anywhere. */
export function scaleOf(ticks: Float64Array, count: number): number | undefined {
  let scale = 1
  for (let i = 0; i < count; i++) {
    while (!Number.isInteger(ticks[i]! * scale)) {
      scale *= 2
      if (scale > MOST_SCALE) return undefined
    }
  }
  return scale
}
