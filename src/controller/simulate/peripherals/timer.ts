/**
 * The 8- and 16-bit timers, driven by events: nothing happens between the ticks that matter. A tick "leaves" a
 * counter value; compare flags, pin actions and reloads come with the tick that leaves OCR, TOP or BOTTOM, as the
 * timing diagrams of the data sheets show (ATmega328P, DS40001906C, "Timer/Counter Timing Diagrams").
 */

import type { AvrTimerModel } from '../../chips/avr-registers.js'
import { RUN_FINDINGS } from '../findings.data.js'
import { MODES_8, MODES_16, PRESCALE_ASYNC, PRESCALE_SYNC, type WaveformMode } from './modes.data.js'
import type { Peripheral, PeripheralHost, PinOutput } from './peripheral.js'

/** The shared prescaler: its phase and whether it is held in reset. */
export interface Prescaler {
  /** Cycle of its last reset. */
  origin: number
  held: boolean
}

/** How the firmware treated one compare channel's reloads. */
export interface ReloadStats {
  writes: number
  /** Fewest cycles between a reload and the moment it would have been too late; negative: it was. */
  leastSlack: number
  leastSlackAt: number
  /** Reloads that came too late for the period they were meant for. */
  missed: number
  missedAt: number
}

const TOV = 1
const ICF = 0x20

export class Timer implements Peripheral {
  readonly model: AvrTimerModel
  readonly #host: PeripheralHost
  readonly #slot: number
  readonly #outputs: (PinOutput | undefined)[]
  readonly #prescaler: Prescaler
  readonly #prescales: readonly number[]
  readonly #max: number
  readonly #channels: number
  readonly #is16Bit: boolean

  #mode: WaveformMode = MODES_8[0]!
  #dual = false
  #tccra = 0
  #tccrb = 0
  #mask = 0
  #flags = 0
  /** Flags that another peripheral waits for. */
  #wanted = 0
  #temp = 0
  #count = 0
  /** +1 up, −1 down. */
  #direction = 1
  /** Cycles per tick; 0: stopped or clocked by a pin. */
  #perTick = 0
  /** Cycle of the next tick. */
  #nextTick = Number.POSITIVE_INFINITY
  /** The next tick's compare is blocked by a write to the counter. */
  #blocked = false
  #powered = true
  #icr = 0
  readonly #ocr: number[]
  readonly #buffer: number[]
  readonly #pinLevel: (0 | 1)[]
  readonly #com: number[]
  readonly #connected: boolean[]
  /** When the period under way began: the counter's start at 0, or when buffered values were taken over. */
  #boundaryAt = -1
  /** Value at the last match of each channel not yet followed by a reload, or in this period; −1: none. */
  readonly #matchedAt: number[]
  /** The program reads the flags: keep them exact at all times. */
  #polled = false
  readonly #vectors: readonly number[]
  readonly reloads: ReloadStats[]
  /** Channels that have driven their pin. */
  readonly drove: boolean[]

