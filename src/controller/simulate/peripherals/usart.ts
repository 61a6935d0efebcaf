/**
 * Serial ports. Source: ATmega328P data sheet (DS40001906C), USART0: double-buffered transmitter, receiver with two
 * buffered bytes and one in the shift register, data overrun when a third meets a start bit; USART in SPI mode: eight
 * bits one after the other without start and stop, clock at XCK. What is sent appears at the pins, bit by bit.
 */
import type { AvrUsartModel } from '../../chips/avr-registers.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost, PinOutput } from './peripheral.js'

const RXC = 0x80
const TXC = 0x40
const UDRE = 0x20
const FE = 0x10
const DOR = 0x08
const U2X = 0x02
const RXCIE = 0x80
const TXCIE = 0x40
const UDRIE = 0x20
const RXEN = 0x10
const TXEN = 0x08
const UCSZ2 = 0x04

/** UMSEL: synchronous, and SPI master. */
const MODE_BITS = 0xc0
const SYNCHRONOUS = 0x40
const SPI_MASTER = 0xc0
/** UCSRnC in SPI mode. */
const UDORD = 4
const UCPHA = 2
const UCPOL = 1

const LONGEST_TEXT = 400
const MOST_QUEUED = 1 << 20

/** A byte on its way to the receiver. */
interface LineByte {
  value: number
  /** Earliest cycle of its start bit. */
  at: number
  /** Cycles per bit of the sender; undefined: exactly the receiver's. */
  bitCycles: number | undefined
}

/** The transmitter's pins. */
export interface UsartPins {
  data: PinOutput
  clock: PinOutput
  /** XCK is an output: the port makes its own clock in the synchronous modes. */
  clockIsOutput(): boolean
}

export class Usart implements Peripheral {
  readonly model: AvrUsartModel
  readonly #host: PeripheralHost
  readonly #slot: number
  /** A listener for sent bytes, beside the text kept here. */
  onSent: ((value: number, at: number) => void) | undefined
  sent = 0
  received = 0
  overrun = 0
  /** Called for every byte from outside, heard or not, with the cycle at which its last bit ends. */
  onByte: ((value: number, endsAt: number) => void) | undefined
  whileOff = 0
  frameErrors = 0
  /** Rate of what comes without one of its own, baud; undefined: that of the port. */
  lineBaud: number | undefined
  /** The two rates farthest apart at which a byte came and was to be received, baud. */
  rates: { line: number; own: number } | undefined
  dropped = 0
  /** First bytes sent. */
  readonly text: number[] = []

  #a = UDRE
  #b = 0
  #c = 6
  #ubrr = 0
  #ubrrHigh = 0
  /** End of the frame being sent. */
  #sendEnd = Number.POSITIVE_INFINITY
  #powered = true
  readonly #pins: UsartPins
  /** Bits of the frame being sent, in order; the half bit that comes next, and when. */
  #frame = 0
  #frameLength = 0
  #half = 0
  #nextHalf = Number.POSITIVE_INFINITY
  #frameStart = 0
  #halfBit = 0
  #drivesData = false
  #drivesClock = false
  #sendBuffer = -1
  #queue: LineByte[] = []
  #queueHead = 0
  /** When the line is free for another start bit. */
  #lineFree = 0
  #arriving: LineByte | undefined
  #arrivesAt = Number.POSITIVE_INFINITY
  #fifo: { value: number; flags: number }[] = []
  #waiting: { value: number; flags: number } | undefined
  #lost = false

  constructor(model: AvrUsartModel, host: PeripheralHost, pins: UsartPins) {
    this.#pins = pins
    this.model = model
    this.#host = host
    this.#slot = host.slot(this)
    for (const i of [0, 1, 2, 4, 5]) host.hook(model.base + i, this, false)
    host.hook(model.base + 6, this, true)
    const { received, empty, sent } = model.vectors
    for (const v of [received, empty, sent]) host.own(v, this)
  }

  reset(at: number): void {
    this.#a = UDRE
    this.#b = 0
    this.#c = 6
    this.#ubrr = this.#ubrrHigh = 0
    this.#sendEnd = Number.POSITIVE_INFINITY
    this.#sendBuffer = -1
    this.#nextHalf = Number.POSITIVE_INFINITY
    this.#drivesData = this.#drivesClock = false
    this.#fifo = []
    this.#waiting = undefined
    this.#lost = false
    this.#publish(at)
    const { data } = this.#host
    data[this.model.base + 1] = 0
    data[this.model.base + 2] = 6
    data[this.model.base + 4] = data[this.model.base + 5] = 0
    this.#schedule()
  }

