/**
 * Durations of half-bits as the reader meets them. The fields are open: the reader's loop works on them directly,
 * a call for each half-bit would cost more than everything else.
 */
import type { ConstantShift, DurationStats, HalfBitStats, SignalReading } from './reading.js'

const HISTOGRAM_BINS = 1024
const HISTOGRAM_BIN_US = 0.25

/** Differences between the halves of a one are counted in steps of {@link HISTOGRAM_BIN_US} from `-DIFFERENCE_MOST_US` on. */
const DIFFERENCE_BINS = 512
const DIFFERENCE_MOST_US = (DIFFERENCE_BINS / 2) * HISTOGRAM_BIN_US

export class HalfBitTally {
  // Index = class (0 zero, 1 one) · 2 + polarity; durations in us, instants in ticks.
  readonly count = new Float64Array(4)
  readonly min = new Float64Array(4).fill(Number.POSITIVE_INFINITY)
  readonly max = new Float64Array(4).fill(Number.NEGATIVE_INFINITY)
  readonly minAt = new Float64Array(4)
  readonly maxAt = new Float64Array(4)
  readonly sum = new Float64Array(4)
  readonly squares = new Float64Array(4)
  readonly outside = new Float64Array(2)
  readonly beyond = new Float64Array(2)
  readonly histogram = [new Float64Array(HISTOGRAM_BINS), new Float64Array(HISTOGRAM_BINS)]
  /** Half-bits that are read but not measured, us. */
  taintedUs = 0
  // One bits: signed difference; zero bits: total, and the signed difference of those not stretched.
  differenceCount = 0
  differenceMin = Number.POSITIVE_INFINITY
  differenceMax = Number.NEGATIVE_INFINITY
  differenceMinAt = 0
  differenceMaxAt = 0
  differenceOutside = 0
  /** Index = class, then bin: whatever the zeros count there means nothing, so that the reader need not ask which it is. */
  readonly differenceBins = new Float64Array(2 * DIFFERENCE_BINS)
  differenceBeyond = 0
  totalCount = 0
  totalMin = Number.POSITIVE_INFINITY
  totalMax = Number.NEGATIVE_INFINITY
  totalMinAt = 0
  totalMaxAt = 0
  totalOutside = 0
  plainZeros = 0
  plainZeroDifference = 0
  stretched = 0
  /** Whole bits that a table has counted and not yet added: zeros, ones, and how long the ones were, us. */
  readonly open = { bits: [0, 0], onesUs: 0 }
  static readonly bins = HISTOGRAM_BINS
  static readonly binUs = HISTOGRAM_BIN_US
  /** For the loop of a table, whose differences all lie within: `((us * perUs + middle) | 0) & last`, after the class's first. */
  static readonly difference = {
    perUs: 1 / HISTOGRAM_BIN_US,
    middle: DIFFERENCE_BINS / 2 + 0.5,
    last: DIFFERENCE_BINS - 1,
  } as const

  /** All half-bits, us. */
  get totalUs(): number {
    return this.taintedUs + this.sum.reduce((a, b) => a + b, 0)
  }

  /** Mean one, both halves, us; `undefined` before any. */
  get meanOneUs(): number | undefined {
    const count = this.halvesOf(1)
    return count === 0 ? undefined : (2 * (this.sum[2]! + this.sum[3]! + this.open.onesUs)) / count
  }

  /** Halves of a class so far. */
  halvesOf(isOne: 0 | 1): number {
    return this.count[isOne * 2]! + this.count[isOne * 2 + 1]! + 2 * this.open.bits[isOne]!
  }

  /** `n` halves of the same duration, us, whose extremes are known already. */
  addMany(isOne: 0 | 1, level: 0 | 1, us: number, n: number): void {
    const k = isOne * 2 + level
    this.count[k]! += n
    this.sum[k]! += n * us
    this.squares[k]! += n * us * us
    this.histogram[level]![Math.min(HISTOGRAM_BINS - 1, Math.floor(us / HISTOGRAM_BIN_US))]! += n
  }

  /** A half of this duration, us, that ended at `endTick`, is met for the first time. */
  meet(isOne: number, level: number, us: number, endTick: number, tickUs: number): void {
    const k = isOne * 2 + level
    if (us < this.min[k]!) {
      this.min[k] = us
      this.minAt[k] = endTick - us / tickUs
    }
    if (us > this.max[k]!) {
      this.max[k] = us
      this.maxAt[k] = endTick - us / tickUs
    }
  }

  /** `n` ones whose halves differ by this, high less low, us. The outer bins hold everything beyond them. */
  addDifference(us: number, n: number): void {
    const { perUs, middle } = HalfBitTally.difference
    const bin = Math.floor(us * perUs + middle)
    this.differenceBins[DIFFERENCE_BINS + Math.min(DIFFERENCE_BINS - 1, Math.max(0, bin))]! += n
  }

