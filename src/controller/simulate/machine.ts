/**
 * The simulated controller: core, interrupts, peripherals and time. Between two events the core runs undisturbed;
 * events happen at their own cycle, whatever the instruction being executed. Same inputs, same cycles.
 */

import type { Finding } from '../../finding/index.js'
import type { EdgeSink } from '../../signal/index.js'
import { InputError } from '../../units/index.js'
import { AVR_MODELS, type SimulatedChip } from '../chips/avr-registers.data.js'
import type { AvrModel } from '../chips/avr-registers.js'
import { AVR_CHIPS } from '../chips/avr-timers.data.js'
import type { SerialByte } from '../commands/index.js'
import { AvrCore, type IoBus } from './core/core.js'
import { isTwoWords } from './core/decode.js'
import { USUAL_PACE } from './core/translate/translation.js'
import { RUN_FINDINGS } from './findings.data.js'
import { HandlerWatch } from './health/handlers.js'
import { Lateness } from './health/lateness.js'
import { SharedDataWatch } from './health/shared-data.js'
import { type FirmwareImage, flashEnd } from './image/image.js'
import { Interrupts } from './interrupts.js'
import { Adc } from './peripherals/adc.js'
import { ChipControl, type PowerPart } from './peripherals/chip-control.js'
import { Comparator } from './peripherals/comparator.js'
import { Eeprom } from './peripherals/eeprom.js'
import type { Peripheral, PeripheralHost } from './peripherals/peripheral.js'
import { PinInterrupts } from './peripherals/pin-interrupts.js'
import { findPin, type PinListener, Port } from './peripherals/ports.js'
import { Spi } from './peripherals/spi.js'
import type { ReloadStats, Timer } from './peripherals/timer.js'
import { makeTimers } from './peripherals/timer-group.js'
import { Timer4 } from './peripherals/timer4.js'
import { Twi } from './peripherals/twi.js'
import { Usart } from './peripherals/usart.js'
import { Watchdog } from './peripherals/watchdog.js'
import { EdgeRecorder } from './recorder.js'
import { type Stage, StimulusPlayer } from './stimulus/player.js'
import type { ResetCause, Stimulus } from './stimulus/stimulus.js'

const MOST_NOTES = 40
/** Voltage that something outside puts on an analog input. */
export interface VoltChange {
  channel: number
  volt: number
  timeUs: number
}

const MOST_VOLT_CHANGES = 1 << 20
/** Bytes from outside that are kept; a day of typing is far less. */
const MOST_SERIAL_BYTES = 1 << 20
/** I/O addresses of the registers that every one of the chips has at the same place. */
const MCUSR = 0x54
const SMCR = 0x53
/** A jump to itself, which a loop without end comes down to (RJMP, AVR instruction set manual DS40002198). */
const LOOP_CYCLES = 2
const MOST_RESTARTS = 100

/** Why the program began again: a reset of the chip, or a way of its own back to address 0. */
export type RestartCause = ResetCause | 'watchdog' | 'no-handler' | 'jump'

/** Flag of each reset in MCUSR. */
const RESET_FLAGS: Readonly<Record<ResetCause | 'watchdog', number>> = {
  power: 1,
  external: 2,
  'brown-out': 4,
  watchdog: 8,
}

export interface Restart {
  at: number
  cause: RestartCause
  /** The stimulus asked for it. */
  asked: boolean
  /** Word address of the program's place before it; −1 where it is not known. */
  pc: number
  /** The interrupt that has no handler. */
  vector?: number
}

/** What a run met that is not simulated. */
export interface NotModelled {
  finding: Finding
  /** What the missing part can drive or steer: these pins, every output (`all`), or none of them. */
  affects: readonly string[] | 'all' | 'none'
}

export interface SimulationOptions {
  /** Supply and analog reference, V. Default 5. */
  supplyVolt?: number
  /** Skip waiting loops; the results are the same. Default true. */
  skipWaiting?: boolean
  /** Translate what runs often instead of interpreting every instruction; the results are the same. Default: the image's. */
  translate?: boolean
  /** What happens outside the controller. */
  stimulus?: Stimulus | undefined
  /** Rate at which the other end of a serial port sends, baud; where it is not known, that of the port. */
  line?: { port: number; baud: number } | undefined
}

/** Time spent with interrupts off. */
export interface MaskedStats {
  longest: number
  longestAt: number
  /** Word address of the instruction that turned them off. */
  longestPc: number
  /** The interrupt whose entry turned them off; −1: an instruction did. */
  longestVector: number
}

