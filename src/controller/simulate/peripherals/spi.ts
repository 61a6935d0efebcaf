/**
 * SPI and two-wire bus with nothing connected, so that firmware which uses them goes on: SPI reads ones, every
 * address on the two-wire bus goes unanswered. Source: ATmega328P data sheet (DS40001906C), SPI and TWI status codes.
 */
import type { Peripheral, PeripheralHost } from './peripheral.js'

const SPCR = 0x4c
const SPSR = 0x4d
const SPDR = 0x4e

export class Spi implements Peripheral {
  readonly #host: PeripheralHost
  readonly #vector: number
  readonly #slot: number
  #seen = false

  constructor(vector: number, host: PeripheralHost) {
    this.#host = host
    this.#vector = vector
    this.#slot = host.slot(this)
    host.hook(SPCR, this, false)
    host.hook(SPSR, this, true)
    host.hook(SPDR, this, true)
    host.own(vector, this)
  }

  reset(at: number): void {
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#host.request(this.#vector, false, at)
  }

  read(address: number, at: number): number {
    const { data } = this.#host
    const value = data[address]!
    // SPIF is cleared by reading SPSR and then SPDR.
    if (address === SPSR) this.#seen = (value & 0x80) !== 0
    else {
      this.#host.touch()
      if (this.#seen) this.#flag(false, at)
    }
    return value
  }

  write(address: number, value: number, _mask: number, at: number): void {
    const { data } = this.#host
    if (address === SPSR) data[SPSR] = (data[SPSR]! & 0xc0) | (value & 1)
    else if (address === SPCR) {
      data[SPCR] = value
      this.#flag((data[SPSR]! & 0x80) !== 0, at)
    } else if ((data[SPCR]! & 0x50) === 0x50) {
      if (this.#seen) this.#flag(false, at)
      const divider = [4, 16, 64, 128][data[SPCR]! & 3]! / ((data[SPSR]! & 1) !== 0 ? 2 : 1)
      this.#host.schedule(this.#slot, at + 8 * divider)
    } else if ((data[SPCR]! & 0x40) !== 0) this.#host.note('SPI as a slave is not simulated: nothing arrives')
  }

  event(at: number): void {
    this.#host.data[SPDR] = 0xff
    this.#seen = false
    this.#flag(true, at)
  }

  #flag(on: boolean, at: number): void {
    const { data } = this.#host
    data[SPSR] = (data[SPSR]! & 0x7f) | (on ? 0x80 : 0)
    this.#host.request(this.#vector, on && (data[SPCR]! & 0x80) !== 0, at)
  }

  acknowledge(_vector: number, at: number): void {
    this.#flag(false, at)
  }
}
