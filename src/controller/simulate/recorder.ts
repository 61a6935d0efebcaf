/** Edges of one output: a pin, or a pin and its inverse taken as the two rails. */
import { type EdgeBlock, type EdgeSink, HIGH, LOW, OFF } from '../../signal/index.js'

const BLOCK = 4096

export class EdgeRecorder {
  readonly #sink: EdgeSink
  readonly #block: EdgeBlock = { ticks: new Float64Array(BLOCK), levels: new Uint8Array(BLOCK), count: 0 }
  readonly #differential: boolean
  #pin: number
  #inverse: number
  /** The level before `#at`, and from `#at` on: changes at one cycle count once. */
  #before: number
  #now: number
  #at: number
  edges = 0
  /** Changes of the pin made while a handler ran, by vector. */
  readonly byVector = new Map<number, number>()

  constructor(sink: EdgeSink, differential: boolean, pin: 0 | 1, inverse: 0 | 1, at: number) {
    this.#sink = sink
    this.#differential = differential
    this.#pin = pin
    this.#inverse = inverse
    this.#before = -1
    this.#now = this.#level()
    this.#at = at
  }

  #level(): number {
    if (this.#differential && this.#pin === this.#inverse) return OFF
    return this.#pin === 1 ? HIGH : LOW
  }

  setPin(level: 0 | 1, at: number): void {
    this.#pin = level
    this.#change(at)
  }

  setInverse(level: 0 | 1, at: number): void {
    this.#inverse = level
    this.#change(at)
  }

  #change(at: number): void {
    const level = this.#level()
    if (at !== this.#at) {
      this.#commit()
      this.#at = at
    }
    this.#now = level
  }

  #commit(): void {
    if (this.#now === this.#before) return
    const block = this.#block
    block.ticks[block.count] = this.#at
    block.levels[block.count] = this.#now
    block.count++
    this.edges++
    this.#before = this.#now
    if (block.count === BLOCK) this.flush()
  }

  /** Everything before `until` is settled: hand it on. */
  settle(until: number): void {
    if (this.#at < until) this.#commit()
    this.flush()
  }

  flush(): void {
    if (this.#block.count === 0) return
    this.#sink.push(this.#block)
    this.#block.count = 0
  }
}
