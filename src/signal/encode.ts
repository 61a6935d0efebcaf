/** Packets → bits → half-bits → edges. */
import { type EdgeClock, EdgeList, HIGH, LOW, OFF } from './edges.js'

export interface SignalTiming {
  /** Half of a one bit, us. */
  oneHalfUs: number
  /** Half of a zero bit, us. */
  zeroHalfUs: number
  /** Ones sent before each packet, not counting the end bit of the packet before. */
  preamble: number
  /** Bidirectional cut-out after each packet, us from the last edge of the end bit; rails equal in between. */
  cutout?: { startUs: number; endUs: number }
}

/** Nominal durations of S-9.1:2020 Table 1; preamble of S-9.2:2004 A with two to spare. */
export const NOMINAL_TIMING: SignalTiming = { oneHalfUs: 58, zeroHalfUs: 100, preamble: 16 }

/** The encoder's ticks are nanoseconds. */
export const ENCODER_CLOCK: EdgeClock = { tickUs: 1e-3, resolutionUs: 0 }

/** Edges in a block of {@link encodeBlocks}, at least. */
const BLOCK_EDGES = 16_384

/** Writes a signal edge by edge. Starts with the first half of its first bit at level high, time 0. */
export class SignalEncoder {
  readonly edges = new EdgeList()
  readonly #timing: SignalTiming
  #tick = 0
  #level: typeof HIGH | typeof LOW = HIGH

  /** @throws RangeError when a duration is not positive or the preamble not a whole number of ones. */
  constructor(timing: SignalTiming = NOMINAL_TIMING) {
    if (!(timing.oneHalfUs > 0) || !(timing.zeroHalfUs > 0)) {
      throw new RangeError(`half-bits of ${timing.oneHalfUs} and ${timing.zeroHalfUs} us cannot be sent`)
    }
    if (!Number.isInteger(timing.preamble) || timing.preamble < 0) {
      throw new RangeError(`a preamble of ${timing.preamble} ones cannot be sent`)
    }
    this.#timing = timing
  }

  /** Time reached, us. */
  get timeUs(): number {
    return this.#tick / 1000
  }

  /** One interval of a level; the level after it is the opposite. */
  half(us: number): void {
    this.edges.add(this.#tick, this.#level)
    this.#tick += Math.round(us * 1000)
    this.#level = this.#level === HIGH ? LOW : HIGH
  }

  /** One bit; a zero may be stretched by giving its halves, us. */
  bit(one: boolean, firstUs?: number, secondUs?: number): void {
    const us = one ? this.#timing.oneHalfUs : this.#timing.zeroHalfUs
    this.half(firstUs ?? us)
    this.half(secondUs ?? us)
  }

  ones(count: number): void {
    for (let i = 0; i < count; i++) this.bit(true)
  }

  /** Preamble, bytes (the error byte among them) and end bit; then the cut-out if there is one. */
  packet(bytes: ArrayLike<number>, preamble = this.#timing.preamble): void {
    this.ones(preamble)
    for (let i = 0; i < bytes.length; i++) {
      this.bit(false)
      for (let mask = 0x80; mask > 0; mask >>= 1) this.bit((bytes[i]! & mask) !== 0)
    }
    this.bit(true)
    const { cutout } = this.#timing
    if (cutout) {
      this.edges.add(this.#tick, this.#level)
      this.edges.add(this.#tick + Math.round(cutout.startUs * 1000), OFF)
      this.#tick += Math.round(cutout.endUs * 1000)
    }
  }

  /** No signal: rails equal. */
  silence(us: number): void {
    this.edges.add(this.#tick, OFF)
    this.#tick += Math.round(us * 1000)
  }

  /** The edges, closed with the last one. */
  finish(): EdgeList {
    this.edges.add(this.#tick, this.#level)
    return this.edges
  }
}

/**
 * The same edges as {@link encodeSignal} gives, block by block, so that a signal of any length needs little memory.
 * A block is used again for the next one.
 */
export function* encodeBlocks(
  packets: Iterable<ArrayLike<number>>,
  timing?: SignalTiming,
): Generator<EdgeList> {
  const encoder = new SignalEncoder(timing)
  const { edges } = encoder
  for (const bytes of packets) {
    encoder.packet(bytes)
    if (edges.count < BLOCK_EDGES) continue
    yield edges
    edges.count = 0
  }
  encoder.ones(2)
  yield encoder.finish()
}

/** Edges of packets sent back to back; a few ones follow so that the last end bit is closed. */
export function encodeSignal(packets: Iterable<ArrayLike<number>>, timing?: SignalTiming): EdgeList {
  const encoder = new SignalEncoder(timing)
  for (const bytes of packets) encoder.packet(bytes)
  encoder.ones(2)
  return encoder.finish()
}
