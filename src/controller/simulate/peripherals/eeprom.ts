/**
 * EEPROM. Source: ATmega328P data sheet (DS40001906C): write 3.4 ms, halves 1.8 ms; a read halts the CPU for four
 * cycles, the start of a write for two; EEMPE must have been set within four cycles before.
 */
import type { Peripheral, PeripheralHost } from './peripheral.js'

const EECR = 0x3f
const EEDR = 0x40
const EEARL = 0x41
const EERE = 1
const EEPE = 2
const EEMPE = 4
const EERIE = 8
const WRITE_US = 3400
const HALF_WRITE_US = 1800

export class Eeprom implements Peripheral {
  readonly bytes: Uint8Array
  readonly #host: PeripheralHost
  readonly #vector: number
  readonly #slot: number
  #control = 0
  #armedUntil = -1
  #endsAt = 0
  writes = 0

  constructor(size: number, vector: number, host: PeripheralHost) {
    this.bytes = new Uint8Array(size).fill(0xff)
    this.#host = host
    this.#vector = vector
    this.#slot = host.slot(this)
    host.hook(EECR, this, false)
    host.own(vector, this)
  }

  reset(at: number): void {
    // A write that has begun goes on in the chip; here it is done already.
    this.#control = 0
    this.#armedUntil = -1
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#publish(at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  #address(): number {
    const { data } = this.#host
    return (data[EEARL]! | (data[EEARL + 1]! << 8)) & (this.bytes.length - 1)
  }

  write(_address: number, value: number, mask: number, at: number): void {
    const { data } = this.#host
    const busy = (this.#control & EEPE) !== 0
    this.#control = (value & (EERIE | 0x30)) | (this.#control & (EEPE | EEMPE))
    if ((value & mask & EEPE) !== 0 && !busy && at <= this.#armedUntil) {
      const mode = (value >> 4) & 3
      const old = this.bytes[this.#address()]!
      // 0: erase and write, 1: erase only, 2: write only (bits can only be cleared).
      this.bytes[this.#address()] = mode === 0 ? data[EEDR]! : mode === 1 ? 0xff : old & data[EEDR]!
      this.writes++
      this.#control |= EEPE
      this.#host.stall(2)
      const us = mode === 0 ? WRITE_US : HALF_WRITE_US
      this.#endsAt = at + Math.round((us * this.#host.cpuHz) / 1e6)
      this.#host.schedule(this.#slot, this.#endsAt)
    } else if ((value & mask & EERE) !== 0 && !busy) {
      data[EEDR] = this.bytes[this.#address()]!
      this.#host.stall(4)
    }
    if ((value & mask & EEMPE) !== 0) {
      this.#armedUntil = at + 4
      this.#control |= EEMPE
    } else if (at > this.#armedUntil || (value & EEPE) !== 0) this.#control &= ~EEMPE
    this.#publish(at)
  }

  clockDivided(ratio: number, at: number): void {
    if ((this.#control & EEPE) === 0) return
    this.#endsAt = at + Math.round((this.#endsAt - at) / ratio)
    this.#host.schedule(this.#slot, this.#endsAt)
  }

  event(at: number): void {
    this.#control &= ~EEPE
    this.#publish(at)
  }

  acknowledge(): void {}

  #publish(at: number): void {
    this.#host.data[EECR] = this.#control
    this.#host.request(this.#vector, (this.#control & EERIE) !== 0 && (this.#control & EEPE) === 0, at)
  }
}
