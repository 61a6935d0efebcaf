/**
 * Timer 4 of the ATmega32U4: 10 bits, top in OCR4C, clocked by the system or faster by the PLL, so a tick may be a
 * part of a cycle. Source: data sheet 7766J, "10-bit High Speed Timer/Counter4"; that OCR4C is not buffered and its
 * start value are from memory. Not simulated: dead time, fault protection, the 11-bit enhanced mode, the PWM6 modes.
 */

import type { AvrTimer4Model } from '../../chips/avr-registers.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost, PinOutput } from './peripheral.js'
import type { ReloadStats } from './timer.js'

const PLLCSR = 0x49
const PLLFRQ = 0x52
const TOV = 4
const CHANNELS = ['A', 'B', 'D'] as const
/** Flag and mask bits of the channels. */
const BITS = [0x40, 0x20, 0x80]
const MAX = 0x3ff
/** PLL output by PDIV, MHz (table "PLL output frequency"). */
const PLL_MHZ: Readonly<Record<number, number>> = { 3: 40, 4: 48, 5: 56, 7: 72, 8: 80, 9: 88, 10: 96 }
const POSTSCALER = [0, 1, 1.5, 2]

export interface Timer4Pins {
  straight: PinOutput | undefined
  inverse: PinOutput | undefined
}

export class Timer4 implements Peripheral {
  readonly #model: AvrTimer4Model
  readonly #host: PeripheralHost
  readonly #slot: number
  readonly #pins: readonly Timer4Pins[]
  readonly #pinNames: readonly string[]
  #high = 0
  #control = { a: 0, b: 0, c: 0, d: 0 }
  #mask = 0
  #flags = 0
  #count = 0
  #direction = 1
  #perTick = 0
  #origin = 0
  #nextTick = Number.POSITIVE_INFINITY
  #blocked = false
  #top = 0xff
  #polled = false
  readonly #ocr = [0, 0, 0]
  readonly #buffer = [0, 0, 0]
  readonly #level: (0 | 1)[] = [0, 0, 0]
  readonly #com = [0, 0, 0]
  readonly #pwm = [false, false, false]
  readonly drove = [false, false, false]
  readonly reloads: ReloadStats[] = CHANNELS.map(() => ({
    writes: 0,
    leastSlack: Number.POSITIVE_INFINITY,
    leastSlackAt: 0,
    missed: 0,
    missedAt: 0,
  }))

  constructor(
    model: AvrTimer4Model,
    host: PeripheralHost,
    pins: readonly Timer4Pins[],
    pinNames: readonly string[],
  ) {
    this.#pinNames = pinNames
    this.#model = model
    this.#host = host
    this.#pins = pins
    this.#slot = host.slot(this)
    const { tcnt, tc4h, tccra, ocr, dt4, tifr, timsk, vectors } = model
    for (const address of [tcnt, tc4h, tifr, ocr.A, ocr.B, ocr.C, ocr.D]) host.hook(address, this, true)
    for (const address of [tccra, tccra + 1, tccra + 2, tccra + 3, tccra + 4, dt4, timsk, PLLFRQ]) {
      host.hook(address, this, false)
    }
    for (const vector of [vectors.A, vectors.B, vectors.D, vectors.overflow]) host.own(vector, this)
  }

  reset(at: number): void {
    this.#advance(at)
    this.#high = this.#mask = this.#flags = this.#count = 0
    this.#control = { a: 0, b: 0, c: 0, d: 0 }
    this.#direction = 1
    this.#blocked = false
    this.#polled = false
    this.#top = 0xff
    this.#ocr.fill(0)
    this.#buffer.fill(0)
    this.#level.fill(0)
    this.#host.data[PLLFRQ] = 4
    this.#configure(at)
    this.#request(at)
    this.#schedule()
  }

  // Registers

  read(address: number, at: number): number {
    this.#advance(at)
    const { tcnt, tc4h, tifr, ocr } = this.#model
    if (address === tifr) {
      if (!this.#polled) {
        this.#polled = true
        this.#schedule()
      }
      return this.#flags
    }
    if (address === tc4h) return this.#high
    const value =
      address === tcnt
        ? this.#count
        : address === ocr.C
          ? this.#top
          : this.#buffer[[ocr.A, ocr.B, ocr.D].indexOf(address)]!
    if (address === tcnt) this.#host.touch()
    this.#high = value >> 8
    return value & 255
  }

