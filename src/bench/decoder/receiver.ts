/**
 * How a decoder hears: edges to packets, by the windows that a decoder must accept. Nothing of the station's own
 * reader is used: a decoder knows no polarity, no future, and forgets everything when its power is gone.
 */
import type { Profile } from '../../standard/index.js'

/** What a receiver accepts, us; a decoder may accept more than the standard demands, never less. */
export interface ReceiverWindows {
  oneMinUs: number
  oneMaxUs: number
  /** Greatest difference of the two halves of a one. */
  oneDifferenceUs: number
  zeroMinUs: number
  zeroMaxUs: number
  /** Complete ones that must come before the start bit. */
  preambleOnes: number
}

/** The narrowest windows that the standard allows a decoder (S-9.1:2020 Table 1; S-9.2:2004 A). */
export function narrowestWindows({ clauses }: Profile): ReceiverWindows {
  const one = clauses['one-half'].receiver
  const zero = clauses['zero-half'].receiver
  return {
    oneMinUs: one?.min ?? 0,
    oneMaxUs: one?.max ?? 0,
    oneDifferenceUs: clauses['one-difference'].receiver?.max ?? 0,
    zeroMinUs: zero?.min ?? 0,
    zeroMaxUs: zero?.max ?? 0,
    preambleOnes: clauses.preamble.receiver?.min ?? 0,
  }
}

/** Bytes of the longest packet that is listened to; longer ones exist only at addresses 253 and 254. */
const MOST_BYTES = 32
/** Shortest packet: address, instruction, error byte (S-9.2:2004 B). */
const LEAST_BYTES = 3

export interface ReceiverCounts {
  packets: number
  /** Packets whose error byte was wrong. */
  wrongErrorByte: number
  /** Packets that broke off: a half-bit outside both windows, two unlike halves, or no power. */
  damaged: number
}

export class Receiver {
  readonly counts: ReceiverCounts = { packets: 0, wrongErrorByte: 0, damaged: 0 }
  readonly #windows: ReceiverWindows
  readonly #onPacket: (bytes: Uint8Array, endUs: number, startUs: number) => void
  #lastUs = Number.NaN
  /** Halves of ones in a row while a preamble is awaited. */
  #oneHalves = 0
  #inPacket = false
  /** First half of the bit under way, us, and whether it is one of a one; NaN between bits. */
  #firstUs = Number.NaN
  #firstIsOne = false
  /** Bits of the byte under way; 0: the bit that parts bytes comes next. */
  #bits = 0
  #byte = 0
  #bytes: number[] = []
  #startUs = 0

  /** @param onPacket with the times of its last edge and of the first edge of its start bit, us */
  constructor(
    windows: ReceiverWindows,
    onPacket: (bytes: Uint8Array, endUs: number, startUs: number) => void,
  ) {
    this.#windows = windows
    this.#onPacket = onPacket
  }

  /** The rails change their polarity. */
  edge(timeUs: number): void {
    const half = timeUs - this.#lastUs
    this.#lastUs = timeUs
    if (Number.isNaN(half)) return
    const w = this.#windows
    const isOne = half >= w.oneMinUs && half <= w.oneMaxUs
    const isZero = half >= w.zeroMinUs && half <= w.zeroMaxUs
    if (!isOne && !isZero) this.#resynchronise()
    else if (this.#inPacket) this.#half(half, isOne, timeUs)
    else if (isOne) this.#oneHalves++
    else this.#startBit(half, timeUs)
  }

  /** The rails carry nothing from here on. */
  off(): void {
    this.#resynchronise()
    this.#lastUs = Number.NaN
  }

  #resynchronise(): void {
    if (this.#inPacket) this.counts.damaged++
    this.#inPacket = false
    this.#oneHalves = 0
    this.#firstUs = Number.NaN
  }

  /** The first half of a zero: a start bit if enough complete ones came before it. */
  #startBit(half: number, timeUs: number): void {
    const ones = this.#oneHalves >> 1
    this.#oneHalves = 0
    if (ones < this.#windows.preambleOnes) return
    this.#inPacket = true
    this.#startUs = timeUs - half
    this.#firstUs = half
    this.#firstIsOne = false
    this.#bits = 0
    this.#bytes = []
  }

  #half(half: number, isOne: boolean, timeUs: number): void {
    if (Number.isNaN(this.#firstUs)) {
      this.#firstUs = half
      this.#firstIsOne = isOne
      return
    }
    const first = this.#firstUs
    this.#firstUs = Number.NaN
    const unlike = this.#firstIsOne !== isOne
    if (unlike || (isOne && Math.abs(half - first) > this.#windows.oneDifferenceUs)) this.#resynchronise()
    else this.#bit(isOne ? 1 : 0, timeUs)
  }

  #bit(bit: 0 | 1, timeUs: number): void {
    if (this.#bits === 0) {
      if (bit === 1) this.#end(timeUs)
      else {
        this.#bits = 8
        this.#byte = 0
      }
      return
    }
    this.#byte = (this.#byte << 1) | bit
    if (--this.#bits > 0) return
    if (this.#bytes.length === MOST_BYTES) this.#resynchronise()
    else this.#bytes.push(this.#byte)
  }

  /** The one that ends the packet counts towards the next preamble (S-9.2:2004 note 3). */
  #end(timeUs: number): void {
    const bytes = Uint8Array.from(this.#bytes)
    this.#inPacket = false
    this.#oneHalves = 2
    if (bytes.length < LEAST_BYTES) this.counts.damaged++
    else if (bytes.reduce((a, b) => a ^ b, 0) !== 0) this.counts.wrongErrorByte++
    else {
      this.counts.packets++
      this.#onPacket(bytes, timeUs, this.#startUs)
    }
  }
}
