/**
 * Samples kept for drawing, in bounded memory: the lowest and highest voltage of each few samples, and of more and
 * more of them, so that any stretch of a record is drawn from about as many values as there are columns.
 */

/** Values are kept in at most this many buckets, 16 bytes each; a longer record has more samples in each. */
const MOST_BUCKETS = 1 << 21
const FIRST_BUCKETS = 4096
/** A level holds one bucket for so many of the level below. */
const FAN = 8
/** Below so many buckets another level saves nothing. */
const LEAST_LEVEL = 512

/** Buckets of one width, in time order. */
export interface PyramidLevel {
  /** Time of the first sample of each, us. */
  timesUs: Float64Array
  low: Float32Array
  high: Float32Array
  count: number
}

export interface VoltPyramid {
  /** The finest first. */
  levels: PyramidLevel[]
  /** Samples in a bucket of the finest level: 1 when every sample is kept. */
  samplesPerBucket: number
  /** In the mean, of the finest level, us. */
  bucketUs: number
}

/** Takes samples in time order; memory is the same however many there are. */
export class PyramidBuilder {
  readonly #most: number
  #ticks: Float64Array
  #low: Float32Array
  #high: Float32Array
  #count = 0
  /** Samples of a bucket, and in the last one so far. */
  #per = 1
  #inLast = 0

  /** @param most buckets kept, an even number. */
  constructor(most = MOST_BUCKETS) {
    this.#most = most
    const size = Math.min(FIRST_BUCKETS, most)
    this.#ticks = new Float64Array(size)
    this.#low = new Float32Array(size)
    this.#high = new Float32Array(size)
  }

  add(tick: number, volt: number): void {
    if (this.#inLast < this.#per && this.#count > 0) {
      const last = this.#count - 1
      if (volt < this.#low[last]!) this.#low[last] = volt
      if (volt > this.#high[last]!) this.#high[last] = volt
      this.#inLast++
      return
    }
    if (this.#count === this.#ticks.length) {
      if (this.#count >= this.#most) {
        this.#halve()
        this.add(tick, volt)
        return
      }
      this.#grow(Math.min(this.#most, 2 * this.#count))
    }
    const at = this.#count++
    this.#ticks[at] = tick
    this.#low[at] = volt
    this.#high[at] = volt
    this.#inLast = 1
  }

  /** Two buckets become one. The last one is full when this is called. */
  #halve(): void {
    const half = this.#count >> 1
    for (let i = 0; i < half; i++) {
      this.#ticks[i] = this.#ticks[2 * i]!
      this.#low[i] = Math.min(this.#low[2 * i]!, this.#low[2 * i + 1]!)
      this.#high[i] = Math.max(this.#high[2 * i]!, this.#high[2 * i + 1]!)
    }
    this.#count = half
    this.#inLast = this.#per *= 2
  }

  #grow(size: number): void {
    const ticks = new Float64Array(size)
    ticks.set(this.#ticks)
    this.#ticks = ticks
    const low = new Float32Array(size)
    low.set(this.#low)
    this.#low = low
    const high = new Float32Array(size)
    high.set(this.#high)
    this.#high = high
  }

  /** What was kept; undefined when there was no sample. @param tickUs length of a tick, us. */
  finish(tickUs: number): VoltPyramid | undefined {
    const count = this.#count
    if (count === 0) return undefined
    const timesUs = this.#ticks.slice(0, count)
    for (let i = 0; i < count; i++) timesUs[i]! *= tickUs
    const levels: PyramidLevel[] = [
      { timesUs, low: this.#low.slice(0, count), high: this.#high.slice(0, count), count },
    ]
    for (let below = levels[0]!; below.count > LEAST_LEVEL; below = levels.at(-1)!) levels.push(above(below))
    return {
      levels,
      samplesPerBucket: this.#per,
      bucketUs: count > 1 ? (timesUs[count - 1]! - timesUs[0]!) / (count - 1) : 0,
    }
  }
}

function above(below: PyramidLevel): PyramidLevel {
  const count = Math.ceil(below.count / FAN)
  const level = {
    timesUs: new Float64Array(count),
    low: new Float32Array(count),
    high: new Float32Array(count),
    count,
  }
  for (let i = 0; i < count; i++) {
    let low = Number.POSITIVE_INFINITY
    let high = Number.NEGATIVE_INFINITY
    for (let k = i * FAN; k < Math.min(below.count, (i + 1) * FAN); k++) {
      low = Math.min(low, below.low[k]!)
      high = Math.max(high, below.high[k]!)
    }
    level.timesUs[i] = below.timesUs[i * FAN]!
    level.low[i] = low
    level.high[i] = high
  }
  return level
}

/** The coarsest level that still has about two buckets in each of `columns` of a stretch, else the finest. */
export function levelFor(pyramid: VoltPyramid, widthUs: number, columns: number): PyramidLevel {
  const wantedUs = widthUs / columns / 2
  let best = pyramid.levels[0]!
  let bucketUs = pyramid.bucketUs
  for (const level of pyramid.levels) {
    if (bucketUs > wantedUs) break
    best = level
    bucketUs *= FAN
  }
  return best
}

/** The voltage at a time, between the samples around it; a range where the record keeps only ranges. */
export function voltAt(pyramid: VoltPyramid, us: number): { low: number; high: number } | undefined {
  const { timesUs, low, high, count } = pyramid.levels[0]!
  if (count === 0 || us < timesUs[0]!) return undefined
  let from = 0
  let to = count
  while (to - from > 1) {
    const middle = (from + to) >>> 1
    if (timesUs[middle]! <= us) from = middle
    else to = middle
  }
  const next = Math.min(from + 1, count - 1)
  if (us > timesUs[next]! + 2 * pyramid.bucketUs) return undefined
  if (pyramid.samplesPerBucket > 1 || next === from) return { low: low[from]!, high: high[from]! }
  const share = Math.min(1, (us - timesUs[from]!) / (timesUs[next]! - timesUs[from]! || 1))
  const volt = low[from]! + share * (low[next]! - low[from]!)
  return { low: volt, high: volt }
}
