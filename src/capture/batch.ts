/** Collects edges into blocks for the sink: drops what is no change, applies the window and the inversion. */
import { type EdgeBlock, GAP, HIGH, OFF } from '../signal/edges.js'
import type { CaptureOptions, CaptureSink } from './importer.js'

/** No level has been seen yet. The first level seen is handed on as an edge from there. */
export const UNKNOWN = GAP

const SIZE = 16384
/** Two outputs that drive the rails may both be off this long between polarities (dead time), us. */
const DEAD_TIME_US = 20

/**
 * The edges of one capture on their way to the sink. Hot loops write `ticks`, `levels`, `count` and `level`
 * themselves; everything else calls {@link change}.
 */
export class EdgeBatch implements EdgeBlock {
  readonly ticks = new Float64Array(SIZE)
  readonly levels = new Uint8Array(SIZE)
  readonly size = SIZE
  count = 0
  /** Level now. */
  level = UNKNOWN
  /** Edges handed on. */
  total = 0
  /** An edge beyond the window was seen. */
  past = false
  /** Level before the first edge of this block. */
  #entry = UNKNOWN
  readonly #sink: CaptureSink
  readonly #invert: boolean
  #from = Number.NEGATIVE_INFINITY
  #to = Number.POSITIVE_INFINITY
  readonly #watch: ((ticks: Float64Array, count: number) => void) | undefined

  constructor(
    sink: CaptureSink,
    options: CaptureOptions,
    watch?: (ticks: Float64Array, count: number) => void,
  ) {
    this.#sink = sink
    this.#invert = options.invert === true
    this.#watch = watch
  }

  /** Only edges with `from` <= tick <= `to` go to the sink. */
  setWindow(from: number, to: number): void {
    this.#from = from
    this.#to = to
  }

  /** The level is `level` from `tick` on; ticks never fall. Two changes at one tick: the last one counts. */
  change(tick: number, level: number): void {
    if (level === this.level) return
    if (this.count > 0 && this.ticks[this.count - 1] === tick) {
      this.count--
      this.level = this.count > 0 ? this.levels[this.count - 1]! : this.#entry
      if (level === this.level) return
    }
    if (this.count === SIZE) this.makeRoom()
    this.ticks[this.count] = tick
    this.levels[this.count] = level
    this.count++
    this.level = level
  }

  /** The block is full: hand on all but the last edge, which another change at its time may still undo. */
  makeRoom(): void {
    const last = this.count - 1
    const tick = this.ticks[last]!
    const level = this.levels[last]!
    this.count = last
    this.flush()
    this.ticks[0] = tick
    this.levels[0] = level
    this.count = 1
  }

  flush(): void {
    const n = this.count
    if (n === 0) return
    this.#entry = this.levels[n - 1]!
    this.count = 0
    this.#watch?.(this.ticks, n)
    let out = n
    if (this.ticks[0]! < this.#from || this.ticks[n - 1]! > this.#to) out = this.#cut(n)
    if (this.#invert) {
      for (let i = 0; i < out; i++) if (this.levels[i]! < OFF) this.levels[i]! ^= HIGH
    }
    if (out === 0) return
    this.total += out
    this.count = out
    this.#sink.push(this)
    this.count = 0
  }

  #cut(n: number): number {
    let out = 0
    for (let i = 0; i < n; i++) {
      const tick = this.ticks[i]!
      if (tick > this.#to) {
        this.past = true
        break
      }
      if (tick < this.#from) continue
      this.ticks[out] = tick
      this.levels[out] = this.levels[i]!
      out++
    }
    return out
  }
}

/**
 * Two logic channels as one differential signal: HIGH when only the first is high, LOW when only the second
 * is, OFF when both are equal. An OFF of at most 20 us between opposite polarities is the dead time of a
 * driver or the skew of the sampling: the edge is put in its middle.
 */
export class Pair {
  a = UNKNOWN
  b = UNKNOWN
  readonly #batch: EdgeBatch
  readonly #deadTicks: number
  /** Tick at which an OFF began that is not yet handed on; NaN when there is none. */
  #offSince = Number.NaN
  #level = UNKNOWN

  constructor(batch: EdgeBatch, tickUs: number) {
    this.#batch = batch
    this.#deadTicks = DEAD_TIME_US / tickUs
  }

  /** Both channels are set for this tick. */
  settle(tick: number): void {
    const level = differenceOf(this.a, this.b)
    if (level === this.#level) return
    if (level === OFF) this.#offSince = tick
    else this.#leaveOff(tick, level)
    this.#level = level
  }

  #leaveOff(tick: number, level: number): void {
    const since = this.#offSince
    this.#offSince = Number.NaN
    if (Number.isNaN(since)) {
      this.#batch.change(tick, level)
    } else if (level < OFF && level !== this.#batch.level && tick - since <= this.#deadTicks) {
      this.#batch.change((since + tick) / 2, level)
    } else {
      this.#batch.change(since, OFF)
      this.#batch.change(tick, level)
    }
  }

  /** The last OFF goes on to the end of the file. */
  end(): void {
    if (!Number.isNaN(this.#offSince)) this.#batch.change(this.#offSince, OFF)
  }
}

/** Level of the difference of two logic channels: off when both are equal or one is not driven, unknown when one is. */
function differenceOf(a: number, b: number): number {
  if (a === GAP || b === GAP) return GAP
  return a === b || a === OFF || b === OFF ? OFF : a
}