  /** While its clock is stopped bytes pass by; one that is being sent is taken to be sent. */
  power(on: boolean): void {
    this.#powered = on
  }

  get #receives(): boolean {
    return this.#powered && (this.#b & RXEN) !== 0
  }

  get baud(): number {
    return this.#host.cpuHz / this.#bitCycles()
  }

  get #mode(): number {
    return this.#c & MODE_BITS
  }

  #bitCycles(): number {
    if (this.#mode !== 0) return 2 * (this.#ubrr + 1)
    return (this.#ubrr + 1) * ((this.#a & U2X) !== 0 ? 8 : 16)
  }

  #dataBits(): number {
    const size = ((this.#c >> 1) & 3) | (this.#b & UCSZ2)
    return size === 7 ? 9 : 5 + (size & 3)
  }

  #frameBits(): number {
    if (this.#mode === SPI_MASTER) return 8
    return 1 + this.#dataBits() + ((this.#c & 0x20) !== 0 ? 1 : 0) + ((this.#c & 8) !== 0 ? 2 : 1)
  }

  // Registers

  read(_address: number, at: number): number {
    // UDR
    this.#host.touch()
    const entry = this.#fifo.shift()
    if (this.#waiting !== undefined && this.#fifo.length < 2) {
      this.#fifo.push(this.#waiting)
      this.#waiting = undefined
    }
    this.#publish(at)
    return entry?.value ?? 0
  }

  write(address: number, value: number, mask: number, at: number): void {
    const { data } = this.#host
    switch (address - this.model.base) {
      case 0:
        // TXC is cleared by writing a one; RXC, UDRE and the error flags are not writable.
        if ((value & mask & TXC) !== 0) this.#a &= ~TXC
        this.#a = (this.#a & ~3) | (value & 3)
        break
      case 1:
        if ((value & RXEN) === 0) {
          this.#fifo = []
          this.#waiting = undefined
        }
        this.#b = value
        data[address] = value
        this.#connect(at)
        break
      case 2:
        this.#c = value
        data[address] = value
        this.#connect(at)
        break
      case 4:
        data[address] = value
        this.#ubrr = (this.#ubrrHigh << 8) | value
        break
      case 5:
        this.#ubrrHigh = value & 15
        data[address] = value & 15
        break
      default:
        this.#send(value, at)
    }
    this.#publish(at)
    this.#schedule()
  }

  #send(value: number, at: number): void {
    if ((this.#b & TXEN) === 0) return
    if (this.#sendEnd === Number.POSITIVE_INFINITY) this.#begin(value, at)
    else if (this.#sendBuffer < 0) {
      this.#sendBuffer = value
      this.#a &= ~UDRE
    } else this.dropped++
  }

  #begin(value: number, at: number): void {
    this.sent++
    if (this.text.length < LONGEST_TEXT) this.text.push(value)
    this.onSent?.(value, at)
    this.#sendEnd = at + this.#frameBits() * this.#bitCycles()
    this.#frame = this.#bitsOf(value)
    this.#frameLength = this.#frameBits()
    this.#halfBit = this.#bitCycles() / 2
    this.#frameStart = at
    this.#half = 0
    this.#drive(at)
  }

  /** The levels of a frame on the line, first bit lowest. */
  #bitsOf(value: number): number {
    if (this.#mode === SPI_MASTER) {
      if ((this.#c & UDORD) !== 0) return value
      let reversed = 0
      for (let i = 0; i < 8; i++) reversed |= ((value >> (7 - i)) & 1) << i
      return reversed
    }
    const bits = this.#dataBits()
    const ninth = bits === 9 ? (this.#b & 1) << 8 : 0
    const data = (value | ninth) & ((1 << bits) - 1)
    let frame = data << 1
    let length = 1 + bits
    if ((this.#c & 0x20) !== 0) {
      let parity = (this.#c & 0x10) !== 0 ? 1 : 0
      for (let i = 0; i < bits; i++) parity ^= (data >> i) & 1
      frame |= parity << length++
    }
    // Stop bits are high.
    return frame | (3 << length)
  }

  /** While the transmitter is on it owns TXD, whatever DDR says; in the synchronous modes XCK too, as an output. */
  #connect(at: number): void {
    const on = (this.#b & TXEN) !== 0
    const { data, clock } = this.#pins
    if (on !== this.#drivesData) {
      this.#drivesData = on
      if (on) {
        data.force(true)
        data.drive(1, at)
      } else if (this.#sendEnd === Number.POSITIVE_INFINITY) this.#letGo(at)
      // Otherwise when what is being sent is through.
    }
    const synchronous = this.#mode === SYNCHRONOUS || this.#mode === SPI_MASTER
    const clocks = on && synchronous && this.#pins.clockIsOutput()
    if (on && synchronous && !clocks) {
      const { name, txdPin, xckPin } = this.model
      this.#host.lacks(RUN_FINDINGS.find('external-clock', { name }), [txdPin, xckPin])
    }
    if (clocks !== this.#drivesClock) {
      this.#drivesClock = clocks
      if (!clocks) clock.release(at)
    }
    if (clocks && this.#sendEnd === Number.POSITIVE_INFINITY) clock.drive(this.#idleClock(), at)
  }

  #idleClock(): 0 | 1 {
    return this.#mode === SPI_MASTER && (this.#c & UCPOL) !== 0 ? 1 : 0
  }

  /** Levels at the beginning of a half bit; schedules the next change. */
  #drive(at: number): void {
    const bit = this.#half >> 1
    if ((this.#half & 1) === 0) this.#pins.data.drive(((this.#frame >> bit) & 1) as 0 | 1, at)
    if (this.#drivesClock) {
      const firstHalf = (this.#half & 1) === 0
      const early = this.#mode === SPI_MASTER && (this.#c & UCPHA) !== 0
      const idle = this.#idleClock()
      // Leading edge in the middle of the bit, or with UCPHA at its beginning.
      this.#pins.clock.drive((firstHalf === early ? 1 - idle : idle) as 0 | 1, at)
    }
    this.#half++
    // Without a clock at a pin only the changes of the data matter.
    if (!this.#drivesClock) {
      this.#half++
      while (this.#half < 2 * this.#frameLength) {
        const next = this.#half >> 1
        if (((this.#frame >> next) & 1) !== ((this.#frame >> (next - 1)) & 1)) break
        this.#half += 2
      }
    }
    this.#nextHalf =
      this.#half < 2 * this.#frameLength
        ? this.#frameStart + this.#half * this.#halfBit
        : Number.POSITIVE_INFINITY
  }

  /** Nothing follows: the line rests high, the clock at its idle level. */
  #rest(at: number): void {
    const { data, clock } = this.#pins
    if (this.#drivesData) data.drive(1, at)
    else this.#letGo(at)
    if (this.#drivesClock) clock.drive(this.#idleClock(), at)
  }

  #letGo(at: number): void {
    this.#pins.data.force(false)
    this.#pins.data.release(at)
  }

  /** Write UCSRA as it is and ask for interrupts as they hold. */
  #publish(at: number): void {
    const head = this.#fifo[0]
    this.#a = (this.#a & ~(RXC | FE | DOR)) | (head === undefined ? 0 : RXC | head.flags)
    this.#host.data[this.model.base] = this.#a
    const { received, empty, sent } = this.model.vectors
    this.#host.request(received, (this.#a & RXC) !== 0 && (this.#b & RXCIE) !== 0, at)
    this.#host.request(empty, (this.#a & UDRE) !== 0 && (this.#b & UDRIE) !== 0, at)
    this.#host.request(sent, (this.#a & TXC) !== 0 && (this.#b & TXCIE) !== 0, at)
  }

  acknowledge(vector: number, at: number): void {
    // RXC and UDRE are conditions that the handler ends itself.
    if (vector !== this.model.vectors.sent) return
    this.#a &= ~TXC
    this.#publish(at)
  }

  // The line

  /** Put a byte on the receiver's line, at `at` or when the bytes before it are through. */
  receive(value: number, at: number, baud = this.lineBaud): void {
    if (this.#queue.length - this.#queueHead >= MOST_QUEUED) return
    this.#queue.push({ value, at, bitCycles: baud === undefined ? undefined : this.#host.cpuHz / baud })
    this.#schedule()
  }

  #schedule(): void {
    const next = this.#queue[this.#queueHead]
    const start =
      next === undefined || this.#arriving !== undefined
        ? Number.POSITIVE_INFINITY
        : Math.max(next.at, this.#lineFree)
    this.#host.schedule(this.#slot, Math.min(this.#sendEnd, this.#nextHalf, this.#arrivesAt, start))
  }

  event(at: number): void {
    if (this.#nextHalf <= at) this.#drive(at)
    if (this.#sendEnd <= at) {
      this.#sendEnd = Number.POSITIVE_INFINITY
      // In SPI mode each byte sent is one received; nothing answers, so it is all ones.
      if (this.#mode === SPI_MASTER && (this.#b & RXEN) !== 0 && this.#fifo.length < 2) {
        this.#fifo.push({ value: 0xff, flags: 0 })
      }
      if (this.#sendBuffer >= 0) {
        const value = this.#sendBuffer
        this.#sendBuffer = -1
        this.#begin(value, at)
        this.#a |= UDRE
      } else {
        this.#a |= TXC
        this.#rest(at)
      }
    }
    if (this.#arrivesAt <= at) this.#arrived(at)
    const next = this.#queue[this.#queueHead]
    if (this.#arriving === undefined && next !== undefined && Math.max(next.at, this.#lineFree) <= at) {
      this.#startBit(next, at)
    }
    this.#publish(at)
    this.#schedule()
  }

  #startBit(next: LineByte, at: number): void {
    this.#queueHead++
    if (this.#queueHead > 1024) {
      this.#queue.splice(0, this.#queueHead)
      this.#queueHead = 0
    }
    const own = this.#bitCycles()
    this.#lineFree = at + Math.round(this.#frameBits() * (next.bitCycles ?? own))
    this.onByte?.(next.value, this.#lineFree)
    if (!this.#receives) {
      this.whileOff++
      return
    }
    if (next.bitCycles !== undefined) this.#compareRates(this.#host.cpuHz / next.bitCycles)
    if (this.#waiting !== undefined) {
      // Buffer and shift register are full and a new start bit comes: the waiting byte is lost.
      this.#waiting = undefined
      this.#lost = true
      this.overrun++
      if ((this.#b & RXCIE) !== 0) this.#host.overrun(this.model.vectors.received, at)
    }
    this.#arriving = next
    // The stop bit is taken in its middle.
    this.#arrivesAt = at + Math.round((this.#frameBits() - ((this.#c & 8) !== 0 ? 1.5 : 0.5)) * own)
  }

  #compareRates(line: number): void {
    const rates = { line, own: this.baud }
    if (this.rates === undefined || rateError(rates) > rateError(this.rates)) this.rates = rates
  }

  #arrived(at: number): void {
    const byte = this.#arriving!
    this.#arriving = undefined
    this.#arrivesAt = Number.POSITIVE_INFINITY
    if (!this.#receives) {
      this.whileOff++
      return
    }
    const { value, error } = this.#sample(byte)
    this.received++
    if (error) this.frameErrors++
    const entry = { value, flags: (error ? FE : 0) | (this.#lost ? DOR : 0) }
    this.#lost = false
    if (this.#fifo.length < 2) this.#fifo.push(entry)
    else this.#waiting = entry
    this.#host.touch()
    this.#publish(at)
  }

  /**
   * What the receiver makes of a byte sent at the sender's rate: each bit is taken in its own middle, by the majority of three
   * samples. The stop bit of a slow sender must be there for the first of them (data sheet, receiver operational range, eight
   * data bits: 95.4 % of the rate at normal speed, 96 % at double speed; from memory).
   */
  #sample(byte: LineByte): { value: number; error: boolean } {
    const bits = this.#dataBits()
    const own = this.#bitCycles()
    const theirs = byte.bitCycles ?? own
    const levelAt = (time: number) => {
      const bit = Math.floor(time / theirs)
      return bit <= 0 ? 0 : bit > bits ? 1 : (byte.value >> (bit - 1)) & 1
    }
    let value = 0
    for (let i = 0; i < bits; i++) value |= levelAt((1.5 + i) * own) << i
    const parity = (this.#c & 0x20) !== 0 ? 1 : 0
    const stop = (1.5 + bits + parity) * own
    const sample = own / ((this.#a & U2X) !== 0 ? 8 : 16)
    return { value: value & 255, error: levelAt(stop - sample) === 0 }
  }
}

/** How far the port's own rate is off that of the line, as a share of the latter. */
export function rateError({ line, own }: { line: number; own: number }): number {
  return Math.abs(own / line - 1)
}
