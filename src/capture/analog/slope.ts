/**
 * Slope of the passages through the region from -4 to +4 V (S-9.1:2020 Table 2). A passage begins where the signal
 * leaves one side and ends where it arrives beyond the other; where noise crosses a border several times, the middle
 * between its first and its last crossing counts, so that noise makes the slope neither steeper nor flatter.
 */
import type { PassageReading, SlopeReading } from './reading.js'

/** Borders of the judged region, V from zero. */
export const SLOPE_VOLT = 4
/** What takes longer is no edge: 0.2 V/us, a tenth of the slowest that decoders must read. */
const LONGEST_US = 40

class Passages {
  edges = 0
  slowest = Number.POSITIVE_INFINITY
  slowestAt = 0
  #mean = 0
  #squares = 0

  add(slope: number, at: number): void {
    this.edges++
    const off = slope - this.#mean
    this.#mean += off / this.edges
    this.#squares += off * (slope - this.#mean)
    if (slope >= this.slowest) return
    this.slowest = slope
    this.slowestAt = at
  }

  reading(tickUs: number): PassageReading {
    const { edges, slowest, slowestAt } = this
    const deviation = edges > 1 ? Math.sqrt(this.#squares / (edges - 1)) : 0
    return {
      edges,
      slowest: edges > 0 ? slowest : 0,
      slowestAtUs: slowestAt * tickUs,
      mean: this.#mean,
      deviation,
    }
  }
}

export class SlopeMeter {
  readonly #tickUs: number
  readonly #centre: number
  /** A sample this far beyond a border has surely left the region, V. */
  readonly #guard: number
  readonly #longest: number
  /** The side that the passage comes from; 0 when none is known. */
  #side = 0
  /** First and last crossing of the border that is left, and of the one that is reached. */
  #leftFirst = Number.NaN
  #leftLast = Number.NaN
  #reachedFirst = Number.NaN
  #reachedLast = Number.NaN
  /** Last sample before the signal left. */
  #sampleBefore = 0
  #inside = 0
  readonly #rising = new Passages()
  readonly #falling = new Passages()
  #coarse = 0
  #coarseBound = Number.POSITIVE_INFINITY
  #coarseAt = 0

  /** @param centre zero, V. */
  constructor(tickUs: number, centre: number, guard: number) {
    this.#tickUs = tickUs
    this.#centre = centre
    this.#guard = guard
    this.#longest = LONGEST_US / tickUs
  }

  /** From one sample to the next, V and ticks. */
  add(t0: number, v0: number, t1: number, v1: number): void {
    // Towards the side that the signal comes from is up.
    const side = this.#side
    const a = (v0 - this.#centre) * (side || 1)
    const b = (v1 - this.#centre) * (side || 1)
    const beyond = SLOPE_VOLT + this.#guard
    if (side === 0) {
      if (b >= beyond) this.#side = 1
      else if (b <= -beyond) this.#side = -1
      return
    }
    // On the plateau, as nearly every sample.
    if (a >= beyond && b >= beyond) return
    if (a >= SLOPE_VOLT !== b >= SLOPE_VOLT) {
      const at = t0 + ((a - SLOPE_VOLT) / (a - b)) * (t1 - t0)
      if (Number.isNaN(this.#leftFirst)) {
        this.#leftFirst = at
        this.#sampleBefore = t0
      }
      this.#leftLast = at
    }
    if (b > -SLOPE_VOLT && b < SLOPE_VOLT) this.#inside++
    if (a > -SLOPE_VOLT !== b > -SLOPE_VOLT) {
      const at = t0 + ((a + SLOPE_VOLT) / (a - b)) * (t1 - t0)
      if (Number.isNaN(this.#reachedFirst)) this.#reachedFirst = at
      this.#reachedLast = at
    }
    if (b >= beyond) this.#forget()
    else if (b <= -beyond) {
      this.#passed(t1)
      this.#forget()
      this.#side = -side
    } else if (t1 - this.#leftFirst > this.#longest) this.reset()
  }

  /** The signal is off, or the record has a gap: what begins next has no start. */
  reset(): void {
    this.#forget()
    this.#side = 0
  }

  #forget(): void {
    this.#leftFirst = Number.NaN
    this.#leftLast = Number.NaN
    this.#reachedFirst = Number.NaN
    this.#reachedLast = Number.NaN
    this.#inside = 0
  }

  #passed(sample: number): void {
    const left = (this.#leftFirst + this.#leftLast) / 2
    const reached = (this.#reachedFirst + this.#reachedLast) / 2
    const us = (reached - left) * this.#tickUs
    if (!(us > 0 && us <= LONGEST_US)) return
    if (this.#inside >= 2) {
      const passages = this.#side > 0 ? this.#falling : this.#rising
      passages.add((2 * SLOPE_VOLT) / us, left)
      return
    }
    const bound = (2 * SLOPE_VOLT) / ((sample - this.#sampleBefore) * this.#tickUs)
    this.#coarse++
    if (bound >= this.#coarseBound) return
    this.#coarseBound = bound
    this.#coarseAt = left
  }

  reading(): SlopeReading | undefined {
    if (this.#rising.edges + this.#falling.edges + this.#coarse === 0) return undefined
    return {
      rising: this.#rising.reading(this.#tickUs),
      falling: this.#falling.reading(this.#tickUs),
      coarse: this.#coarse,
      coarseBound: this.#coarseBound,
      coarseAtUs: this.#coarseAt * this.#tickUs,
    }
  }
}