/** A timer channel that drives a pin. */
export interface HardwareOutput {
  /** `Timer 1 A`. */
  name: string
  vectors: number[]
  reloads: ReloadStats[]
}

/** Family of the AVRs with a 22-bit program counter, in the flags of an ELF file (binutils, elf/avr.h). */
const LONG_COUNTER_FAMILY = 6

export class SimulatedController implements PeripheralHost, IoBus, Stage {
  #onVolt: ((channel: number, volt: number, timeUs: number) => void) | undefined
  readonly chip: SimulatedChip
  readonly model: AvrModel
  readonly clockHz: number
  readonly image: FirmwareImage
  readonly supplyVolt: number
  readonly core: AvrCore
  readonly interrupts: Interrupts
  readonly timers: Timer[]
  readonly timer4: Timer4 | undefined
  readonly usarts: Usart[]
  readonly adc: Adc
  readonly eeprom: Eeprom
  readonly notes: Finding[] = []
  readonly notModelled: NotModelled[] = []
  readonly data: Uint8Array

  /** Cycles since power-up. */
  now = 0
  sleepingCycles = 0
  readonly restarts: Restart[] = []
  /** All of them, and those that the stimulus asked for; `restarts` keeps the first ones. */
  restartCount = 0
  askedRestarts = 0
  readonly restartsByCause = new Map<RestartCause, number>()
  /** Where the stack was deepest: seen at the next event. */
  deepestAt = 0
  deepestPc = 0
  readonly handlers: HandlerWatch
  readonly sharedData: SharedDataWatch
  readonly lateness = new Lateness()
  readonly #us = (cycle: number) => this.usAtCycle(cycle)
  breaks = 0
  selfProgramming = 0
  readonly masked: MaskedStats = { longest: 0, longestAt: 0, longestPc: 0, longestVector: -1 }

  readonly #readers: (Peripheral | undefined)[] = []
  readonly #writers: (Peripheral | undefined)[] = []
  readonly #hooked = new Uint8Array(0x200)
  readonly #devices: Peripheral[] = []
  readonly #slotDevices: Peripheral[] = []
  /** Those whose clock the power reduction register stops. */
  readonly #stopped = new Set<Peripheral>()
  #slotTimes = new Float64Array(64).fill(Number.POSITIVE_INFINITY)
  #next = Number.POSITIVE_INFINITY
  #nextSlot = 0
  #inEvent = false
  #until = 0
  #sleeping = false
  /** The program stands still until this cycle. */
  #heldUntil = 0
  /** Until then the main program does not run; handlers do. */
  #mainHeldUntil = 0
  #everEnabled = false
  #maskedSince = Number.NaN
  #maskedPc = 0
  #maskedVector = -1
  #interruptedPc = 0
  readonly #ports = new Map<string, Port>()
  readonly #recorders: EdgeRecorder[] = []
  readonly #entryCycles: Uint8Array
  readonly #watchdog: Watchdog
  readonly #spi: Spi
  readonly #twi: Twi
  readonly #comparator: Comparator
  /** Voltages given from outside at pins of the comparator. */
  readonly #pinVolts = new Map<string, number>()
  #triggerVector: number | undefined
  readonly #player: StimulusPlayer | undefined
  #resetCause: { cause: ResetCause | 'watchdog'; asked: boolean } | undefined
  #deepestSp = 0xffff
  /** The next arrival at address 0 is that of a reset. */
  #resetting = true
  /** System clock divider (CLKPR), and where the oscillator and the cycles stood when it was last set. */
  #divider = 1
  #oscillatorOrigin = 0
  #cycleOrigin = 0
  #untilOscillator = 0