  write(address: number, value: number, mask: number, at: number): void {
    this.#advance(at)
    const { tcnt, tc4h, tccra, ocr, dt4, tifr, timsk } = this.#model
    const { data } = this.#host
    if (address === tifr) {
      this.#flags &= ~(value & mask)
      this.#request(at)
    } else if (address === timsk) {
      data[address] = value
      this.#mask = value
      this.#request(at)
    } else if (address === tc4h) {
      this.#high = value & 3
      return
    } else if (address === tcnt) {
      this.#count = (this.#high << 8) | value
      this.#blocked = true
    } else if (address === ocr.C) {
      const top = (this.#high << 8) | value
      this.#noteTop(top, at)
      this.#top = top
    } else if (address === dt4) {
      data[address] = value
      if (value !== 0) this.#host.lacks(RUN_FINDINGS.find('timer4-dead-time', {}), this.#pinNames)
    } else if (address === tccra) {
      data[address] = value & 0xf3
      this.#control.a = value
      this.#configure(at)
      this.#force(value, 8, 4, at)
    } else if (address === tccra + 1) {
      data[address] = value & 0xbf
      this.#control.b = value
      if ((value & 0x40) !== 0) this.#origin = at
      this.#configure(at)
    } else if (address === tccra + 2) {
      // The COM bits of A and B are the same bits as in TCCR4A.
      data[address] = value & 0xfd
      this.#control.c = value
      this.#control.a = (this.#control.a & 0x0f) | (value & 0xf0)
      data[tccra] = (data[tccra]! & 0x0f) | (value & 0xf0)
      this.#configure(at)
      if ((value & 2) !== 0) this.#match(2, at, true)
    } else if (address === tccra + 3) {
      data[address] = value
      this.#control.d = value
      if ((value & 2) !== 0)
        this.#host.lacks(RUN_FINDINGS.find('timer4-mode', { mode: 'the PWM6 modes are' }), this.#pinNames)
      this.#configure(at)
    } else if (address === tccra + 4) {
      data[address] = value
      if ((value & 0x40) !== 0)
        this.#host.lacks(
          RUN_FINDINGS.find('timer4-mode', { mode: 'the enhanced mode of 11 bits is' }),
          this.#pinNames,
        )
    } else if (address === PLLFRQ) {
      data[address] = value
      this.#configure(at)
    } else this.#writeCompare([ocr.A, ocr.B, ocr.D].indexOf(address), (this.#high << 8) | value)
    this.#schedule()
  }

  /** The PLL was turned on or off. */
  clockChanged(at: number): void {
    this.#advance(at)
    this.#configure(at)
    this.#schedule()
  }

  #writeCompare(channel: number, value: number): void {
    this.#buffer[channel] = value
    if (!this.#pwm[channel]) this.#ocr[channel] = value
  }

