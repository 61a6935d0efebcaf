/** Port pins: PORT, DDR, PIN, the timers' outputs that override them, and levels given from outside. */
import type { AvrModel, AvrPortModel } from '../../chips/avr-registers.js'
import type { Peripheral, PeripheralHost, PinOutput } from './peripheral.js'

/** Told of each change of a watched pin's level. */
export type PinListener = (level: 0 | 1, at: number) => void

export class Port implements Peripheral {
  readonly letter: string
  readonly #host: PeripheralHost
  readonly #pin: number
  #port = 0
  #direction = 0
  /** Bits driven from outside, and their levels. */
  #outside = 0
  #outsideLevels = 0
  #level = 0
  /** Bits that changed their level while they were outputs. */
  moved = 0
  #overridden = 0
  /** Bits that are outputs whatever DDRx says: a serial port's transmitter. */
  #forced = 0
  /** Peripherals on each bit: those that drive now, and their levels. */
  readonly #drivers: { on: boolean; level: 0 | 1 }[][] = Array.from({ length: 8 }, () => [])
  readonly #listeners: PinListener[][] = Array.from({ length: 8 }, () => [])

  constructor(model: AvrPortModel, host: PeripheralHost) {
    this.letter = model.letter
    this.#host = host
    this.#pin = model.pin
    for (let i = 0; i < 3; i++) host.hook(model.pin + i, this, false)
  }

  reset(at: number): void {
    this.#port = this.#direction = this.#overridden = this.#forced = 0
    for (const drivers of this.#drivers) for (const d of drivers) d.on = false
    this.#host.data[this.#pin + 1] = 0
    this.#host.data[this.#pin + 2] = 0
    this.#update(at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, mask: number, at: number): void {
    const { data } = this.#host
    if (address === this.#pin) {
      // Ones written to PINx toggle PORTx.
      this.#port ^= value & mask
      data[address + 2] = this.#port
    } else {
      data[address] = value
      if (address === this.#pin + 1) this.#direction = value
      else this.#port = value
    }
    this.#update(at)
  }

  event(): void {}
  acknowledge(): void {}

  level(bit: number): 0 | 1 {
    return ((this.#level >> bit) & 1) as 0 | 1
  }

  isOutput(bit: number): boolean {
    return ((this.#direction >> bit) & 1) === 1
  }

  listen(bit: number, listener: PinListener): void {
    this.#listeners[bit]!.push(listener)
  }

  /** Level given from outside; undefined lets the pin float. */
  setOutside(bit: number, level: 0 | 1 | undefined, at: number): void {
    const mask = 1 << bit
    this.#outside = level === undefined ? this.#outside & ~mask : this.#outside | mask
    this.#outsideLevels = level === 1 ? this.#outsideLevels | mask : this.#outsideLevels & ~mask
    this.#update(at)
  }

  /** A peripheral's output that can take over this pin. */
  output(bit: number): PinOutput {
    const drivers = this.#drivers[bit]!
    const own = { on: false, level: 0 as 0 | 1 }
    drivers.push(own)
    const mask = 1 << bit
    return {
      drive: (level, at) => {
        own.on = true
        own.level = level
        this.#overridden |= mask
        this.#update(at)
      },
      force: (on) => {
        this.#forced = on ? this.#forced | mask : this.#forced & ~mask
      },
      release: (at) => {
        own.on = false
        if (!drivers.some((d) => d.on)) this.#overridden &= ~mask
        this.#update(at)
      },
    }
  }

  /**
   * Two timers on one pin (OC0A and OC1C): the data sheet of the ATmega2560 joins them by OR where the port bit is 1,
   * by AND where it is 0.
   */
  #driven(bit: number): number {
    let any = 0
    let all = 1
    for (const { on, level } of this.#drivers[bit]!) {
      if (!on) continue
      any |= level
      all &= level
    }
    return ((this.#port >> bit) & 1) === 1 ? any : all
  }

  #update(at: number): void {
    let out = this.#port
    if (this.#overridden !== 0) {
      for (let bit = 0; bit < 8; bit++) {
        if (((this.#overridden >> bit) & 1) === 0) continue
        out = this.#driven(bit) === 1 ? out | (1 << bit) : out & ~(1 << bit)
      }
    }
    // An input that nothing drives reads its pull-up, which PORTx switches on; without, it is taken as low.
    const input = (this.#outside & this.#outsideLevels) | (~this.#outside & this.#port)
    const direction = this.#direction | this.#forced
    const level = ((direction & out) | (~direction & input)) & 255
    const changed = level ^ this.#level
    if (changed === 0) return
    this.moved |= changed & direction
    this.#level = level
    this.#host.data[this.#pin] = level
    for (let bit = 0; bit < 8; bit++) {
      if (((changed >> bit) & 1) === 0) continue
      const listeners = this.#listeners[bit]!
      for (let i = 0; i < listeners.length; i++) listeners[i]!(((level >> bit) & 1) as 0 | 1, at)
    }
  }
}

/** Finds a pin such as `PB1` among a chip's ports. @returns undefined when the chip has no such port. */
export function findPin(model: AvrModel, name: string): { letter: string; bit: number } | undefined {
  const match = /^P([A-Z])([0-7])$/.exec(name)
  if (!match || !model.ports.some((p) => p.letter === match[1])) return undefined
  return { letter: match[1]!, bit: Number(match[2]) }
}