  /** @throws InputError when the image does not fit the chip, or was compiled for another family. */
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
    // A program with three-byte return addresses runs astray on a chip with two, and the other way round.
    const { family } = image
    if (
      family !== undefined &&
      (model.longProgramCounter
        ? family !== LONG_COUNTER_FAMILY
        : family >= 51 || family === LONG_COUNTER_FAMILY)
    ) {
      throw new InputError(
        `a program compiled for family avr${family}; the ${AVR_CHIPS[chip].name} runs avr${model.longProgramCounter ? LONG_COUNTER_FAMILY : 5}`,
        { file: image.name },
      )
    }
    const flash = new Uint8Array(model.flashBytes).fill(0xff)
    for (const { start, bytes } of image.flash) flash.set(bytes, start)
    this.core = new AvrCore(
      flash,
      model,
      this.#hooked,
      this,
      (options.translate ?? image.translated) ? USUAL_PACE : undefined,
    )
    this.core.skipWaiting = options.skipWaiting ?? true
    this.data = this.core.data
    this.handlers = new HandlerWatch(flash, model)
    this.sharedData = new SharedDataWatch(this.core, model, flash, image)
    // Code that begins with a jump has vectors; a loop that begins at address 0 would not.
    const first = flash[0]! | (flash[1]! << 8)
    if (first !== 0xcfff && (first >> 12 === 12 || (first & 0xfe0e) === 0x940c)) this.core.watch(0)
    this.interrupts = new Interrupts(model.vectors.length)
    for (const port of model.ports) this.#ports.set(port.letter, this.#add(new Port(port, this)))
    const { control, timers } = makeTimers(
      model,
      this,
      (pin) => this.port(pin),
      // The comparator captures for Timer 1 only.
      (timer) => timer === 1 && this.#comparator.capturesTimer1,
    )
    this.#add(control)
    for (const timer of timers) this.#add(timer)
    this.timers = timers
    this.timer4 = this.#makeTimer4()
    const output = (pin: string) => {
      const { port, bit } = this.port(pin)
      return port.output(bit)
    }
    this.usarts = model.usarts.map((usart) =>
      this.#add(
        new Usart(usart, this, {
          data: output(usart.txdPin),
          clock: output(usart.xckPin),
          clockIsOutput: () => this.isOutput(usart.xckPin),
        }),
      ),
    )
    this.adc = this.#add(new Adc(model.adc, this.supplyVolt, this, (at) => this.#comparator?.update(at)))
    this.#comparator = this.#add(
      new Comparator(model, this, {
        voltAt: (pin) => this.#pinVolts.get(pin) ?? this.levelOf(pin) * this.supplyVolt,
        voltOfMux: (mux, at) => {
          const channel = model.adc.channelOf(mux)
          return channel === undefined ? undefined : this.adc.voltAt(channel, at)
        },
        muxIsLive: () => this.adc.source !== undefined,
        capture: (rising, at) => this.timers.find((t) => t.model.number === 1)?.capture(rising, at),
      }),
    )
    const { positive, negative } = model.comparator
    for (const pin of negative === undefined ? [positive] : [positive, negative]) {
      this.listen(pin, (_level, at) => this.#comparator.update(at))
    }
    this.#add(new PinInterrupts(model, this, this))
    this.eeprom = this.#add(new Eeprom(model.eepromBytes, model.eeprom.vector, this))
    for (const { start, bytes } of image.eeprom) {
      this.eeprom.bytes.set(
        bytes.subarray(0, Math.max(0, model.eepromBytes - start)),
        Math.min(start, model.eepromBytes),
      )
    }
    this.#spi = this.#add(
      new Spi(model.spi, this, { mosi: output(model.spi.mosi), sck: output(model.spi.sck) }),
    )
    this.#twi = this.#add(new Twi(model.twi, this))
    this.#watchdog = this.#add(
      new Watchdog(model.watchdog.vector, this, () => this.askReset('watchdog', false)),
    )
    this.#add(
      new ChipControl(model, this, {
        divide: (divider, at) => this.#divide(divider, at),
        power: (part, on, at) => this.#power(part, on, at),
        pllChanged: (at) => this.timer4?.clockChanged(at),
      }),
    )
    const line = options.line && this.serial(options.line.port)
    if (line) line.lineBaud = options.line?.baud
    this.#player = options.stimulus && this.#add(new StimulusPlayer(options.stimulus, this, this))
    this.#entryCycles = this.#entries(flash)
    this.#forget()
    this.data[MCUSR] = 1
    this.core.reset()
    for (const device of this.#devices) device.reset(0)
  }

  /**
   * Power-up leaves anything at all in working registers and RAM (data sheets): here the same noise each time, so that a
   * program which takes them for zero is found out.
   */
  #forget(): void {
    const { data, model } = this
    let state = 0x2545f491
    const noise = (from: number, to: number) => {
      // Marsaglia's xorshift32.
      for (let i = from; i < to; i++) {
        state ^= state << 13
        state ^= state >>> 17
        state ^= state << 5
        data[i] = state >>> 24
      }
    }
    noise(0, 32)
    noise(model.ramStart, model.ramStart + model.ramBytes)
  }

  #makeTimer4(): Timer4 | undefined {
    const { timer4 } = this.model
    if (timer4 === undefined) return undefined
    const outputs = AVR_CHIPS[this.chip].timers.find((t) => t.number === 4)?.outputs ?? []
    const output = (channel: string) => {
      const pin = outputs.find((o) => o.channel === channel)?.pin
      if (pin === undefined) return undefined
      const { port, bit } = this.port(pin)
      return port.output(bit)
    }
    const pins = ['A', 'B', 'D'].map((c) => ({ straight: output(c), inverse: output(`/${c}`) }))
    return this.#add(
      new Timer4(
        timer4,
        this,
        pins,
        outputs.map((o) => o.pin),
      ),
    )
  }

  /** Cycles from the interrupt's entry to the handler's first instruction: the push, and the vector's jump if any. */
  #entries(flash: Uint8Array): Uint8Array {
    const push = this.model.longProgramCounter ? 5 : 4
    return Uint8Array.from(this.model.vectors, (_, i) => {
      const word = flash[4 * i]! | (flash[4 * i + 1]! << 8)
      if (isTwoWords(word) && (word & 0xfe0e) === 0x940c) return push + 3
      return word >> 12 === 12 ? push + 2 : push
    })
  }

  #add<T extends Peripheral>(device: T): T {
    this.#devices.push(device)
    return device
  }

  // What peripherals ask

  hook(address: number, device: Peripheral, reads: boolean): void {
    this.#writers[address] = device
    if (!reads) return
    this.#readers[address] = device
    this.#hooked[address] = 1
  }

  slot(device: Peripheral): number {
    return this.#slotDevices.push(device) - 1
  }

  /** The power reduction register: what is off stands still, and its registers neither take nor give anything new. */
  #power(part: PowerPart, on: boolean, at: number): void {
    const number = Number(/^timer(\d)$/.exec(part)?.[1] ?? Number.NaN)
    // The counter of a stopped timer has no clock; whether its registers can be written then does not matter here.
    this.timers.find((t) => t.model.number === number)?.power(on, at)
    const others: Record<string, Peripheral> = { adc: this.adc, spi: this.#spi, twi: this.#twi }
    const device: Peripheral | undefined = others[part] ?? this.#usart(part)
    if (device === undefined || this.#stopped.has(device) === !on) return
    if (on) this.#stopped.delete(device)
    else this.#stopped.add(device)
    device.power?.(on, at)
  }

  schedule(slot: number, at: number): void {
    const times = this.#slotTimes
    if (times[slot] === at) return
    times[slot] = at
    // While events happen the next one is looked for once, behind each of them.
    if (this.#inEvent) return
    if (at < this.#next || (at === this.#next && slot < this.#nextSlot)) {
      this.#next = at
      this.#nextSlot = slot
    } else if (slot === this.#nextSlot) this.#findNext()
    this.#setLimit()
  }

  /** The earliest event; of several at the same cycle that of the first device. */
  #findNext(): void {
    const times = this.#slotTimes
    const count = this.#slotDevices.length
    let slot = 0
    let next = times[0]!
    for (let i = 1; i < count; i++) {
      const at = times[i]!
      if (at < next) {
        next = at
        slot = i
      }
    }
    this.#next = next
    this.#nextSlot = slot
  }

  own(vector: number, device: Peripheral): void {
    this.interrupts.own(vector, device)
  }

  request(vector: number, on: boolean, at: number): void {
    this.interrupts.request(vector, on, at)
    this.core.interruptWaits = this.interrupts.waits
    this.#setLimit()
  }

  handler(): { vector: number; requestedAt: number } | undefined {
    return this.interrupts.handler()
  }

  overrun(vector: number, at: number): void {
    // Before they are first turned on, interrupts wait for the set-up to end.
    if (this.#everEnabled) this.interrupts.overrun(vector, at)
  }

  raised(vector: number, at: number): void {
    if (vector === this.#triggerVector) this.adc.triggered(at)
  }

  wantFlag(vector: number | undefined, at: number): void {
    if (this.#triggerVector !== undefined)
      this.interrupts.ownerOf(this.#triggerVector)?.wantFlag?.(undefined, at)
    this.#triggerVector = vector
    if (vector !== undefined) this.interrupts.ownerOf(vector)?.wantFlag?.(vector, at)
  }

  touch(): void {
    this.core.touch()
  }

  note(finding: Finding): void {
    const known = this.notes.some((n) => n.sentence === finding.sentence)
    if (!known && this.notes.length < MOST_NOTES) this.notes.push(finding)
  }

  lacks(finding: Finding, affects: NotModelled['affects']): void {
    const known = this.notModelled.some((n) => n.finding.sentence === finding.sentence)
    if (!known && this.notModelled.length < MOST_NOTES) this.notModelled.push({ finding, affects })
  }

  /** What is not simulated, was used, and can move or falsify one of these pins. */
  unmodelledAt(pins: readonly string[]): Finding | undefined {
    return this.notModelled.find(
      ({ affects }) => affects === 'all' || (affects !== 'none' && pins.some((pin) => affects.includes(pin))),
    )?.finding
  }

  stall(cycles: number): void {
    this.core.stall += cycles
  }

  #setLimit(): void {
    const { core } = this
    // A handler that is followed is inspected before each instruction, also behind its accesses to peripherals.
    core.limit =
      core.interruptWaits || this.sharedData.following
        ? 0
        : Math.min(this.#next - core.base, this.#until - core.base, 0x3fffffff)
  }

  // What the core asks

  read(address: number, atCycle: number): number {
    if (this.#next <= atCycle) this.#runEvents(atCycle)
    const device = this.#readers[address]
    return device === undefined || this.#stopped.has(device)
      ? this.data[address]!
      : device.read(address, atCycle)
  }

  write(address: number, value: number, mask: number, atCycle: number): void {
    if (this.#next <= atCycle) this.#runEvents(atCycle)
    const device = this.#writers[address]
    if (device === undefined) this.data[address] = value
    else if (this.#stopped.has(device)) this.note(RUN_FINDINGS.find('stopped-peripheral', {}))
    else device.write(address, value, mask, atCycle)
    if (this.handlers.concerns[address] === 1) {
      this.handlers.wrote((this.core.sreg & 0x80) !== 0, this.data, atCycle, this.core.pc - 1)
    }
  }

  special(what: 'sleep' | 'wdr' | 'spm' | 'break', atCycle: number): void {
    if (what === 'sleep') {
      if ((this.data[SMCR]! & 1) === 0) return
      this.#sleeping = true
      if ((this.data[SMCR]! & 0x0e) !== 0) {
        this.lacks(RUN_FINDINGS.find('deep-sleep', {}), 'all')
      }
      this.core.limit = 0
    } else if (what === 'wdr') this.#watchdog.kick(atCycle)
    else if (what === 'break') this.breaks++
    else if (what === 'spm') {
      this.selfProgramming++
      this.lacks(RUN_FINDINGS.find('self-programming', {}), 'none')
    }
  }

  interruptsTurned(on: boolean, pc: number, atCycle: number): void {
    if (!on) {
      this.#maskedSince = atCycle
      this.#maskedPc = pc
      this.#maskedVector = -1
      return
    }
    const length = atCycle - this.#maskedSince
    if (this.#everEnabled)
      this.lateness.masked(this.#maskedSince, atCycle, this.#maskedVector, this.#maskedPc)
    // What runs before the first SEI is set-up, not a time in which interrupts wait.
    if (this.#everEnabled && length > this.masked.longest) {
      this.masked.longest = length
      this.masked.longestAt = this.#maskedSince
      this.masked.longestPc = this.#maskedPc
      this.masked.longestVector = this.#maskedVector
    }
    this.#everEnabled = true
    this.handlers.look(this.data, atCycle, pc)
  }

  reached(pc: number, atCycle: number): void {
    if (pc !== 0) {
      this.sharedData.reached(pc, this.interrupts.running() !== undefined, this.#everEnabled)
      return
    }
    const from = this.core.cameFrom
    this.core.cameFrom = -1
    if (this.#resetting) {
      this.#resetting = false
      return
    }
    const running = this.interrupts.running()
    const unserved = running !== undefined && this.handlers.kinds[running] === 'none' ? running : undefined
    this.#restarted({
      at: atCycle,
      cause: unserved === undefined ? 'jump' : 'no-handler',
      asked: false,
      pc: unserved === undefined ? from : this.#interruptedPc,
      ...(unserved === undefined ? {} : { vector: unserved }),
    })
    this.interrupts.abandon()
    this.sharedData.abandon()
    this.#everEnabled = (this.core.sreg & 0x80) !== 0
  }

  #restarted(restart: Restart): void {
    this.restartCount++
    if (restart.asked) this.askedRestarts++
    else this.restartsByCause.set(restart.cause, (this.restartsByCause.get(restart.cause) ?? 0) + 1)
    if (this.restarts.length < MOST_RESTARTS) this.restarts.push(restart)
  }

  returned(atCycle: number): void {
    const outermost = this.interrupts.leave(atCycle)
    if (outermost !== undefined) this.lateness.ran(outermost.vector, outermost.since, atCycle, this.#us)
    if (this.sharedData.following) this.sharedData.left(this.interrupts.depth)
    if (atCycle < this.#mainHeldUntil && this.interrupts.depth === 0) this.core.limit = 0
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

  /** Whether interrupts were ever switched on. */
  get hadInterruptsOn(): boolean {
    return this.#everEnabled
  }

  /** Pins whose level the program or a peripheral changed, by name. */
  movedPins(): string[] {
    return [...this.#ports].flatMap(([letter, { moved }]) =>
      [0, 1, 2, 3, 4, 5, 6, 7].filter((bit) => (moved >> bit) & 1).map((bit) => `P${letter}${bit}`),
    )
  }

  levelOf(pin: string): 0 | 1 {
    const { port, bit } = this.port(pin)
    return port.level(bit)
  }

  isOutput(pin: string): boolean {
    const { port, bit } = this.port(pin)
    return port.isOutput(bit)
  }

  listen(pin: string, listener: PinListener): void {
    const { port, bit } = this.port(pin)
    port.listen(bit, listener)
  }

  /**
   * Send the edges of a pin to a sink; ticks are oscillator cycles (CPU cycles, unless the firmware divides them). With `inverted`, the level is HIGH or LOW as `pin` while
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
      this.oscillatorAt(this.now),
    )
    a.port.listen(a.bit, (level, at) => {
      recorder.setPin(level, this.oscillatorAt(at))
      const running = this.interrupts.running()
      if (running !== undefined) recorder.byVector.set(running, (recorder.byVector.get(running) ?? 0) + 1)
    })
    b?.port.listen(b.bit, (level, at) => recorder.setInverse(level, this.oscillatorAt(at)))
    this.#recorders.push(recorder)
    return recorder
  }

  /** What can drive a pin by itself and has done so. */
  hardwareOf(pin: string): HardwareOutput | undefined {
    for (const info of AVR_CHIPS[this.chip].timers) {
      for (const { channel } of info.outputs.filter((o) => o.pin === pin)) {
        const name = `${info.name} ${channel}`
        const timer = this.timers.find((t) => t.model.number === info.number)
        const index = 'ABC'.indexOf(channel)
        if (timer?.drove[index]) {
          const { compare, overflow, capture } = timer.model.vectors
          const vectors = [...compare, overflow, ...(capture === undefined ? [] : [capture])]
          return { name, vectors, reloads: timer.reloads }
        }
        const { timer4 } = this.model
        if (info.number === 4 && timer4 && this.timer4?.drove['ABD'.indexOf(channel.replace('/', ''))]) {
          const { A, B, D, overflow } = timer4.vectors
          return { name, vectors: [A, B, D, overflow], reloads: this.timer4.reloads }
        }
      }
    }
    const { spi } = this.model
    if ((pin === spi.mosi || pin === spi.sck) && this.#spi.sent > 0) {
      return { name: 'SPI', vectors: [spi.vector], reloads: [] }
    }
    const usart = this.usarts.find(({ model }) => pin === model.txdPin || pin === model.xckPin)
    if (usart !== undefined && usart.sent > 0) {
      const { empty, sent } = usart.model.vectors
      return { name: usart.model.name, vectors: [empty, sent], reloads: [] }
    }
    return undefined
  }

  /** The compare values that time an interrupt of a timer: the channel's own, and those of its top. */
  reloadsOf(vector: number): readonly ReloadStats[] {
    for (const timer of this.timers) {
      const { compare, overflow, capture } = timer.model.vectors
      const channel = compare.indexOf(vector)
      if (channel > 0) return [timer.reloads[0]!, timer.reloads[channel]!]
      if (channel === 0 || vector === overflow || vector === capture) return [timer.reloads[0]!]
    }
    const four = this.model.timer4?.vectors
    return four && Object.values(four).includes(vector) ? this.timer4!.reloads : []
  }

  // Time

  /** Oscillator cycles since power-up at a CPU cycle; the same unless the firmware sets the clock prescaler. */
  oscillatorAt(cycle: number): number {
    return this.#oscillatorOrigin + (cycle - this.#cycleOrigin) * this.#divider
  }

  get cpuHz(): number {
    return this.clockHz / this.#divider
  }

  /** Oscillator cycles per CPU cycle now. */
  get divider(): number {
    return this.#divider
  }

  #cycleAtOscillator(tick: number): number {
    return this.#cycleOrigin + Math.ceil((tick - this.#oscillatorOrigin) / this.#divider)
  }

  cycleAtUs(us: number): number {
    return this.#cycleAtOscillator((us * this.clockHz) / 1e6)
  }

  usAtCycle(cycle: number): number {
    return (this.oscillatorAt(cycle) * 1e6) / this.clockHz
  }

  #divide(divider: number, at: number): void {
    if (divider === this.#divider) return
    this.#oscillatorOrigin = this.oscillatorAt(at)
    this.#cycleOrigin = at
    const ratio = divider / this.#divider
    this.#divider = divider
    for (const device of this.#devices) device.clockDivided?.(ratio, at)
    this.#until = this.#cycleAtOscillator(this.#untilOscillator)
    this.#player?.reschedule()
    this.#setLimit()
    if (divider !== 1) this.note(RUN_FINDINGS.find('clock-divided', { divider }))
  }

  /** Run until at least this oscillator cycle since power-up: to the next instruction boundary. */
  runTo(tick: number): void {
    const { core } = this
    this.#untilOscillator = tick
    this.#until = this.#cycleAtOscillator(tick)
    while (this.now < this.#until) {
      if (this.#next <= this.now) this.#runEvents(this.now)
      if (this.#resetCause !== undefined) {
        this.#reset(this.#resetCause)
        continue
      }
      if (this.now < this.#heldUntil) {
        this.now = Math.min(this.#heldUntil, Math.max(this.now, Math.min(this.#next, this.#until)))
        continue
      }
      if (core.interruptWaits && (core.sreg & 0x80) !== 0 && !core.delayed) {
        this.#enter()
        continue
      }
      if (this.now < this.#mainHeldUntil && this.#holdsMain()) {
        // After a handler one instruction of the loop comes before the next one, which does not wait for anything else.
        if (core.delayed && core.interruptWaits) {
          core.delayed = false
          this.now += LOOP_CYCLES
          continue
        }
        core.delayed = false
        this.now = Math.min(this.#mainHeldUntil, Math.max(this.now, Math.min(this.#next, this.#until)))
        continue
      }
      if (this.#sleeping) {
        const wake = Math.min(this.#next, this.#until)
        this.sleepingCycles += wake - this.now
        this.now = wake
        continue
      }
      core.base = this.now
      core.c = 0
      core.limit = core.delayed ? 1 : Math.min(this.#next - this.now, this.#until - this.now, 0x3fffffff)
      // Up to the instruction that turns interrupts on.
      if (this.now < this.#mainHeldUntil && this.interrupts.depth === 0) core.limit = 1
      if (this.sharedData.following) {
        // Instruction by instruction, until the handler that came between returns.
        core.limit = 1
        this.sharedData.inspect(core.pc, this.now)
      }
      core.delayed = false
      core.execute()
      this.now = core.base + core.c
      if (core.lowestSp < this.#deepestSp) {
        this.#deepestSp = core.lowestSp
        this.deepestAt = this.now
        this.deepestPc = core.pc
      }
    }
    for (const recorder of this.#recorders) recorder.settle(this.#untilOscillator)
  }

  /** End the run under way earlier, at this oscillator cycle: something outside has to happen then. */
  stopBy(tick: number): void {
    if (tick >= this.#untilOscillator) return
    this.#untilOscillator = tick
    this.#until = this.#cycleAtOscillator(tick)
    this.core.limit = Math.min(this.core.limit, Math.max(0, this.#until - this.core.base))
  }

  // Stimulus

  /**
   * Bytes that come in on a serial port from now on, heard by the firmware or not; the list grows as the run goes on.
   * @returns an empty list where there is no such port; the stimulus has refused it then.
   */
  recordSerial(port: number): SerialByte[] {
    const bytes: SerialByte[] = []
    const usart = this.serial(port)
    if (usart) {
      // Whoever listens already goes on listening.
      const before = usart.onByte
      usart.onByte = (value, endsAt) => {
        before?.(value, endsAt)
        if (bytes.length < MOST_SERIAL_BYTES) bytes.push({ value, timeUs: this.usAtCycle(endsAt) })
      }
    }
    return bytes
  }

  serial(port: number): Usart | undefined {
    return this.#usart(`USART${port}`)
  }

  #usart(name: string): Usart | undefined {
    return this.usarts.find((u) => u.model.name === name)
  }

  serialNames(): string {
    return this.usarts.map((u) => u.model.name.replace('USART', 'serial ')).join(', ')
  }

  setPin(pin: string, level: 0 | 1 | undefined, at: number): void {
    const { port, bit } = this.port(pin)
    port.setOutside(bit, level, at)
  }

  hasPin(pin: string): boolean {
    return AVR_CHIPS[this.chip].pins.includes(pin)
  }

  hasAnalog(input: string): boolean {
    return this.analogChannel(input) !== undefined || this.#comparatorPin(input) !== undefined
  }

  setVolt(input: string, volt: number, at: number): void {
    const channel = this.analogChannel(input)
    if (channel !== undefined) {
      this.adc.volts[channel] = volt
      this.#onVolt?.(channel, volt, this.usAtCycle(this.now))
    }
    const pin = this.#comparatorPin(input)
    if (pin !== undefined) this.#pinVolts.set(pin, volt)
    this.#comparator.update(at)
  }

  /** Channel of `ADC0` or of a pin; undefined when there is none. */
  analogChannel(input: string): number | undefined {
    const { channelOf, pins } = this.model.adc
    const number = /^ADC(\d+)$/.exec(input)?.[1]
    const channel =
      number === undefined ? Object.keys(pins).find((c) => pins[Number(c)] === input) : Number(number)
    if (channel === undefined) return undefined
    const mux = Number(channel) < 8 ? Number(channel) : 24 + Number(channel)
    return channelOf(mux) === Number(channel) ? Number(channel) : undefined
  }

  /** `AIN0`, `AIN1` or their pins. */
  #comparatorPin(input: string): string | undefined {
    const { positive, negative } = this.model.comparator
    if (input === 'AIN0' || input === positive) return positive
    return input === 'AIN1' || input === negative ? negative : undefined
  }

  /** Voltages that the outside sets from now on; the list grows as the run goes on. */
  recordVolts(): VoltChange[] {
    const changes: VoltChange[] = []
    this.#onVolt = (channel, volt, timeUs) => {
      if (changes.length < MOST_VOLT_CHANGES) changes.push({ channel, volt, timeUs })
    }
    return changes
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
    this.sharedData.entered(pc, vector, this.interrupts.depth)
    const cycles = core.enterInterrupt(2 * vector)
    this.interruptsTurned(false, pc, this.now)
    this.#maskedVector = vector
    this.#interruptedPc = pc
    this.lateness.began(vector, this.interrupts.requestedAt(vector), this.now, this.#us)
    this.interrupts.enter(vector, this.now, this.now + this.#entryCycles[vector]!)
    core.interruptWaits = this.interrupts.waits
    this.now += cycles
  }

  #runEvents(at: number): void {
    while (this.#next <= at) {
      const slot = this.#nextSlot
      const due = this.#next
      this.#slotTimes[slot] = Number.POSITIVE_INFINITY
      this.core.serial++
      this.#inEvent = true
      this.#slotDevices[slot]!.event(due)
      this.#inEvent = false
      this.#findNext()
    }
    this.#setLimit()
  }

  /**
   * A reset; carried out between instructions.
   * @param asked something outside wants it, so it is no fault of the program.
   */
  askReset(cause: ResetCause | 'watchdog', asked: boolean): void {
    this.#resetCause = { cause, asked }
    this.core.limit = 0
  }

  /**
   * Until a cycle no instruction is executed; timers, converter and watchdog run on, as after a program has hung.
   * Right after {@link askReset} they are at rest too: a chip that is held in reset.
   */
  hold(untilCycle: number): void {
    if (this.#resetCause) this.#reset(this.#resetCause)
    this.#heldUntil = untilCycle
    this.core.limit = 0
  }

  /**
   * Until a cycle the main program hangs while interrupts go on, as in a loop whose end never comes. A handler under way
   * ends first, and a passage with interrupts off goes on until they are on: a loop in it would be a {@link hold}.
   */
  holdMain(untilCycle: number): void {
    this.#mainHeldUntil = untilCycle
    this.core.limit = 0
  }

  /** The main program stands where handlers may interrupt it, or has never let any. */
  #holdsMain(): boolean {
    if (this.interrupts.depth > 0) return false
    return (this.core.sreg & 0x80) !== 0 || !this.#everEnabled
  }

  /** Everything as after power-up but time and what was counted; what it has in RAM survives all but a power-up. */
  #reset({ cause, asked }: { cause: ResetCause | 'watchdog'; asked: boolean }): void {
    this.#resetCause = undefined
    this.#restarted({ at: this.now, cause, asked, pc: this.core.pc })
    this.interrupts.reset()
    this.sharedData.abandon()
    this.core.interruptWaits = false
    this.core.reset()
    this.#resetting = true
    this.#sleeping = false
    this.#heldUntil = 0
    this.#mainHeldUntil = 0
    this.#everEnabled = false
    if (cause === 'power') this.#forget()
    const status = cause === 'power' ? RESET_FLAGS.power : this.data[MCUSR]! | RESET_FLAGS[cause]
    this.data.fill(0, 32, this.model.ramStart)
    this.data[MCUSR] = status
    for (const device of this.#devices) device.reset(this.now)
  }
}
