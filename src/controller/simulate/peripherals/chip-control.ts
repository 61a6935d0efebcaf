/** Odd registers of the whole chip: clock prescaler, PLL, USB. */
import type { Peripheral, PeripheralHost } from './peripheral.js'

const PLLCSR = 0x49
const CLKPR = 0x61
const CLKPCE = 0x80
const USBCON = 0xd8

export interface ChipControlActions {
  /** The chip has USB and a PLL. */
  usb: boolean
  /** The system clock is divided from now on. */
  divide(divider: number, at: number): void
  pllChanged(at: number): void
}

export class ChipControl implements Peripheral {
  readonly #host: PeripheralHost
  readonly #to: ChipControlActions
  #changeUntil = -1

  constructor(host: PeripheralHost, to: ChipControlActions) {
    this.#host = host
    this.#to = to
    host.hook(CLKPR, this, false)
    if (!to.usb) return
    host.hook(PLLCSR, this, false)
    host.hook(USBCON, this, false)
  }

  reset(at: number): void {
    this.#to.divide(1, at)
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
    } else {
      data[USBCON] = value
      if ((value & 0x80) !== 0) {
        this.#host.note('USB is not simulated: the firmware sees a port to which nothing is plugged')
      }
    }
  }

  event(): void {}
  acknowledge(): void {}
}