  /** A bit whose total (of a zero) or difference (of a one) may be a new extreme. */
  meetBit(isOne: number, us: number, middleTick: number): void {
    if (isOne === 0) {
      if (us < this.totalMin) {
        this.totalMin = us
        this.totalMinAt = middleTick
      }
      if (us > this.totalMax) {
        this.totalMax = us
        this.totalMaxAt = middleTick
      }
      return
    }
    if (us < this.differenceMin) {
      this.differenceMin = us
      this.differenceMinAt = middleTick
    }
    if (us > this.differenceMax) {
      this.differenceMax = us
      this.differenceMaxAt = middleTick
    }
  }

  /** Bits that a table has counted; how long its ones were, us. */
  addOpen(bits: number, ones: number, onesUs: number): void {
    this.open.bits[1]! += ones
    this.open.bits[0]! += bits - ones
    this.open.onesUs += onesUs
  }

  /** Bits that a table has counted are added to everything else: their halves with {@link addMany}, the bits here. */
  closeBits(isOne: 0 | 1, bits: number, onesUs: number): void {
    this.open.bits[isOne]! -= bits
    this.open.onesUs -= onesUs
    if (isOne === 1) this.differenceCount += bits
    else this.totalCount += bits
  }

  durations(k: number, tickUs: number): DurationStats {
    const count = this.count[k]!
    if (count === 0) return { count, minUs: 0, maxUs: 0, meanUs: 0, spreadUs: 0, minAtUs: 0, maxAtUs: 0 }
    const meanUs = this.sum[k]! / count
    const variance = Math.max(0, this.squares[k]! / count - meanUs * meanUs)
    return {
      count,
      minUs: this.min[k]!,
      maxUs: this.max[k]!,
      meanUs,
      spreadUs: Math.sqrt(variance),
      minAtUs: this.minAt[k]! * tickUs,
      maxAtUs: this.maxAt[k]! * tickUs,
    }
  }

  halfBits(isOne: 0 | 1, tickUs: number): HalfBitStats {
    const low = this.durations(isOne * 2, tickUs)
    const high = this.durations(isOne * 2 + 1, tickUs)
    const rest = { high, low, outside: this.outside[isOne]!, beyondReceiver: this.beyond[isOne]! }
    if (low.count === 0) return { ...high, ...rest }
    if (high.count === 0) return { ...low, ...rest }
    const count = low.count + high.count
    const meanUs = (low.meanUs * low.count + high.meanUs * high.count) / count
    const squares =
      low.count * (low.spreadUs ** 2 + low.meanUs ** 2) + high.count * (high.spreadUs ** 2 + high.meanUs ** 2)
    const shortest = low.minUs < high.minUs ? low : high
    const longest = low.maxUs > high.maxUs ? low : high
    return {
      count,
      minUs: shortest.minUs,
      maxUs: longest.maxUs,
      meanUs,
      spreadUs: Math.sqrt(Math.max(0, squares / count - meanUs * meanUs)),
      minAtUs: shortest.minAtUs,
      maxAtUs: longest.maxAtUs,
      ...rest,
    }
  }

  /** Half of the polarities' difference; a probe or a driver stage shifts ones and zeros alike. */
  shift(one: HalfBitStats, uncertaintyUs: number): ConstantShift {
    const both = one.high.count > 0 && one.low.count > 0 && this.plainZeros > 0
    const onesUs = both ? (one.high.meanUs - one.low.meanUs) / 2 : 0
    const zerosUs = both ? this.plainZeroDifference / this.plainZeros / 2 : 0
    // Means of many samples are finer than one sample; a tenth of it, and never finer than 0.1 us.
    const noise = Math.max(0.1, uncertaintyUs / 10, Math.abs(onesUs) * 0.1)
    const constant = both && Math.abs(onesUs) > noise && Math.abs(onesUs - zerosUs) <= noise
    return { highUs: constant ? onesUs : 0, onesUs, zerosUs, constant }
  }

  differences(tickUs: number): SignalReading['oneDifference'] {
    return {
      count: this.differenceCount,
      low: this.differenceMin,
      high: this.differenceMax,
      lowAtUs: this.differenceMinAt * tickUs,
      highAtUs: this.differenceMaxAt * tickUs,
      outside: this.differenceOutside,
      beyondReceiver: this.differenceBeyond,
      histogram: this.#differenceHistogram(),
    }
  }

  /** From the first bin that holds any to the last. */
  #differenceHistogram(): SignalReading['oneDifference']['histogram'] {
    const bins = Array.from(this.differenceBins.subarray(DIFFERENCE_BINS))
    const first = bins.findIndex((n) => n > 0)
    return {
      binUs: HISTOGRAM_BIN_US,
      firstUs: first < 0 ? 0 : first * HISTOGRAM_BIN_US - DIFFERENCE_MOST_US,
      counts: first < 0 ? [] : bins.slice(first, bins.findLastIndex((n) => n > 0) + 1),
    }
  }

  zeroTotals(tickUs: number): SignalReading['zeroTotal'] {
    return {
      count: this.totalCount,
      low: this.totalMin,
      high: this.totalMax,
      lowAtUs: this.totalMinAt * tickUs,
      highAtUs: this.totalMaxAt * tickUs,
      outside: this.totalOutside,
      stretched: this.stretched,
    }
  }
}
