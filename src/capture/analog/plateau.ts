/**
 * The plateaus of the half-bits, apart from the edges and the ringing after them: what is within 10 us of a crossing is
 * left out. What remains is averaged over blocks of 5 us, so that noise does not count, and two of them in a row make the
 * lowest 10 us of a half-bit, so that a dip within it does.
 */
import { HIGH } from '../../signal/edges.js'

/** Left out after and before a crossing, us: the slowest edge allowed reaches 22 V in 9.2 us. */
const SETTLE_US = 10
const BLOCK_US = 5
/** A half-bit shorter than this is none, us. */
export const SHORTEST_US = 20

interface Block {
  end: number
  sum: number
  squares: number
  count: number
}

export class PlateauMeter {
  readonly #tickUs: number
  readonly #settle: number
  readonly #block: number
  #level = HIGH
  /** When the half-bit began; NaN when its beginning was not seen. */
  #since = Number.NaN
  /** From here on samples count. */
  #from = 0
  #blockEnd = 0
  #sum = 0
  #count = 0
  #last = 0
  #squares = 0
  /** Blocks that the next crossing may still reach back to. */
  readonly #pending: Block[] = []
  /** The block taken before, of this half-bit, and how many there were. */
  #before: Block | undefined
  #taken = 0
  #halfSum = 0
  #halfCount = 0
  #lowest = Number.POSITIVE_INFINITY
  #lowestCount = 0
  #lowestAt = 0
  /** Where all samples of a half-bit lie near its crossings, these must do. */
  #anySum = 0
  #anyCount = 0

  weakest = Number.POSITIVE_INFINITY
  weakestSamples = 0
  weakestAt = 0
  /** By level: sum of the plateaus, their squares, how many. */
  readonly sums = [0, 0]
  readonly #squaresOf = [0, 0]
  readonly counts = [0, 0]
  /** For the noise: squares of what lies beside the mean of a block, and how many samples that are. */
  #noise = 0
  #noiseSamples = 0

  constructor(tickUs: number) {
    this.#tickUs = tickUs
    this.#settle = SETTLE_US / tickUs
    this.#block = BLOCK_US / tickUs
  }

  /** @param known the level changed at this tick; otherwise its beginning was not seen and it is not judged. */
  begin(tick: number, level: number, known: boolean): void {
    this.#level = level
    this.#since = known ? tick : Number.NaN
    this.#from = tick + this.#settle
    this.#blockEnd = this.#from + this.#block
    this.#sum = 0
    this.#count = 0
    this.#squares = 0
    this.#pending.length = 0
    this.#before = undefined
    this.#taken = 0
    this.#halfSum = 0
    this.#halfCount = 0
    this.#anySum = 0
    this.#anyCount = 0
    this.#lowest = Number.POSITIVE_INFINITY
  }

  add(tick: number, volt: number): void {
    if (tick < this.#from) {
      this.#anySum += volt
      this.#anyCount++
      return
    }
    if (tick >= this.#blockEnd) {
      this.#close()
      this.#blockEnd = tick + this.#block
      while (this.#pending.length > 0 && this.#pending[0]!.end < tick - this.#settle)
        this.#take(this.#pending.shift()!)
    }
    this.#sum += volt
    this.#squares += volt * volt
    this.#count++
    this.#last = tick
  }

  /** @returns the plateau of the half-bit that ends at this tick, V; undefined when it was none. */
  end(tick: number): number | undefined {
    if (Number.isNaN(this.#since) || (tick - this.#since) * this.#tickUs < SHORTEST_US) return undefined
    if (this.#last <= tick - this.#settle) this.#close()
    for (const block of this.#pending) if (block.end <= tick - this.#settle) this.#take(block)
    let mean: number
    if (this.#halfCount > 0) mean = this.#halfSum / this.#halfCount
    else if (this.#anyCount + this.#count > 0) {
      // Sampled so coarsely that nothing lies on the plateau for sure.
      let sum = this.#anySum + this.#sum
      let count = this.#anyCount + this.#count
      for (const block of this.#pending) {
        sum += block.sum
        count += block.count
      }
      mean = sum / count
    } else return undefined
    this.sums[this.#level]! += mean
    this.#squaresOf[this.#level]! += mean * mean
    this.counts[this.#level]!++
    if (this.#halfCount > 0 && this.#lowest < this.weakest) {
      this.weakest = this.#lowest
      this.weakestSamples = this.#lowestCount
      this.weakestAt = this.#lowestAt
    }
    return mean
  }

  #close(): void {
    if (this.#count === 0) return
    this.#pending.push({ end: this.#last, sum: this.#sum, squares: this.#squares, count: this.#count })
    this.#sum = 0
    this.#squares = 0
    this.#count = 0
  }

  #take(block: Block): void {
    const { sum, squares, count, end } = block
    this.#halfSum += sum
    this.#halfCount += count
    if (count > 1) {
      this.#noise += Math.max(0, squares - (sum * sum) / count)
      this.#noiseSamples += count - 1
    }
    const both = count + (this.#before?.count ?? 0)
    const size = (this.#level === HIGH ? 1 : -1) * ((sum + (this.#before?.sum ?? 0)) / both)
    // The first block alone counts only while there is no second one.
    if (this.#taken < 2 || size < this.#lowest) {
      this.#lowest = size
      this.#lowestCount = both
      this.#lowestAt = end
    }
    this.#taken++
    this.#before = block
  }

  /** V rms, from what lies beside the mean of 5 us on plateaus; undefined while too few samples tell. */
  get noiseVolt(): number | undefined {
    return this.#noiseSamples < 30 ? undefined : Math.sqrt(this.#noise / this.#noiseSamples)
  }

  /** Deviation between the plateaus of one level, V; the larger of both. */
  get deviationVolt(): number {
    const of = (level: number) => {
      const n = this.counts[level]!
      const mean = this.sums[level]! / n
      return n > 1 ? Math.sqrt(Math.max(0, this.#squaresOf[level]! / n - mean * mean)) : 0
    }
    return Math.max(of(0), of(1))
  }
}
