/**
 * Watchdog. Source: ATmega328P data sheet (DS40001906C): 128 kHz oscillator of its own, 2048 to 1 048 576 cycles of
 * it; interrupt, reset, or first the one and then the other. The oscillator is taken as exact.
 */
import type { Peripheral, PeripheralHost } from './peripheral.js'

const MCUSR = 0x54
const WDTCSR = 0x60
const WDIF = 0x80
const WDIE = 0x40
const WDCE = 0x10
const WDE = 0x08
const WDRF = 0x08
const OSCILLATOR_HZ = 128_000

export class Watchdog implements Peripheral {
  readonly #host: PeripheralHost
  readonly #vector: number
  readonly #slot: number
  readonly #bite: (at: number) => void
  #control = 0
  #changeUntil = -1
  #since = 0

  /** @param bite the reset. */
  constructor(vector: number, host: PeripheralHost, bite: (at: number) => void) {
    this.#vector = vector
    this.#host = host
    this.#bite = bite
    this.#slot = host.slot(this)
    host.hook(WDTCSR, this, false)
    host.hook(MCUSR, this, false)
    host.own(vector, this)
  }

  get enabled(): boolean {
    return (this.#control & (WDE | WDIE)) !== 0
  }

  reset(at: number): void {
    // WDRF in MCUSR keeps the watchdog on after a watchdog reset.
    this.#control = (this.#host.data[MCUSR]! & WDRF) !== 0 ? WDE : 0
    this.#changeUntil = -1
    this.kick(at)
    this.#publish(at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, mask: number, at: number): void {
    if (address === MCUSR) {
      // Flags are cleared by writing zeros.
      this.#host.data[MCUSR] = this.#host.data[MCUSR]! & value
      return
    }
    const timed = at <= this.#changeUntil
    let control = this.#control
    if ((value & mask & WDIF) !== 0) control &= ~WDIF
    control = (control & ~WDIE) | (value & WDIE)
    if (timed) control = (control & ~(WDE | 0x27)) | (value & (WDE | 0x27))
    else control |= value & WDE
    if ((value & (WDCE | WDE)) === (WDCE | WDE)) this.#changeUntil = at + 4
    if ((this.#host.data[MCUSR]! & WDRF) !== 0) control |= WDE
    // The counter does not run while the watchdog is off (from memory); WDR resets it at any time.
    if (!this.enabled && (control & (WDE | WDIE)) !== 0) this.#since = Math.max(this.#since, at)
    this.#control = control
    this.#schedule()
    this.#publish(at)
  }

  /** WDR. */
  kick(at: number): void {
    this.#since = at
    this.#schedule()
  }

  clockDivided(ratio: number, at: number): void {
    this.#since = at - (at - this.#since) / ratio
    this.#schedule()
  }

  #schedule(): void {
    const power = (this.#control & 7) | ((this.#control >> 2) & 8)
    const cycles = Math.round(((2048 << Math.min(power, 9)) * this.#host.cpuHz) / OSCILLATOR_HZ)
    this.#host.schedule(this.#slot, this.enabled ? this.#since + cycles : Number.POSITIVE_INFINITY)
  }

  event(at: number): void {
    this.#since = at
    // With both modes, a second time-out before the interrupt was executed resets.
    const unserved = (this.#control & (WDE | WDIF)) === (WDE | WDIF)
    if ((this.#control & WDIE) !== 0 && !unserved) {
      this.#control |= WDIF
      this.#schedule()
      this.#publish(at)
    } else this.#bite(at)
  }

  acknowledge(_vector: number, at: number): void {
    this.#control &= ~WDIF
    // In the combined mode the next time-out resets.
    if ((this.#control & WDE) !== 0) this.#control &= ~WDIE
    this.#publish(at)
  }

  #publish(at: number): void {
    this.#host.data[WDTCSR] = this.#control
    this.#host.request(this.#vector, (this.#control & (WDIF | WDIE)) === (WDIF | WDIE), at)
  }
}
