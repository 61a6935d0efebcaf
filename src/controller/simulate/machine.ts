/**
 * The simulated controller: core, interrupts, peripherals and time. Between two events the core runs undisturbed;
 * events happen at their own cycle, whatever the instruction being executed. Same inputs, same cycles.
 */
import type { EdgeSink } from '../../signal/index.js'
import { InputError } from '../../units/index.js'
import { AVR_CHIPS } from '../chips/avr.data.js'
import type { AvrModel } from '../chips/avr-model.js'
import { AVR_MODELS } from '../chips/avr-models.data.js'
import { AvrCore, type IoBus } from './core.js'
import { isTwoWords } from './decode.js'
import type { Device, Host } from './device.js'
import { type FirmwareImage, flashEnd } from './image.js'
import { Interrupts } from './interrupts.js'
import { findPin, type PinListener, Port } from './ports.js'
import { EdgeRecorder } from './recorder.js'
import { SyncControl, Timer } from './timer-group.js'

export type SimulatedChip = keyof typeof AVR_MODELS

const MOST_NOTES = 40
/** I/O addresses of the registers that every one of the chips has at the same place. */
const MCUSR = 0x54
const SMCR = 0x53

export interface SimulationOptions {
  /** Supply and analog reference, V. Default 5. */
  supplyVolt?: number
  /** Skip waiting loops; the results are the same. Default true. */
  skipWaiting?: boolean
}

/** Time spent with interrupts off. */
export interface MaskedStats {
  longest: number
  longestAt: number
  /** Word address of the instruction that turned them off. */
  longestPc: number
}

export class SimulatedController implements Host, IoBus {
  readonly chip: SimulatedChip
  readonly model: AvrModel
  readonly clockHz: number
  readonly image: FirmwareImage
  readonly supplyVolt: number
  readonly core: AvrCore
  readonly interrupts: Interrupts
  readonly timers: Timer[]
  readonly notes: string[] = []
  readonly data: Uint8Array

  /** Cycles since power-up. */
  now = 0
  sleepingCycles = 0
  resets: { at: number; cause: string; pc: number }[] = []
  resetCount = 0
  breaks = 0
  selfProgramming = 0
  readonly masked: MaskedStats = { longest: 0, longestAt: 0, longestPc: 0 }

  readonly #readers: (Device | undefined)[] = []
  readonly #writers: (Device | undefined)[] = []
  readonly #hooked = new Uint8Array(0x200)
  readonly #devices: Device[] = []
  readonly #slotDevices: Device[] = []
  #slotTimes = new Float64Array(64).fill(Number.POSITIVE_INFINITY)
  #next = Number.POSITIVE_INFINITY
  #until = 0
  #sleeping = false
  #everEnabled = false
  #maskedSince = Number.NaN
  #maskedPc = 0
  readonly #ports = new Map<string, Port>()
  readonly #recorders: EdgeRecorder[] = []
  readonly #entryCycles: Uint8Array

  /** @throws InputError when the image does not fit the chip. */
  constructor(chip: SimulatedChip, clockHz: number, image: FirmwareImage, options: SimulationOptions = {}) {
    this.chip = chip
    this.model = AVR_MODELS[chip]
    this.clockHz = clockHz
    this.image = image
    this.supplyVolt = options.supplyVolt ?? 5
    const { model } = this
    if (flashEnd(image) > model.flashBytes) {
      throw new InputError(
        `a program up to address 0x${(flashEnd(image) - 1).toString(16)}; the program memory of the ${AVR_CHIPS[chip].name} ends at 0x${(model.flashBytes - 1).toString(16)}`,
        { file: image.name },
      )
    }
    const flash = new Uint8Array(model.flashBytes).fill(0xff)
    for (const { start, bytes } of image.flash) flash.set(bytes, start)
    this.core = new AvrCore(flash, model, this.#hooked, this)
    this.core.skipWaiting = options.skipWaiting ?? true
    this.data = this.core.data
    this.interrupts = new Interrupts(model.vectors.length)
    for (const port of model.ports) this.#ports.set(port.letter, this.#add(new Port(port, this)))
    const control = this.#add(new SyncControl(this))
    this.timers = model.timers.map((timer) => {
      const pins = AVR_CHIPS[chip].timers.find((t) => t.number === timer.number)?.outputs ?? []
      const outputs = timer.ocr.map((_, i) => {
        const pin = pins.find((p) => p.channel === 'ABC'[i])?.pin
        return pin === undefined ? undefined : this.port(pin).port.output(this.port(pin).bit)
      })
      const device = this.#add(new Timer(timer, this, control.prescaler(timer.prescaler), outputs))
      control.attach(device)
      if (timer.clockPin) this.listen(timer.clockPin, (level, at) => device.pinTick(level === 1, at))
      if (timer.icpPin) this.listen(timer.icpPin, (level, at) => device.capture(level === 1, at))
      return device
    })
    this.#entryCycles = this.#entries(flash)
    this.data[MCUSR] = 1
    this.core.reset()
    for (const device of this.#devices) device.reset(0)
  }

  /** Cycles from the interrupt's entry to the handler's first instruction: the push, and the vector's jump if any. */
  #entries(flash: Uint8Array): Uint8Array {
    const push = this.model.wide ? 5 : 4
    return Uint8Array.from(this.model.vectors, (_, i) => {
      const word = flash[4 * i]! | (flash[4 * i + 1]! << 8)
      if (isTwoWords(word) && (word & 0xfe0e) === 0x940c) return push + 3
      return word >> 12 === 12 ? push + 2 : push
    })
  }

  #add<T extends Device>(device: T): T {
    this.#devices.push(device)
    return device
  }

