/**
 * Distortion around the crossings of zero. S-9.1:2020 B allows a course that is not monotonic within 2 V of zero. So
 * (derived): once the signal has left that band, it must not enter it again before the next half-bit's edge. A reversal
 * wholly inside the band is allowed, one wholly outside (overshoot) is none.
 */
import type { CrossingReading } from './reading.js'

/** The band, V from zero. */
export const BAND_VOLT = 2
/** Two crossings that are closer than this do not begin two half-bits, us; the shortest that decoders take is 52 us. */
const SAME_EDGE_US = 20
/** A signal that stays in the band longer than this is off or far too low: another clause's matter, us. */
const LONGEST_US = 15
/** The highest guard: the band must have an inside, V. */
const MOST_GUARD = 1.5

export class CrossingMeter {
  readonly #tickUs: number
  readonly #centre: number
  readonly #guard: number
  readonly #sameEdge: number
  readonly #longest: number
  /** The side on which the signal left the band last; 0 when none is known. */
  #side = 0
  /** Farthest from zero since it left, V. */
  #reach = 0
  /** When it entered the band; NaN outside. */
  #enteredAt = Number.NaN
  #lastCrossing = Number.NEGATIVE_INFINITY
  // Inside the band: highest and lowest so far, towards the side that the signal came from.
  #lowest = 0
  #turned = 0
  #edges = 0
  #returns = 0
  #worst = 0
  #worstAt = 0

  /** @param guard what noise may move a sample, V. */
  constructor(tickUs: number, centre: number, guard: number) {
    this.#tickUs = tickUs
    this.#centre = centre
    this.#guard = Math.min(guard, MOST_GUARD)
    this.#sameEdge = SAME_EDGE_US / tickUs
    this.#longest = LONGEST_US / tickUs
  }

  add(tick: number, volt: number): void {
    const side = this.#side
    const v = (volt - this.#centre) * (side || 1)
    const left = BAND_VOLT + this.#guard
    if (side === 0) {
      if (v >= left) this.#arrive(1, v)
      else if (v <= -left) this.#arrive(-1, -v)
      return
    }
    if (Number.isNaN(this.#enteredAt)) {
      if (v > this.#reach) this.#reach = v
      if (v >= BAND_VOLT - this.#guard) return
      this.#enteredAt = tick
      this.#lowest = v
      this.#turned = 0
    }
    if (tick - this.#enteredAt > this.#longest) {
      this.reset()
      this.add(tick, volt)
    } else if (v <= -left) this.#cross(tick, -v)
    else if (v >= left) {
      // Back where it came from, without having crossed.
      this.#distorted(this.#reach, this.#enteredAt)
      this.#returns++
      this.#arrive(side, v)
    } else if (v < this.#lowest) this.#lowest = v
    else if (v - this.#lowest > 2 * this.#guard) {
      const size = Math.min(BAND_VOLT, Math.max(Math.abs(this.#lowest), Math.abs(v)))
      if (size > this.#turned) this.#turned = size
    }
  }

  /** The signal is off, or the record has a gap: what was begun is no crossing. */
  reset(): void {
    this.#side = 0
    this.#enteredAt = Number.NaN
    this.#lastCrossing = Number.NEGATIVE_INFINITY
  }

  #cross(tick: number, size: number): void {
    const entered = this.#enteredAt
    if (entered - this.#lastCrossing < this.#sameEdge) {
      this.#distorted(this.#reach, entered)
      this.#returns++
    } else {
      this.#edges++
      if (this.#turned > 0) this.#distorted(this.#turned, entered)
    }
    this.#lastCrossing = tick
    this.#arrive(-this.#side, size)
  }

  #arrive(side: number, size: number): void {
    this.#side = side
    this.#reach = size
    this.#enteredAt = Number.NaN
  }

  #distorted(volt: number, tick: number): void {
    if (volt <= this.#worst) return
    this.#worst = volt
    this.#worstAt = tick
  }

  reading(): CrossingReading {
    return {
      edges: this.#edges,
      worstVolt: this.#worst,
      worstAtUs: this.#worstAt * this.#tickUs,
      returns: this.#returns,
      guardVolt: this.#guard,
    }
  }
}
