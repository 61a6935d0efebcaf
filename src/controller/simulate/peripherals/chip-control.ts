/** Odd registers of the whole chip: clock prescaler, PLL, USB. */

import { AVR_CHIPS } from '../../chips/avr-timers.data.js'
import type { AvrModel } from '../../chips/index.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'

const PLLCSR = 0x49
const CLKPR = 0x61
const CLKPCE = 0x80
const USBCON = 0xd8
const PRR0 = 0x64
const ASSR = 0xb6
/** Timer 2 is clocked by its own crystal. */
const AS2 = 0x20
/** What each bit of the power reduction registers stops (data sheets, PRR, PRR0, PRR1). */
const STOPPED_BY: readonly (readonly (readonly [bit: number, part: PowerPart])[])[] = [
  [
    [0, 'adc'],
    [1, 'USART0'],
    [2, 'spi'],
    [3, 'timer1'],
    [5, 'timer0'],
    [6, 'timer2'],
    [7, 'twi'],
  ],
  [
    [0, 'USART1'],
    [1, 'USART2'],
    [2, 'USART3'],
    [3, 'timer3'],
    [4, 'timer4'],
    [5, 'timer5'],
  ],
]
/** The external memory interface is on. */
const SRE = 0x80

export interface ChipControlActions {
  /** The system clock is divided from now on. */
  divide(divider: number, at: number): void
  pllChanged(at: number): void
  /** A peripheral's clock is switched on or off by the power reduction register. */
  power(part: PowerPart, on: boolean, at: number): void
}

/** What a power reduction register can switch off. */
export type PowerPart = `timer${number}` | `USART${number}` | 'adc' | 'spi' | 'twi'

export class ChipControl implements Peripheral {
  readonly #host: PeripheralHost
  readonly #to: ChipControlActions
  readonly #model: AvrModel
  #changeUntil = -1

  constructor(model: AvrModel, host: PeripheralHost, to: ChipControlActions) {
    this.#host = host
    this.#model = model
    this.#to = to
    host.hook(CLKPR, this, false)
    host.hook(PRR0, this, false)
    host.hook(PRR0 + 1, this, false)
    if (model.timers.some((t) => t.number === 2)) host.hook(ASSR, this, false)
    if (model.externalMemory) host.hook(model.externalMemory.control, this, false)
    if (!model.usb) return
    host.hook(PLLCSR, this, false)
    host.hook(USBCON, this, false)
  }

  reset(at: number): void {
    this.#to.divide(1, at)
    for (const list of STOPPED_BY) for (const [, part] of list) this.#to.power(part, true, at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, _mask: number, at: number): void {
    const { data } = this.#host
    if (address === CLKPR) {
      if ((value & CLKPCE) !== 0) {
        this.#changeUntil = at + 4
        return
      }
      if (at > this.#changeUntil) return
      data[CLKPR] = value & 15
      this.#to.divide(1 << Math.min(value & 15, 8), at)
    } else if (address === PLLCSR) {
      // The PLL is locked as soon as it is enabled; the chip takes up to 200 us.
      data[PLLCSR] = (value & 0x12) | ((value & 2) !== 0 ? 1 : 0)
      this.#to.pllChanged(at)
    } else if (address === PRR0 || address === PRR0 + 1) {
      data[address] = value
      this.#reducePower(address, value, at)
    } else if (address === ASSR) {
      data[ASSR] = value & 0x60
      if ((value & AS2) !== 0) this.#host.lacks(RUN_FINDINGS.find('own-crystal', {}), this.#timerPins(2))
    } else if (address === this.#model.externalMemory?.control) {
      data[address] = value
      const { ports } = this.#model.externalMemory
      const pins = [...ports].flatMap((port) => Array.from({ length: 8 }, (_, bit) => `P${port}${bit}`))
      if ((value & SRE) !== 0) {
        this.#host.lacks(RUN_FINDINGS.find('external-memory', { ports: [...ports].join(', ') }), pins)
      }
    } else {
      data[USBCON] = value
      if ((value & 0x80) !== 0) {
        this.#host.lacks(RUN_FINDINGS.find('usb', {}), 'none')
      }
    }
  }

  #timerPins(number: number): string[] {
    const timer = AVR_CHIPS[this.#model.id].timers.find((t) => t.number === number)
    return timer?.outputs.map((o) => o.pin) ?? []
  }

  /** Power reduction: what is off stops; what pins of a peripheral do that was stopped amid its work is not shown. */
  #reducePower(address: number, value: number, at: number): void {
    const { spi, twi, usarts, usb } = this.#model
    const first = address === PRR0
    for (const [bit, part] of STOPPED_BY[first ? 0 : 1]!) this.#to.power(part, (value & (1 << bit)) === 0, at)
    const serial = (n: number) => usarts.filter((u) => u.name === `USART${n}`).map((u) => u.txdPin)
    const others: [number, string[]][] = first
      ? [
          [1, serial(0)],
          [2, [spi.mosi, spi.sck]],
          [7, [twi.sda, twi.scl]],
        ]
      : [
          [0, serial(1)],
          [1, serial(2)],
          [2, serial(3)],
          [4, usb ? this.#timerPins(4) : []],
        ]
    const pins = others.flatMap(([bit, list]) => ((value & (1 << bit)) !== 0 ? list : []))
    if (pins.length === 0) return
    this.#host.lacks(
      RUN_FINDINGS.find('power-reduction', {
        register: first ? 'PRR0' : 'PRR1',
        value: `0x${value.toString(16).padStart(2, '0')}`,
      }),
      pins,
    )
  }

  event(): void {}
  acknowledge(): void {}
}