  constructor(
    model: AvrTimerModel,
    host: PeripheralHost,
    prescaler: Prescaler,
    outputs: (PinOutput | undefined)[],
  ) {
    this.model = model
    this.#host = host
    this.#prescaler = prescaler
    this.#outputs = outputs
    this.#is16Bit = model.bits === 16
    this.#max = this.#is16Bit ? 0xffff : 0xff
    this.#prescales = model.prescaler === 'async' ? PRESCALE_ASYNC : PRESCALE_SYNC
    this.#channels = model.ocr.length
    const each = <T>(value: T): T[] => new Array<T>(this.#channels).fill(value)
    this.#ocr = each(0)
    this.#buffer = each(0)
    this.#pinLevel = each<0 | 1>(0)
    this.#com = each(0)
    this.#connected = each(false)
    this.#matchedAt = each(-1)
    this.drove = each(false)
    this.reloads = model.ocr.map(() => ({
      writes: 0,
      leastSlack: Number.POSITIVE_INFINITY,
      leastSlackAt: 0,
      missed: 0,
      missedAt: 0,
    }))
    this.#slot = host.slot(this)
    const bytes = this.#is16Bit ? [0, 1] : [0]
    for (const i of bytes) {
      host.hook(model.tcnt + i, this, true)
      for (const ocr of model.ocr) host.hook(ocr + i, this, true)
      if (model.icr !== undefined) host.hook(model.icr + i, this, true)
    }
    host.hook(model.tccra, this, false)
    host.hook(model.tccra + 1, this, false)
    if (model.tccrc !== undefined) host.hook(model.tccrc, this, false)
    host.hook(model.timsk, this, false)
    host.hook(model.tifr, this, true)
    const { compare, overflow, capture } = model.vectors
    this.#vectors = [...compare, overflow, ...(capture === undefined ? [] : [capture])]
    for (const v of this.#vectors) host.own(v, this)
  }

  reset(at: number): void {
    this.#advance(at)
    this.#tccra = this.#tccrb = this.#mask = this.#flags = this.#temp = 0
    this.#count = 0
    this.#direction = 1
    this.#perTick = 0
    this.#nextTick = Number.POSITIVE_INFINITY
    this.#blocked = false
    this.#powered = true
    this.#icr = 0
    this.#polled = false
    this.#ocr.fill(0)
    this.#buffer.fill(0)
    this.#pinLevel.fill(0)
    this.#matchedAt.fill(-1)
    for (const v of this.#vectors) this.#host.request(v, false, at)
    this.#configure(at)
    this.#schedule()
  }

  // Registers

  read(address: number, at: number): number {
    this.#advance(at)
    const { model } = this
    if (address === model.tifr) {
      if (!this.#polled) {
        this.#polled = true
        this.#schedule()
      }
      return this.#flags
    }
    if (address === model.tcnt) {
      this.#host.touch()
      if (this.#is16Bit) this.#temp = this.#count >> 8
      return this.#count & 255
    }
    if (model.icr !== undefined && address === model.icr) {
      this.#temp = this.#icr >> 8
      return this.#icr & 255
    }
    if (this.#is16Bit && (address === model.tcnt + 1 || address === (model.icr ?? -2) + 1)) return this.#temp
    const channel = model.ocr.findIndex((a) => a === address || (this.#is16Bit && a + 1 === address))
    const value = this.#buffer[channel]!
    return model.ocr[channel] === address ? value & 255 : value >> 8
  }

  write(address: number, value: number, mask: number, at: number): void {
    if (this.#is16Bit && this.#isHighByte(address)) {
      // Kept until the low byte is written: the counter does not see it.
      this.#temp = value
      return
    }
    this.#advance(at)
    const { model } = this
    if (address === model.tifr) this.#clearFlags(value & mask, at)
    else if (address === model.timsk) {
      this.#host.data[address] = value
      this.#mask = value
      this.#requestAll(at)
    } else if (address === model.tccra) {
      this.#host.data[address] = value
      this.#tccra = value
      this.#configure(at)
    } else if (address === model.tccra + 1) {
      this.#host.data[address] = this.#is16Bit ? value : value & 0x3f
      this.#tccrb = value
      this.#configure(at)
      if (!this.#is16Bit) this.#force(value, at)
    } else if (address === model.tccrc) this.#force(value, at)
    else this.#writeCount(address, this.#is16Bit ? (this.#temp << 8) | value : value, at)
    this.#schedule()
  }

  #isHighByte(address: number): boolean {
    const { tcnt, icr, ocr } = this.model
    return address === tcnt + 1 || address === (icr ?? -2) + 1 || ocr.includes(address - 1)
  }

  #writeCount(address: number, value: number, at: number): void {
    const { model } = this
    if (address === model.tcnt) {
      this.#count = value
      this.#blocked = true
      return
    }
    if (address === model.icr) {
      // Writable only where it is the top value (data sheet, ICR1).
      if (this.#mode.top !== 'icr') {
        this.#host.note(RUN_FINDINGS.find('icr-ignored', { timer: model.number }))
        return
      }
      this.#noteReload(-1, this.#icr, value, at)
      this.#icr = value
      return
    }
    const channel = model.ocr.indexOf(address)
    this.#noteReload(channel, this.#ocr[channel]!, value, at)
    this.#buffer[channel] = value
    if (this.#mode.waveform === 'immediate') this.#ocr[channel] = value
  }

  /** Whether a compare value came in time, and by how much. Channel −1 is ICR as top. */
  #noteReload(channel: number, old: number, value: number, at: number): void {
    if (this.#perTick <= 0 || this.#nextTick === Number.POSITIVE_INFINITY) return
    if (channel >= 0 && !this.#visible(channel)) return
    const stats = this.reloads[Math.max(0, channel)]!
    stats.writes++
    const slackTicks = this.#slackTicks(channel, old, value, at)
    if (slackTicks === undefined) return
    const slack = slackTicks * this.#perTick
    if (slack < stats.leastSlack) {
      stats.leastSlack = slack
      stats.leastSlackAt = at
    }
    if (slackTicks < 0) {
      if (stats.missed++ === 0) stats.missedAt = at
    }
  }

  /**
   * Ticks left when a compare value was written until it would have come too late for the period it is meant for;
   * negative: it did. Undefined where what it is meant for cannot be told.
   */
  #slackTicks(channel: number, old: number, value: number, at: number): number | undefined {
    const { waveform, top } = this.#mode
    const buffered = waveform !== 'immediate' && channel >= 0
    // What an interrupt of this timer loads is meant for the first period that begins after its cause, or, without a
    // buffer, for the one that its cause began.
    const cause = this.#host.handler()
    if (cause !== undefined && cause.requestedAt < this.#boundaryAt) {
      if (this.#vectors.includes(cause.vector) && (buffered || this.#marksBoundary(cause.vector))) {
        // The same value again changes nothing, whenever it comes.
        if (value === old) return undefined
        return -Math.max(1, Math.ceil((at - this.#boundaryAt) / this.#perTick))
      }
    }
    if (buffered) return this.#ticksToEnd()
    if (channel < 0 || (channel === 0 && top === 'ocra')) return value - this.#count
    const matched = this.#matchedAt[channel]!
    if (top === this.#max) {
      // Free running: the new value is meant relative to the match before.
      if (matched < 0) return undefined
      this.#matchedAt[channel] = -1
      const size = this.#max + 1
      return ((value - old + size) % size) - ((this.#count - matched + size) % size)
    }
    // The counter begins again at its top: after this period's match the value is meant for the next period.
    return matched < 0 ? value - this.#count : this.#ticksToEnd() + value
  }

  /** Interrupts whose cause is the beginning of a period. */
  #marksBoundary(vector: number): boolean {
    const { compare, overflow, capture } = this.model.vectors
    const { top } = this.#mode
    if (top === 'ocra') return vector === compare[0]
    return vector === (top === 'icr' ? capture : overflow)
  }

  #clearFlags(bits: number, at: number): void {
    this.#flags &= ~bits
    this.#requestAll(at)
  }

  #requestAll(at: number): void {
    const { compare, overflow, capture } = this.model.vectors
    const on = this.#flags & this.#mask
    for (let i = 0; i < this.#channels; i++) this.#host.request(compare[i]!, (on & (2 << i)) !== 0, at)
    this.#host.request(overflow, (on & TOV) !== 0, at)
    if (capture !== undefined) this.#host.request(capture, (on & ICF) !== 0, at)
  }

  acknowledge(vector: number, at: number): void {
    this.#advance(at)
    this.#flags &= ~this.#bitOf(vector)
    this.#host.request(vector, false, at)
  }

  /** The flag of this interrupt starts conversions: it must come up at its own tick. */
  wantFlag(vector: number | undefined, at: number): void {
    this.#advance(at)
    this.#wanted = vector === undefined ? 0 : this.#bitOf(vector)
    this.#schedule()
  }

  #bitOf(vector: number): number {
    const { compare, overflow } = this.model.vectors
    if (vector === overflow) return TOV
    const channel = compare.indexOf(vector)
    return channel >= 0 ? 2 << channel : ICF
  }

  #set(bit: number, vector: number, at: number): void {
    if ((this.#flags & this.#mask & bit) !== 0) this.#host.overrun(vector, at)
    const fresh = (this.#flags & bit) === 0
    this.#flags |= bit
    if (fresh && (this.#wanted & bit) !== 0) this.#host.raised(vector, at)
    if ((this.#mask & bit) !== 0) this.#host.request(vector, true, at)
  }

  /** Input capture: an edge on the ICP pin. */
  capture(rising: boolean, at: number): void {
    if (this.model.icr === undefined || this.#mode.top === 'icr') return
    if (rising !== ((this.#tccrb & 0x40) !== 0)) return
    this.#advance(at)
    this.#icr = this.#count
    this.#set(ICF, this.model.vectors.capture!, at)
    this.#schedule()
  }

  /** An edge on the T pin: a tick, when the timer is clocked by it. */
  pinTick(rising: boolean, at: number): void {
    const selected = this.#prescales[this.#tccrb & 7]!
    if (selected !== (rising ? -2 : -1) || this.#prescaler.held) return
    this.#step(at)
  }

  // Configuration

  #configure(at: number): void {
    const { model } = this
    const wgm = this.#is16Bit
      ? (this.#tccra & 3) | ((this.#tccrb >> 1) & 12)
      : (this.#tccra & 3) | ((this.#tccrb >> 1) & 4)
    this.#mode = (this.#is16Bit ? MODES_16 : MODES_8)[wgm]!
    this.#dual = this.#mode.waveform === 'phase' || this.#mode.waveform === 'phase-frequency'
    if (!this.#dual) this.#direction = 1
    if (this.#mode.waveform === 'immediate') {
      for (let i = 0; i < this.#channels; i++) this.#ocr[i] = this.#buffer[i]!
    }
    for (let i = 0; i < this.#channels; i++) {
      const com = (this.#tccra >> (6 - 2 * i)) & 3
      this.#com[i] = com
      const toggles = com === 1 && this.#mode.waveform !== 'immediate'
      const connected = com !== 0 && (!toggles || (i === 0 && this.#mode.togglesA))
      if (connected !== this.#connected[i]) {
        this.#connected[i] = connected
        if (connected) {
          this.drove[i] = true
          this.#outputs[i]?.drive(this.#pinLevel[i]!, at)
        } else this.#outputs[i]?.release(at)
      }
    }
    const perTick = this.#prescales[this.#tccrb & 7]!
    if (perTick < 0 && this.#perTick >= 0) {
      this.#host.note(RUN_FINDINGS.find('clock-pin', { timer: model.number }))
    }
    if (perTick !== this.#perTick) {
      this.#perTick = perTick
      this.#align(at)
    }
  }

  /** The power reduction register stops the timer's clock. */
  power(on: boolean, at: number): void {
    if (on === this.#powered) return
    this.#advance(at)
    this.#powered = on
    this.#align(at)
    this.#schedule()
  }

  /** The prescaler was reset, held or released at `at`. */
  prescalerChanged(at: number): void {
    this.#align(at)
    this.#schedule()
  }

  /** Catch up with time, before something else changes. */
  sync(at: number): void {
    this.#advance(at)
  }

  #align(at: number): void {
    const n = this.#perTick
    const { origin, held } = this.#prescaler
    this.#nextTick =
      n <= 0 || held || !this.#powered
        ? Number.POSITIVE_INFINITY
        : origin + (Math.floor((at - origin) / n) + 1) * n
  }

  #force(value: number, at: number): void {
    if (this.#mode.waveform !== 'immediate') return
    for (let i = 0; i < this.#channels; i++) {
      if ((value & (0x80 >> i)) !== 0) this.#match(i, at)
    }
  }

  // Counting

  #top(): number {
    const { top } = this.#mode
    return top === 'ocra' ? this.#ocr[0]! : top === 'icr' ? this.#icr : top
  }

  #visible(channel: number): boolean {
    return this.#polled || this.#connected[channel]! || ((this.#mask | this.#wanted) & (2 << channel)) !== 0
  }

  /** Ticks up to and including the one that leaves TOP (or the end), or BOTTOM on the way down. */
  #ticksToEnd(): number {
    if (this.#direction < 0) return this.#count + 1
    const top = this.#top()
    return (this.#count <= top ? top : this.#max) - this.#count + 1
  }

  /** Ticks up to and including the one that leaves the nearest value of interest. */
  #ticksToNext(onlyVisible: boolean): number {
    let ticks = this.#ticksToEnd()
    let visibleEnd = !onlyVisible || this.#polled
    if (onlyVisible) {
      const fast = this.#mode.waveform === 'fast'
      const asked = this.#mask | this.#wanted
      if ((asked & TOV) !== 0 || (this.#mode.top === 'icr' && (asked & ICF) !== 0)) visibleEnd = true
      for (let i = 0; i < this.#channels; i++) {
        if (this.#visible(i) || this.#buffer[i] !== this.#ocr[i]) visibleEnd = true
        if (fast && this.#connected[i]) visibleEnd = true
      }
      if (!visibleEnd) return Number.POSITIVE_INFINITY
    }
    for (let i = 0; i < this.#channels; i++) {
      if (onlyVisible && !this.#visible(i)) continue
      const distance = (this.#ocr[i]! - this.#count) * this.#direction
      if (distance >= 0 && distance + 1 < ticks) ticks = distance + 1
    }
    return ticks
  }

  #schedule(): void {
    const ticks =
      this.#nextTick === Number.POSITIVE_INFINITY ? Number.POSITIVE_INFINITY : this.#ticksToNext(true)
    this.#host.schedule(
      this.#slot,
      ticks === Number.POSITIVE_INFINITY ? ticks : this.#nextTick + (ticks - 1) * this.#perTick,
    )
  }

  event(at: number): void {
    this.#advance(at)
    this.#schedule()
  }

  #advance(at: number): void {
    const n = this.#perTick
    while (this.#nextTick <= at) {
      const available = Math.floor((at - this.#nextTick) / n) + 1
      const ticks = this.#ticksToNext(false)
      if (available < ticks) {
        this.#count += this.#direction * available
        this.#nextTick += available * n
        if (available > 0) this.#blocked = false
        return
      }
      if (available > 8 * this.#max && this.#quiet()) {
        // Nobody looks: whole periods change nothing but flags that the last two set again.
        const top = this.#top()
        const period = this.#dual ? Math.max(1, 2 * top) : top + 1
        this.#nextTick += (Math.floor(available / period) - 3) * period * n
        continue
      }
      if (ticks > 1) {
        this.#count += this.#direction * (ticks - 1)
        this.#blocked = false
      }
      const now = this.#nextTick + (ticks - 1) * n
      this.#step(now)
      this.#nextTick = now + n
    }
  }

  /** No output, no interrupt, nothing buffered, counter inside its range. */
  #quiet(): boolean {
    if ((this.#mask | this.#wanted) !== 0 || this.#count > this.#top() || this.#blocked) return false
    for (let i = 0; i < this.#channels; i++) {
      if (this.#connected[i] || this.#ocr[i] !== this.#buffer[i]) return false
    }
    return true
  }

  /** One tick. */
  #step(at: number): void {
    const count = this.#count
    const { waveform, top: topKind } = this.#mode
    const top = this.#top()
    const blocked = this.#blocked
    this.#blocked = false
    // A blocked compare with a top made by compare does not turn the counter either (data sheet, CTC and PWM modes).
    const atTop = count === top && !(blocked && typeof topKind !== 'number')
    const { vectors } = this.model
    let turn = false
    if (!this.#dual) turn = atTop || count === this.#max
    else if (this.#direction > 0) turn = atTop || count === this.#max
    else turn = count === 0
    const up = this.#dual ? (turn ? this.#direction < 0 : this.#direction > 0) : true

    if (!blocked) {
      for (let i = 0; i < this.#channels; i++) {
        if (this.#ocr[i] !== count) continue
        this.#set(2 << i, vectors.compare[i]!, at)
        this.#matchedAt[i] = count
        if (this.#com[i] !== 0) this.#match(i, at, up)
      }
    }
    if (!this.#dual) {
      if (!turn) {
        this.#count = count + 1
        return
      }
      this.#count = 0
      this.#boundaryAt = at
      if (typeof topKind !== 'number' && waveform === 'immediate') this.#matchedAt.fill(-1)
      if (waveform === 'fast') {
        this.#bottom(at)
        if (atTop) this.#set(TOV, vectors.overflow, at)
        this.#load()
      } else if (count === this.#max) this.#set(TOV, vectors.overflow, at)
      if (topKind === 'icr' && atTop) this.#set(ICF, vectors.capture!, at)
      return
    }
    if (!turn) {
      this.#count = count + this.#direction
      return
    }
    if (this.#direction > 0) {
      this.#direction = -1
      this.#count = Math.max(0, count - 1)
      if (topKind === 'icr' && atTop) this.#set(ICF, vectors.capture!, at)
      if (waveform === 'phase') {
        this.#boundaryAt = at
        this.#load()
      }
    } else {
      this.#direction = 1
      this.#count = Math.min(1, top)
      this.#set(TOV, vectors.overflow, at)
      if (waveform === 'phase-frequency') {
        this.#boundaryAt = at
        this.#load()
      }
    }
  }

  /** Double-buffered compare values become effective. */
  #load(): void {
    for (let i = 0; i < this.#channels; i++) this.#ocr[i] = this.#buffer[i]!
  }

  /** Pin action of a compare match. */
  #match(channel: number, at: number, up = true): void {
    const com = this.#com[channel]!
    const waveform = this.#mode.waveform
    const was = this.#pinLevel[channel]!
    let level: 0 | 1 = was
    if (com === 1) {
      if (waveform === 'immediate' || (channel === 0 && this.#mode.togglesA)) level = was === 0 ? 1 : 0
    } else if (com === 2) level = waveform === 'immediate' || waveform === 'fast' || up ? 0 : 1
    else if (com === 3) level = waveform === 'immediate' || waveform === 'fast' || up ? 1 : 0
    this.#drive(channel, level, at)
  }

  /** Pin action of fast PWM at BOTTOM. */
  #bottom(at: number): void {
    for (let i = 0; i < this.#channels; i++) {
      if (this.#com[i] === 2) this.#drive(i, 1, at)
      else if (this.#com[i] === 3) this.#drive(i, 0, at)
    }
  }

  #drive(channel: number, level: 0 | 1, at: number): void {
    if (this.#pinLevel[channel] === level) return
    this.#pinLevel[channel] = level
    if (this.#connected[channel]) this.#outputs[channel]?.drive(level, at)
  }
}
