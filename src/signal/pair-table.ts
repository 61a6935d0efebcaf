/**
 * Whole bits by the durations of their two halves, and how often each pair came: the quickest way through a signal with
 * few different durations, as a sampler sees the output of a timer. All statistics follow from the counters, and extremes
 * from the first time that a pair is met, because its halves are the same each time.
 */
import { ODD_HALF, ONE_HALF } from './duration-class.js'
import type { DurationTable } from './duration-table.js'
import type { HalfBitTally } from './half-bits.js'

/** A duration's code has so many bits. Code 0 is no duration. */
export const CODE_BITS = 7
const CODES = 1 << CODE_BITS
/** Class of a pair that was not looked at yet. */
const NOT_MET = 3

export class PairTable {
  /** Durations below this have an entry, a power of two. */
  readonly entries: number
  /** Index = duration in steps of the table. */
  readonly codes: Uint8Array
  /** Index = code of the first half, then of the second. */
  readonly classes = new Uint8Array(CODES * CODES).fill(NOT_MET)
  readonly counts = new Int32Array(CODES * CODES)
  /** How long the bit is, steps, if it is a one. */
  readonly oneSteps = new Float64Array(CODES * CODES)
  readonly #steps = new Int32Array(CODES)
  readonly #slots: number[] = []
  #codes = 0
  /** A duration found no code. */
  isFull = false

  constructor(
    readonly durations: DurationTable,
    readonly firstLevel: 0 | 1,
    readonly bounds: { mostDifferenceUs: number; stretchedUs: number },
  ) {
    this.entries = 1 << Math.ceil(Math.log2(durations.entries))
    this.codes = new Uint8Array(this.entries)
  }

  /** @returns the code of a duration that is sound on either level; 0 of any other. */
  codeOf(steps: number): number {
    const known = this.codes[steps]!
    if (known !== 0 || steps >= this.durations.entries) return known
    const [low, high] = this.durations.classes
    if (low[steps] === ODD_HALF || low[steps] !== high[steps]) return 0
    if (this.#codes === CODES - 1) {
      this.isFull = true
      return 0
    }
    const code = ++this.#codes
    this.codes[steps] = code
    this.#steps[code] = steps
    return code
  }

  /** @returns the class of a pair of codes; ODD_HALF where the bit needs the plain loop. */
  classOf(first: number, second: number): number {
    const slot = (first << CODE_BITS) | second
    if (this.classes[slot] !== NOT_MET) return this.classes[slot]!
    const { stepUs, classes } = this.durations
    const firstUs = this.#steps[first]! * stepUs
    const secondUs = this.#steps[second]! * stepUs
    const isOne = classes[0][this.#steps[first]!]!
    const isSound =
      isOne === classes[0][this.#steps[second]!] &&
      (isOne === ONE_HALF
        ? Math.abs(firstUs - secondUs) <= this.bounds.mostDifferenceUs
        : firstUs + secondUs < this.bounds.stretchedUs)
    this.classes[slot] = isSound ? isOne : ODD_HALF
    if (isSound) {
      this.#slots.push(slot)
      this.oneSteps[slot] = isOne * (this.#steps[first]! + this.#steps[second]!)
    }
    return this.classes[slot]!
  }

  /** Duration of a code, us. */
  usOf(code: number): number {
    return this.#steps[code]! * this.durations.stepUs
  }

  /** Adds everything counted here to `halves`, and counts from 0 again. */
  flushTo(halves: HalfBitTally): void {
    const { stepUs } = this.durations
    const { firstLevel } = this
    const secondLevel = firstLevel === 1 ? 0 : 1
    for (const slot of this.#slots) {
      const n = this.counts[slot]!
      if (n === 0) continue
      this.counts[slot] = 0
      const isOne = this.classes[slot] as 0 | 1
      const firstUs = this.#steps[slot >> CODE_BITS]! * stepUs
      const secondUs = this.#steps[slot & (CODES - 1)]! * stepUs
      halves.addMany(isOne, firstLevel, firstUs, n)
      halves.addMany(isOne, secondLevel, secondUs, n)
      halves.closeBits(isOne, n, isOne * n * (firstUs + secondUs))
      const differenceUs = firstLevel === 1 ? firstUs - secondUs : secondUs - firstUs
      if (isOne === 1) {
        halves.addDifference(differenceUs, n)
        continue
      }
      halves.plainZeros += n
      halves.plainZeroDifference += n * differenceUs
    }
  }
}
