/** Interrupt requests, and what is learnt about each interrupt while the program runs. */
import type { Peripheral } from './peripherals/peripheral.js'

/** One interrupt's figures; all times in cycles. */
export interface VectorStats {
  count: number
  /** Requests that came while the one before still waited: an event was lost. */
  lost: number
  firstLostAt: number
  /** Longest from entry to RETI, nested interrupts included. */
  longestRun: number
  totalRun: number
  /** Longest from the request to the first instruction of the handler. */
  worstLatency: number
  worstLatencyAt: number
  totalLatency: number
  /** Shortest time between two requests: the time the handler has. */
  shortestInterval: number
  lastRequest: number
}

const MAX_DEPTH = 64

export class Interrupts {
  readonly stats: VectorStats[]
  readonly #owners: (Peripheral | undefined)[]
  readonly #pending: Uint8Array
  readonly #since: Float64Array
  #waiting = 0
  /** Cycles in handlers, nested ones counted once. */
  totalRun = 0
  /** Handlers entered and not left, outermost first. */
  readonly #runningVector = new Uint8Array(MAX_DEPTH)
  readonly #runningSince = new Float64Array(MAX_DEPTH)
  readonly #runningCause = new Float64Array(MAX_DEPTH)
  #depth = 0

  constructor(count: number) {
    this.stats = Array.from({ length: count }, () => ({
      count: 0,
      lost: 0,
      firstLostAt: 0,
      longestRun: 0,
      totalRun: 0,
      worstLatency: 0,
      worstLatencyAt: 0,
      totalLatency: 0,
      shortestInterval: Number.POSITIVE_INFINITY,
      lastRequest: Number.NaN,
    }))
    this.#owners = new Array<Peripheral | undefined>(count).fill(undefined)
    this.#pending = new Uint8Array(count)
    this.#since = new Float64Array(count)
  }

  own(vector: number, device: Peripheral): void {
    this.#owners[vector] = device
  }

  ownerOf(vector: number): Peripheral | undefined {
    return this.#owners[vector]
  }

  get waits(): boolean {
    return this.#waiting > 0
  }

  request(vector: number, on: boolean, at: number): void {
    if ((this.#pending[vector] === 1) === on) return
    this.#pending[vector] = on ? 1 : 0
    this.#waiting += on ? 1 : -1
    if (!on) return
    this.#since[vector] = at
    this.#interval(vector, at)
  }

  /** Asked for again before it had run. */
  overrun(vector: number, at: number): void {
    const stats = this.stats[vector]!
    if (stats.lost++ === 0) stats.firstLostAt = at
    this.#interval(vector, at)
  }

  #interval(vector: number, at: number): void {
    const stats = this.stats[vector]!
    const interval = at - stats.lastRequest
    if (interval < stats.shortestInterval) stats.shortestInterval = interval
    stats.lastRequest = at
  }

  /** The waiting interrupt with the highest priority, which is the lowest number. */
  lowest(): number {
    return this.#pending.indexOf(1)
  }

  /** It is being entered; its handler's first instruction runs at `firstAt`. */
  enter(vector: number, at: number, firstAt: number): void {
    const stats = this.stats[vector]!
    const latency = firstAt - this.#since[vector]!
    stats.count++
    stats.totalLatency += latency
    if (latency > stats.worstLatency) {
      stats.worstLatency = latency
      stats.worstLatencyAt = at
    }
    // A program that leaves handlers by other ways than RETI would pile up entries.
    if (this.#depth < MAX_DEPTH) {
      this.#runningVector[this.#depth] = vector
      this.#runningSince[this.#depth] = at
      this.#runningCause[this.#depth] = this.#since[vector]!
      this.#depth++
    }
    this.#owners[vector]?.acknowledge(vector, at)
  }

  /** RETI. @returns the handler that has ended, if it had interrupted the main program. */
  leave(at: number): { vector: number; since: number } | undefined {
    if (this.#depth === 0) return undefined
    this.#depth--
    const stats = this.stats[this.#runningVector[this.#depth]!]!
    const run = at - this.#runningSince[this.#depth]!
    stats.totalRun += run
    if (run > stats.longestRun) stats.longestRun = run
    if (this.#depth > 0) return undefined
    this.totalRun += run
    return { vector: this.#runningVector[0]!, since: this.#runningSince[0]! }
  }

  /** Whose handler runs; undefined in the main program. */
  running(): number | undefined {
    return this.#depth > 0 ? this.#runningVector[this.#depth - 1] : undefined
  }

  /** When the cause of a waiting interrupt came. */
  requestedAt(vector: number): number {
    return this.#since[vector]!
  }

  /** Handlers entered and not left. */
  get depth(): number {
    return this.#depth
  }

  /** The handler that runs, and when its cause was. */
  handler(): { vector: number; requestedAt: number } | undefined {
    const top = this.#depth - 1
    if (top < 0) return undefined
    return { vector: this.#runningVector[top]!, requestedAt: this.#runningCause[top]! }
  }

  /** The program has begun again: no handler will return. */
  abandon(): void {
    this.#depth = 0
  }

  reset(): void {
    this.#pending.fill(0)
    this.#waiting = 0
    this.#depth = 0
  }
}