  // What peripherals ask

  hook(address: number, device: Device, reads: boolean): void {
    this.#writers[address] = device
    if (!reads) return
    this.#readers[address] = device
    this.#hooked[address] = 1
  }

  slot(device: Device): number {
    return this.#slotDevices.push(device) - 1
  }

  schedule(slot: number, at: number): void {
    const times = this.#slotTimes
    if (times[slot] === at) return
    times[slot] = at
    let next = Number.POSITIVE_INFINITY
    for (let i = 0; i < this.#slotDevices.length; i++) if (times[i]! < next) next = times[i]!
    this.#next = next
    this.#setLimit()
  }

  own(vector: number, device: Device): void {
    this.interrupts.own(vector, device)
  }

  request(vector: number, on: boolean, at: number): void {
    this.interrupts.request(vector, on, at)
    this.core.interruptWaits = this.interrupts.waits
    this.#setLimit()
  }

  overrun(vector: number, at: number): void {
    this.interrupts.overrun(vector, at)
  }

  touch(): void {
    this.core.touch()
  }

  note(text: string): void {
    if (this.notes.length < MOST_NOTES && !this.notes.includes(text)) this.notes.push(text)
  }

  stall(cycles: number): void {
    this.core.stall += cycles
  }

  #setLimit(): void {
    const { core } = this
    core.limit = core.interruptWaits
      ? 0
      : Math.min(this.#next - core.base, this.#until - core.base, 0x3fffffff)
  }

  // What the core asks

  read(address: number, atCycle: number): number {
    if (this.#next <= atCycle) this.#runEvents(atCycle)
    const device = this.#readers[address]
    return device === undefined ? this.data[address]! : device.read(address, atCycle)
  }

  write(address: number, value: number, mask: number, atCycle: number): void {
    if (this.#next <= atCycle) this.#runEvents(atCycle)
    const device = this.#writers[address]
    if (device === undefined) this.data[address] = value
    else device.write(address, value, mask, atCycle)
  }

  special(what: 'sleep' | 'wdr' | 'spm' | 'break', _atCycle: number): void {
    if (what === 'sleep') {
      if ((this.data[SMCR]! & 1) === 0) return
      this.#sleeping = true
      if ((this.data[SMCR]! & 0x0e) !== 0) {
        this.note('a sleep mode deeper than idle is simulated as idle: timers and serial ports keep running')
      }
      this.core.limit = 0
    } else if (what === 'break') this.breaks++
    else if (what === 'spm') {
      this.selfProgramming++
      this.note('the firmware writes to its own program memory (SPM); that is ignored')
    }
  }

  interruptsTurned(on: boolean, pc: number, atCycle: number): void {
    if (!on) {
      this.#maskedSince = atCycle
      this.#maskedPc = pc
      return
    }
    const length = atCycle - this.#maskedSince
    // What runs before the first SEI is set-up, not a time in which interrupts wait.
    if (this.#everEnabled && length > this.masked.longest) {
      this.masked.longest = length
      this.masked.longestAt = this.#maskedSince
      this.masked.longestPc = this.#maskedPc
    }
    this.#everEnabled = true
  }

  returned(atCycle: number): void {
    this.interrupts.leave(atCycle)
  }

  // Pins

  /** @throws InputError for a pin the chip does not have. */
  port(pin: string): { port: Port; bit: number } {
    const found = findPin(this.model, pin)
    const port = found === undefined ? undefined : this.#ports.get(found.letter)
    if (found === undefined || port === undefined) {
      throw new InputError(
        `no pin ${pin} on the ${AVR_CHIPS[this.chip].name}; expected a port pin such as PB1`,
      )
    }
    return { port, bit: found.bit }
  }

  listen(pin: string, listener: PinListener): void {
    const { port, bit } = this.port(pin)
    port.listen(bit, listener)
  }

  /**
   * Send the edges of a pin to a sink; ticks are CPU cycles. With `inverted`, the level is HIGH or LOW as `pin` while
   * the two differ, and OFF while they are equal, as at the two rails.
   */
  record(sink: EdgeSink, pin: string, inverted?: string): EdgeRecorder {
    const a = this.port(pin)
    const b = inverted === undefined ? undefined : this.port(inverted)
    const recorder = new EdgeRecorder(
      sink,
      b !== undefined,
      a.port.level(a.bit),
      b?.port.level(b.bit) ?? 0,
      this.now,
    )
    a.port.listen(a.bit, (level, at) => {
      recorder.setPin(level, at)
      const running = this.interrupts.running()
      if (running !== undefined) recorder.byVector.set(running, (recorder.byVector.get(running) ?? 0) + 1)
    })
    b?.port.listen(b.bit, (level, at) => recorder.setInverse(level, at))
    this.#recorders.push(recorder)
    return recorder
  }

  /** Timer channels that can drive a pin by themselves. */
  timerChannels(pin: string): { timer: Timer; channel: number }[] {
    const outputs = AVR_CHIPS[this.chip].timers
    return this.timers.flatMap((timer) => {
      const found = outputs.find((t) => t.number === timer.model.number)?.outputs.find((o) => o.pin === pin)
      const channel = found === undefined ? -1 : 'ABC'.indexOf(found.channel)
      return channel >= 0 ? [{ timer, channel }] : []
    })
  }

  // Time

  /** Run until at least this cycle since power-up: to the next instruction boundary. */
  runTo(cycle: number): void {
    const { core } = this
    this.#until = cycle
    while (this.now < cycle) {
      if (this.#next <= this.now) this.#runEvents(this.now)
      if (core.interruptWaits && (core.sreg & 0x80) !== 0 && !core.delayed) {
        this.#enter()
        continue
      }
      if (this.#sleeping) {
        const wake = Math.min(this.#next, cycle)
        this.sleepingCycles += wake - this.now
        this.now = wake
        continue
      }
      core.base = this.now
      core.c = 0
      core.limit = core.delayed ? 1 : Math.min(this.#next - this.now, cycle - this.now, 0x3fffffff)
      core.delayed = false
      core.execute()
      this.now = core.base + core.c
    }
    for (const recorder of this.#recorders) recorder.settle(cycle)
  }

  #enter(): void {
    const { core } = this
    if (this.#sleeping) {
      // The data sheets add four cycles to the response when the interrupt ends a sleep.
      this.#sleeping = false
      this.now += 4
    }
    const vector = this.interrupts.lowest()
    core.base = this.now
    core.c = 0
    const pc = core.pc
    const cycles = core.enterInterrupt(2 * vector)
    this.interruptsTurned(false, pc, this.now)
    this.#maskedPc = 2 * vector
    this.interrupts.enter(vector, this.now, this.now + this.#entryCycles[vector]!)
    core.interruptWaits = this.interrupts.waits
    this.now += cycles
  }

  #runEvents(at: number): void {
    while (this.#next <= at) {
      const times = this.#slotTimes
      let slot = 0
      for (let i = 1; i < this.#slotDevices.length; i++) if (times[i]! < times[slot]!) slot = i
      const due = times[slot]!
      times[slot] = Number.POSITIVE_INFINITY
      this.core.serial++
      this.#slotDevices[slot]!.event(due)
      let next = Number.POSITIVE_INFINITY
      for (let i = 0; i < this.#slotDevices.length; i++) if (times[i]! < next) next = times[i]!
      this.#next = next
    }
    this.#setLimit()
  }

  /** Everything as after power-up but RAM, time and what was counted. */
  resetChip(cause: string, statusBit: number, at: number): void {
    this.resetCount++
    if (this.resets.length < 100) this.resets.push({ at, cause, pc: this.core.pc })
    this.interrupts.reset()
    this.core.interruptWaits = false
    this.core.reset()
    this.#sleeping = false
    this.#everEnabled = false
    this.data.fill(0, 32, this.model.ramStart)
    for (const device of this.#devices) device.reset(at)
    this.data[MCUSR] = this.data[MCUSR]! | statusBit
  }
}
