/**
 * SPI as a master with nothing that answers: it reads ones. Its clock and data appear at the pins. Source: ATmega328P
 * data sheet (DS40001906C), SPI: eight bits at the divided clock, order by DORD, polarity and phase by CPOL and CPHA,
 * a write during a transfer sets WCOL and changes nothing. What MOSI does between two bytes the data sheet does not
 * say; here it keeps the last bit.
 */
import type { AvrModel } from '../../chips/index.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost, PinOutput } from './peripheral.js'

const SPCR = 0x4c
const SPSR = 0x4d
const SPDR = 0x4e
const SPIE = 0x80
const SPE = 0x40
const DORD = 0x20
const MSTR = 0x10
const CPOL = 0x08
const CPHA = 0x04
const SPIF = 0x80
const WCOL = 0x40

export class Spi implements Peripheral {
  readonly #host: PeripheralHost
  readonly #model: AvrModel['spi']
  readonly #slot: number
  readonly #pins: { mosi: PinOutput; sck: PinOutput }
  /** Bytes sent as a master. */
  sent = 0
  #seen = false
  #sending = 0
  /** Half clock periods passed of the sixteen; 16: nothing is sent. */
  #halves = 16
  #startedAt = 0
  #halfCycles = 2
  #driving = false
  #mosi: 0 | 1 = 0

  constructor(model: AvrModel['spi'], host: PeripheralHost, pins: { mosi: PinOutput; sck: PinOutput }) {
    this.#host = host
    this.#model = model
    this.#pins = pins
    this.#slot = host.slot(this)
    host.hook(SPCR, this, false)
    host.hook(SPSR, this, true)
    host.hook(SPDR, this, true)
    host.own(model.vector, this)
  }

  reset(at: number): void {
    this.#halves = 16
    this.#driving = false
    this.#mosi = 0
    this.#seen = false
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#host.request(this.#model.vector, false, at)
  }

  read(address: number, at: number): number {
    const { data } = this.#host
    const value = data[address]!
    // SPIF and WCOL are cleared by reading SPSR and then SPDR.
    if (address === SPSR) this.#seen = (value & (SPIF | WCOL)) !== 0
    else {
      this.#host.touch()
      this.#acknowledgeByAccess(at)
    }
    return value
  }

  write(address: number, value: number, _mask: number, at: number): void {
    const { data } = this.#host
    if (address === SPSR) data[SPSR] = (data[SPSR]! & (SPIF | WCOL)) | (value & 1)
    else if (address === SPCR) {
      data[SPCR] = value
      this.#connect(at)
      this.#flag((data[SPSR]! & SPIF) !== 0, at)
    } else if ((data[SPCR]! & (SPE | MSTR)) === (SPE | MSTR)) {
      if (this.#halves < 16) {
        data[SPSR] = data[SPSR]! | WCOL
        return
      }
      this.#acknowledgeByAccess(at)
      this.#begin(value, at)
    } else if ((data[SPCR]! & SPE) !== 0) {
      const { miso } = this.#model
      this.#host.lacks(RUN_FINDINGS.find('spi-slave', { pin: miso }), [miso])
    }
  }

  #acknowledgeByAccess(at: number): void {
    if (!this.#seen) return
    this.#seen = false
    this.#host.data[SPSR] = this.#host.data[SPSR]! & ~WCOL
    this.#flag(false, at)
  }

  /** As a master it takes over MOSI and SCK; they drive where their direction bits say so. */
  #connect(at: number): void {
    const control = this.#host.data[SPCR]!
    const master = (control & (SPE | MSTR)) === (SPE | MSTR)
    if (!master) {
      if (!this.#driving) return
      this.#driving = false
      this.#halves = 16
      this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
      this.#pins.mosi.release(at)
      this.#pins.sck.release(at)
      return
    }
    this.#driving = true
    this.#pins.mosi.drive(this.#mosi, at)
    this.#pins.sck.drive((control & CPOL) !== 0 ? 1 : 0, at)
  }

  #begin(value: number, at: number): void {
    this.sent++
    const { data } = this.#host
    const control = data[SPCR]!
    const divider = [4, 16, 64, 128][control & 3]! / ((data[SPSR]! & 1) !== 0 ? 2 : 1)
    this.#halfCycles = divider / 2
    this.#sending = (control & DORD) !== 0 ? reversed(value) : value
    this.#halves = 0
    this.#startedAt = at
    this.#edge(at)
    this.#host.schedule(this.#slot, at + this.#halfCycles)
  }

  /**
   * The clock's state after `#halves` half periods, and the bit with it: with CPHA = 0 a bit is set up half a period
   * before its leading edge, with CPHA = 1 at it.
   */
  #edge(at: number): void {
    const control = this.#host.data[SPCR]!
    const late = (control & CPHA) !== 0
    const bit = this.#halves >> 1
    if (bit < 8) {
      this.#mosi = ((this.#sending >> (7 - bit)) & 1) as 0 | 1
      this.#pins.mosi.drive(this.#mosi, at)
    }
    const inFirstHalf = (this.#halves & 1) === 0
    const active = this.#halves < 16 && inFirstHalf === late
    this.#pins.sck.drive(active !== ((control & CPOL) !== 0) ? 1 : 0, at)
  }

  event(at: number): void {
    this.#halves++
    this.#edge(at)
    if (this.#halves < 16) {
      this.#host.schedule(this.#slot, this.#startedAt + (this.#halves + 1) * this.#halfCycles)
      return
    }
    this.#host.data[SPDR] = 0xff
    this.#seen = false
    const { data } = this.#host
    if ((data[SPSR]! & SPIF) !== 0 && (data[SPCR]! & SPIE) !== 0) {
      this.#host.overrun(this.#model.vector, at)
    }
    this.#flag(true, at)
  }

  #flag(on: boolean, at: number): void {
    const { data } = this.#host
    data[SPSR] = (data[SPSR]! & 0x7f) | (on ? SPIF : 0)
    this.#host.request(this.#model.vector, on && (data[SPCR]! & SPIE) !== 0, at)
  }

  acknowledge(_vector: number, at: number): void {
    this.#flag(false, at)
  }
}

function reversed(byte: number): number {
  let result = 0
  for (let i = 0; i < 8; i++) if ((byte & (1 << i)) !== 0) result |= 0x80 >> i
  return result
}
