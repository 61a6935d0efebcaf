/** GTCCR: the timers' common prescalers, their reset and the mode that halts them together. */

import type { AvrModel } from '../../chips/avr-registers.js'
import { AVR_CHIPS } from '../../chips/avr-timers.data.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'
import type { PinListener, Port } from './ports.js'
import { type Prescaler, Timer } from './timer.js'

/** The chip's 8- and 16-bit timers, connected to their pins and their common prescalers. */
export function makeTimers(
  model: AvrModel,
  host: PeripheralHost,
  port: (pin: string) => { port: Port; bit: number },
  captureElsewhere: (timer: number) => boolean,
): { control: SyncControl; timers: Timer[] } {
  const control = new SyncControl(host)
  const timers = model.timers.map((timer) => {
    const pins = AVR_CHIPS[model.id].timers.find((t) => t.number === timer.number)?.outputs ?? []
    const outputs = timer.ocr.map((_, i) => {
      const pin = pins.find((p) => p.channel === 'ABC'[i])?.pin
      if (pin === undefined) return undefined
      const at = port(pin)
      return at.port.output(at.bit)
    })
    const device = new Timer(timer, host, control.prescaler(timer.prescaler), outputs)
    control.attach(device)
    const listen = (pin: string | undefined, listener: PinListener) => {
      if (pin === undefined) return
      const at = port(pin)
      at.port.listen(at.bit, listener)
    }
    listen(timer.clockPin, (level, at) => device.pinTick(level === 1, at))
    listen(timer.icpPin, (level, at) => {
      if (!captureElsewhere(timer.number)) device.capture(level === 1, at)
    })
    return device
  })
  return { control, timers }
}

const GTCCR = 0x43
const TSM = 0x80
const PSRASY = 2
const PSRSYNC = 1

export class SyncControl implements Peripheral {
  readonly #host: PeripheralHost
  readonly #sync: Prescaler = { origin: 0, held: false }
  readonly #async: Prescaler = { origin: 0, held: false }
  readonly #timers: Timer[] = []

  constructor(host: PeripheralHost) {
    this.#host = host
    host.hook(GTCCR, this, false)
  }

  prescaler(kind: 'sync' | 'async'): Prescaler {
    return kind === 'sync' ? this.#sync : this.#async
  }

  attach(timer: Timer): void {
    this.#timers.push(timer)
  }

  reset(at: number): void {
    this.#set(0, at)
  }

  read(address: number): number {
    return this.#host.data[address]!
  }

  write(address: number, value: number, _mask: number, at: number): void {
    // Without TSM the reset bits clear themselves.
    this.#host.data[address] = (value & TSM) !== 0 ? value : 0
    this.#set(value, at)
  }

  #set(value: number, at: number): void {
    for (const timer of this.#timers) timer.sync(at)
    for (const [prescaler, bit] of [
      [this.#sync, PSRSYNC],
      [this.#async, PSRASY],
    ] as const) {
      const was = prescaler.held
      prescaler.held = (value & TSM) !== 0 && (value & bit) !== 0
      if ((value & bit) !== 0 || was) prescaler.origin = at
    }
    for (const timer of this.#timers) timer.prescalerChanged(at)
  }

  event(): void {}
  acknowledge(): void {}
}
