/** One pair of wires from the controller to its drivers: the signal that all districts behind it repeat, and who hears it. */
import { Receiver, type ReceiverWindows } from '../decoder/receiver.js'

export interface Heard {
  bytes: Uint8Array
  /** Where its preamble had to begin at the latest, us. */
  fromUs: number
  endUs: number
}

/** Two inputs of a driver may be equal for as long in passing, us: software that turns both takes less. */
export const PAIR_US = 10

export class Line {
  readonly direction: string
  readonly inverted: string | undefined
  /** One for each kind of receiver that listens. */
  readonly #receivers = new Map<string, { receiver: Receiver; listeners: ((heard: Heard) => void)[] }>()
  #level: 0 | 1 | undefined
  #levels: [0 | 1, 0 | 1] = [0, 0]
  /** The inputs of a pair are equal since then, us; Infinity while they differ. */
  equalSinceUs: number
  lastEdgeUs = 0
  readonly #delayUs: number
  readonly #cutoutUs: number

  /** @param cutoutUs its inputs may be equal for so long after a packet; 0 where there is no cut-out */
  constructor(direction: string, inverted: string | undefined, delayUs: number, cutoutUs = 0) {
    this.direction = direction
    this.inverted = inverted
    this.#delayUs = delayUs
    this.#cutoutUs = cutoutUs
    this.equalSinceUs = inverted === undefined ? Number.POSITIVE_INFINITY : 0
  }

  /** Polarity on the rails of what it drives. */
  get level(): 0 | 1 {
    return this.#level ?? 0
  }

  listen(windows: ReceiverWindows, onPacket: (heard: Heard) => void): void {
    const key = JSON.stringify(windows)
    const had = this.#receivers.get(key)
    if (had) {
      had.listeners.push(onPacket)
      return
    }
    const listeners = [onPacket]
    const leadUs = 2 * windows.preambleOnes * windows.oneMaxUs
    const receiver = new Receiver(windows, (bytes, endUs, startUs) => {
      for (const listener of listeners) listener({ bytes, endUs, fromUs: startUs - leadUs })
    })
    this.#receivers.set(key, { receiver, listeners })
  }

  /** Its two inputs have been equal for longer than in passing. */
  isEqual(timeUs: number): boolean {
    return this.inverted !== undefined && timeUs - this.equalSinceUs >= PAIR_US
  }

  /** They are equal for no longer than a cut-out lasts. */
  isCutout(timeUs: number): boolean {
    return this.isEqual(timeUs) && timeUs - this.equalSinceUs <= this.#cutoutUs
  }

  pin(which: 0 | 1, level: 0 | 1, timeUs: number): void {
    this.#levels[which] = level
    if (this.inverted !== undefined && this.#levels[0] === this.#levels[1]) {
      this.equalSinceUs = Math.min(this.equalSinceUs, timeUs)
      return
    }
    this.equalSinceUs = Number.POSITIVE_INFINITY
    const now = this.#levels[0]
    if (now === this.#level) return
    this.#level = now
    this.lastEdgeUs = timeUs
    for (const { receiver } of this.#receivers.values()) receiver.edge(timeUs + this.#delayUs)
  }
}
