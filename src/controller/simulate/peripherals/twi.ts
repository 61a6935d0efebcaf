/**
 * Two-wire bus with nothing connected, so that firmware which uses it goes on: no address answers. Source: ATmega328P
 * data sheet (DS40001906C), TWI status codes.
 */
import type { AvrModel } from '../../chips/index.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'

const TWBR = 0xb8
const TWSR = 0xb9
const TWDR = 0xbb
const TWCR = 0xbc
const TWINT = 0x80
const TWSTA = 0x20
const TWSTO = 0x10
const TWEN = 0x04

const STARTED = 0x08
const REPEATED = 0x10
const WRITE_UNANSWERED = 0x20
const DATA_UNANSWERED = 0x30
const READ_UNANSWERED = 0x48
const IDLE = 0xf8

export class Twi implements Peripheral {
  readonly #host: PeripheralHost
  readonly #model: AvrModel['twi']
  readonly #slot: number
  #control = 0
  #next = IDLE

  constructor(model: AvrModel['twi'], host: PeripheralHost) {
    this.#host = host
    this.#model = model
    this.#slot = host.slot(this)
    host.hook(TWCR, this, false)
    host.hook(TWSR, this, false)
    host.own(model.vector, this)
  }

  reset(at: number): void {
    this.#control = 0
    this.#host.data[TWSR] = IDLE
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#publish(at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, _mask: number, at: number): void {
    const { data } = this.#host
    if (address === TWSR) {
      data[TWSR] = (data[TWSR]! & 0xf8) | (value & 3)
      return
    }
    this.#control = (value & 0x77) | (this.#control & TWINT)
    if ((value & TWEN) !== 0) {
      const { sda, scl } = this.#model
      this.#host.lacks(RUN_FINDINGS.find('two-wire', { pins: `${sda} and ${scl}` }), [sda, scl])
    }
    if ((value & TWINT) !== 0) {
      this.#control &= ~TWINT
      if ((value & TWEN) !== 0) this.#act(value, at)
    }
    this.#publish(at)
  }

  #act(value: number, at: number): void {
    const { data } = this.#host
    const status = data[TWSR]! & 0xf8
    const bit = 16 + 2 * data[TWBR]! * 4 ** (data[TWSR]! & 3)
    if ((value & TWSTA) !== 0) {
      this.#next = status === IDLE ? STARTED : REPEATED
      this.#host.schedule(this.#slot, at + bit)
    } else if ((value & TWSTO) !== 0) {
      this.#control &= ~TWSTO
      data[TWSR] = IDLE | (data[TWSR]! & 3)
    } else if (status !== IDLE) {
      const addressing = status === STARTED || status === REPEATED
      this.#next = !addressing
        ? DATA_UNANSWERED
        : (data[TWDR]! & 1) === 1
          ? READ_UNANSWERED
          : WRITE_UNANSWERED
      this.#host.schedule(this.#slot, at + 9 * bit)
    }
  }

  event(at: number): void {
    const { data } = this.#host
    data[TWSR] = this.#next | (data[TWSR]! & 3)
    this.#control |= TWINT
    this.#publish(at)
  }

  // TWINT is cleared by writing a one only.
  acknowledge(): void {}

  #publish(at: number): void {
    this.#host.data[TWCR] = this.#control
    this.#host.request(this.#model.vector, (this.#control & (TWINT | 1)) === (TWINT | 1), at)
  }
}