  #noteTop(top: number, at: number): void {
    if (this.#perTick <= 0) return
    const slack = (top - this.#count) * this.#perTick
    for (const stats of this.reloads) {
      stats.writes++
      if (slack < stats.leastSlack) {
        stats.leastSlack = slack
        stats.leastSlackAt = at
      }
      if (slack < 0 && this.#direction > 0 && stats.missed++ === 0) stats.missedAt = at
    }
  }

  #force(value: number, a: number, b: number, at: number): void {
    if ((value & a) !== 0 && !this.#pwm[0]) this.#match(0, at, true)
    if ((value & b) !== 0 && !this.#pwm[1]) this.#match(1, at, true)
  }

  acknowledge(vector: number, at: number): void {
    this.#advance(at)
    const { vectors } = this.#model
    const channel = CHANNELS.findIndex((c) => vectors[c] === vector)
    this.#flags &= ~(channel < 0 ? TOV : BITS[channel]!)
    this.#request(at)
  }

  #request(at: number): void {
    const { vectors } = this.#model
    const on = this.#flags & this.#mask
    CHANNELS.forEach((c, i) => {
      this.#host.request(vectors[c], (on & BITS[i]!) !== 0, at)
    })
    this.#host.request(vectors.overflow, (on & TOV) !== 0, at)
  }

  #set(bit: number, vector: number, at: number): void {
    if ((this.#flags & this.#mask & bit) !== 0) this.#host.overrun(vector, at)
    this.#flags |= bit
    if ((this.#mask & bit) !== 0) this.#host.request(vector, true, at)
  }

  // Configuration

  get #dual(): boolean {
    return (this.#control.d & 3) === 1 && this.#pwm.some(Boolean)
  }

  #configure(at: number): void {
    const { a, b, c } = this.#control
    this.#pwm[0] = (a & 2) !== 0
    this.#pwm[1] = (a & 1) !== 0
    this.#pwm[2] = (c & 1) !== 0
    const coms = [(a >> 6) & 3, (a >> 4) & 3, (c >> 2) & 3]
    if (!this.#dual) this.#direction = 1
    for (let i = 0; i < 3; i++) {
      if (!this.#pwm[i]) this.#ocr[i] = this.#buffer[i]!
      if (coms[i] === this.#com[i] && coms[i] === 0) continue
      this.#com[i] = coms[i]!
      if (coms[i] !== 0) {
        this.drove[i] = true
        this.#output(i, at)
      } else {
        this.#pins[i]?.straight?.release(at)
        this.#pins[i]?.inverse?.release(at)
      }
    }
    const select = b & 15
    const perTick = select === 0 ? 0 : 2 ** (select - 1) * this.#cyclesPerClock()
    if (perTick !== this.#perTick || (b & 0x40) !== 0) {
      this.#perTick = perTick
      this.#nextTick =
        perTick === 0
          ? Number.POSITIVE_INFINITY
          : this.#origin + (Math.floor((at - this.#origin) / perTick + 1e-9) + 1) * perTick
    }
  }

  /** Cycles of the system clock per clock in front of the prescaler. */
  #cyclesPerClock(): number {
    const { data, cpuHz } = this.#host
    const post = POSTSCALER[(data[PLLFRQ]! >> 4) & 3]!
    if (post === 0 || (data[PLLCSR]! & 2) === 0) return 1
    const mhz = PLL_MHZ[data[PLLFRQ]! & 15]
    if (mhz === undefined) {
      this.#host.note(RUN_FINDINGS.find('timer4-clock', {}))
      return Number.POSITIVE_INFINITY
    }
    return (cpuHz * post) / (mhz * 1e6)
  }

  // Counting

  #visible(channel: number): boolean {
    return this.#polled || this.#com[channel] !== 0 || (this.#mask & BITS[channel]!) !== 0
  }

  #ticksToEnd(): number {
    if (this.#direction < 0) return this.#count + 1
    return (this.#count <= this.#top ? this.#top : MAX) - this.#count + 1
  }

  #ticksToNext(onlyVisible: boolean): number {
    let ticks = this.#ticksToEnd()
    if (onlyVisible) {
      const end = this.#polled || (this.#mask & TOV) !== 0
      if (!end && !CHANNELS.some((_, i) => this.#visible(i))) return Number.POSITIVE_INFINITY
    }
    for (let i = 0; i < 3; i++) {
      if (onlyVisible && !this.#visible(i)) continue
      const distance = (this.#ocr[i]! - this.#count) * this.#direction
      if (distance >= 0 && distance + 1 < ticks) ticks = distance + 1
    }
    return ticks
  }

  #schedule(): void {
    const ticks = Number.isFinite(this.#nextTick) ? this.#ticksToNext(true) : Number.POSITIVE_INFINITY
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
        this.#blocked = false
        return
      }
      const quiet = this.#mask === 0 && this.#com.every((c) => c === 0) && this.#count <= this.#top
      if (quiet && available > 8 * MAX) {
        const period = this.#dual ? Math.max(1, 2 * this.#top) : this.#top + 1
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

  #step(at: number): void {
    const count = this.#count
    const blocked = this.#blocked
    this.#blocked = false
    const dual = this.#dual
    const atTop = count === this.#top || count === MAX
    const turn = this.#direction > 0 ? atTop : count === 0
    const up = dual ? (turn ? this.#direction < 0 : this.#direction > 0) : true
    const { vectors } = this.#model
    if (!blocked) {
      for (let i = 0; i < 3; i++) {
        if (this.#ocr[i] !== count) continue
        this.#set(BITS[i]!, vectors[CHANNELS[i]!], at)
        this.#match(i, at, up)
      }
    }
    if (!turn) {
      this.#count = count + this.#direction
      return
    }
    if (!dual) {
      this.#count = 0
      for (let i = 0; i < 3; i++) {
        if (!this.#pwm[i]) continue
        this.#ocr[i] = this.#buffer[i]!
        this.#setLevel(i, this.#com[i] === 3 ? 0 : 1, at)
      }
      this.#set(TOV, vectors.overflow, at)
    } else if (this.#direction > 0) {
      this.#direction = -1
      this.#count = Math.max(0, count - 1)
    } else {
      this.#direction = 1
      this.#count = Math.min(1, this.#top)
      for (let i = 0; i < 3; i++) this.#ocr[i] = this.#buffer[i]!
      this.#set(TOV, vectors.overflow, at)
    }
  }

  #match(channel: number, at: number, up: boolean): void {
    const com = this.#com[channel]!
    if (com === 0) return
    const pwm = this.#pwm[channel]!
    const level = this.#level[channel]!
    if (com === 1 && !pwm) this.#setLevel(channel, level === 0 ? 1 : 0, at)
    else {
      const cleared = com === 3 ? 1 : 0
      this.#setLevel(channel, (up ? cleared : 1 - cleared) as 0 | 1, at)
    }
  }

  #setLevel(channel: number, level: 0 | 1, at: number): void {
    if (this.#level[channel] === level) return
    this.#level[channel] = level
    if (this.#com[channel] !== 0) this.#output(channel, at)
  }

  #output(channel: number, at: number): void {
    const level = this.#level[channel]!
    const pins = this.#pins[channel]
    pins?.straight?.drive(level, at)
    // The inverse pin takes part only in PWM with COM = 1.
    if (this.#com[channel] === 1 && this.#pwm[channel]) pins?.inverse?.drive(level === 1 ? 0 : 1, at)
    else pins?.inverse?.release(at)
  }
}
