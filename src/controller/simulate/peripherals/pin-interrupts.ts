/** External interrupts INTn and pin-change interrupts. Source: ATmega328P data sheet (DS40001906C), "External Interrupts". */
import type { AvrModel } from '../../chips/avr-registers.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'
import type { PinListener } from './ports.js'

const PCIFR = 0x3b
const EIFR = 0x3c
const EIMSK = 0x3d
const PCICR = 0x68
const EICRA = 0x69

/** How the devices get at pins. */
export interface Pins {
  listen(pin: string, listener: PinListener): void
  levelOf(pin: string): 0 | 1
}

export class PinInterrupts implements Peripheral {
  readonly #host: PeripheralHost
  readonly #model: AvrModel
  readonly #pins: Pins
  #external = 0
  #change = 0

  constructor(model: AvrModel, host: PeripheralHost, pins: Pins) {
    this.#host = host
    this.#model = model
    this.#pins = pins
    for (const address of [PCIFR, EIFR, EIMSK, PCICR, EICRA, EICRA + 1]) host.hook(address, this, false)
    for (const { number, pin, vector } of model.externalInterrupts) {
      host.own(vector, this)
      pins.listen(pin, (level, at) => this.#edge(number, level, at))
    }
    model.pinChange.forEach((group, index) => {
      host.own(group.vector, this)
      group.pins.forEach((pin, bit) => {
        if (pin !== undefined) pins.listen(pin, (_level, at) => this.#changed(index, bit, at))
      })
    })
  }

  reset(at: number): void {
    this.#external = this.#change = 0
    this.#publish(at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, mask: number, at: number): void {
    if (address === EIFR) this.#external &= ~(value & mask)
    else if (address === PCIFR) this.#change &= ~(value & mask)
    else this.#host.data[address] = value
    this.#publish(at)
  }

  /** 0 low level, 1 any edge, 2 falling, 3 rising. */
  #sense(number: number): number {
    return (this.#host.data[EICRA + (number >> 2)]! >> (2 * (number & 3))) & 3
  }

  #edge(number: number, level: 0 | 1, at: number): void {
    const sense = this.#sense(number)
    if (sense === 1 || (sense === 2 && level === 0) || (sense === 3 && level === 1)) {
      const { vector } = this.#model.externalInterrupts.find((e) => e.number === number)!
      if ((this.#external & (1 << number)) === 0) this.#host.raised(vector, at)
      this.#external |= 1 << number
    }
    this.#publish(at)
  }

  #changed(group: number, bit: number, at: number): void {
    if (((this.#host.data[this.#model.pinChange[group]!.mask]! >> bit) & 1) === 0) return
    this.#change |= 1 << group
    this.#publish(at)
  }

  #publish(at: number): void {
    const { data } = this.#host
    data[EIFR] = this.#external
    data[PCIFR] = this.#change
    for (const { number, pin, vector } of this.#model.externalInterrupts) {
      const bit = 1 << number
      const on =
        (data[EIMSK]! & bit) !== 0 &&
        (this.#sense(number) === 0 ? this.#pins.levelOf(pin) === 0 : (this.#external & bit) !== 0)
      this.#host.request(vector, on, at)
    }
    this.#model.pinChange.forEach(({ vector }, group) => {
      this.#host.request(vector, (data[PCICR]! & this.#change & (1 << group)) !== 0, at)
    })
  }

  event(): void {}

  acknowledge(vector: number, at: number): void {
    const external = this.#model.externalInterrupts.find((e) => e.vector === vector)
    if (external !== undefined) this.#external &= ~(1 << external.number)
    else this.#change &= ~(1 << this.#model.pinChange.findIndex((g) => g.vector === vector))
    this.#publish(at)
  }
}
