/**
 * Analog-digital converter. Source: ATmega328P data sheet (DS40001906C): 25 ADC clocks for the first conversion, 13
 * for others, 13.5 when triggered; 10 bits of the reference; from a read of ADCL to the next one of ADCH no result gets
 * into the registers, though the interrupt comes.
 */
import type { AvrModel } from '../../chips/avr-registers.js'
import { RUN_FINDINGS } from '../findings.data.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'

const ADCL = 0x78
const ADCH = 0x79
const ADCSRA = 0x7a
const ADCSRB = 0x7b
const ADMUX = 0x7c
const ADEN = 0x80
const ADSC = 0x40
const ADATE = 0x20
const ADIF = 0x10
const ADIE = 0x08
const BANDGAP_VOLT = 1.1
/** Highest clock of the converter for which the sheets give its errors (ADC characteristics: 50 kHz to 1 MHz, from memory). */
const FASTEST_HZ = 1e6

export class Adc implements Peripheral {
  readonly #host: PeripheralHost
  readonly #model: AvrModel['adc']
  readonly #supplyVolt: number
  readonly #slot: number
  /** Voltage at each channel; 0 where nothing was given. */
  readonly volts = new Float64Array(16)
  #control = 0
  readonly #muxChanged: (at: number) => void
  #first = true
  #trigger: number | undefined
  /** ADCL has been read and ADCH not yet: until then results are lost. */
  #locked = false
  /** Results lost by it in a row. */
  #lost = 0
  #powered = true
  /** The clock of the conversion is above what the sheet specifies. */
  #tooFast = false
  readonly #doubted = new Set<number>()
  /** End of the conversion under way, and when its clock was stopped. */
  #endsAt = 0
  #stoppedAt = 0
  #converted = 0
  conversions = 0
  /** Where the voltages come from, if not from `volts`: asked at the instant of sampling. */
  source: ((channel: number, at: number) => number | undefined) | undefined
  /** How often each channel was converted. */
  readonly conversionsOf = new Map<number, number>()

  /** @param muxChanged the comparator may use one of the converter's inputs: an input or the converter was switched. */
  constructor(
    model: AvrModel['adc'],
    supplyVolt: number,
    host: PeripheralHost,
    muxChanged: (at: number) => void,
  ) {
    this.#muxChanged = muxChanged
    this.#model = model
    this.#supplyVolt = supplyVolt
    this.#host = host
    this.#slot = host.slot(this)
    for (const address of [ADCSRA, ADCSRB, ADMUX]) host.hook(address, this, false)
    for (const address of [ADCL, ADCH]) host.hook(address, this, true)
    host.own(model.vector, this)
  }

  reset(at: number): void {
    this.#control = 0
    this.#locked = false
    this.#powered = true
    this.#first = true
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#host.request(this.#model.vector, false, at)
    this.#chooseTrigger(at)
  }

  read(address: number): number {
    if (address === ADCL || address === ADCH) {
      const locks = address === ADCL
      if (locks !== this.#locked) this.#host.touch()
      this.#locked = locks
    }
    return this.#host.data[address]!
  }

  power(on: boolean, at: number): void {
    if (on === this.#powered) return
    this.#powered = on
    if ((this.#control & ADSC) === 0) return
    if (on) this.#endsAt += at - this.#stoppedAt
    else this.#stoppedAt = at
    this.#host.schedule(this.#slot, on ? this.#endsAt : Number.POSITIVE_INFINITY)
  }

  write(address: number, value: number, mask: number, at: number): void {
    if (address === ADCL || address === ADCH) return
    if (address !== ADCSRA) {
      this.#host.data[address] = value
      this.#muxChanged(at)
      this.#chooseTrigger(at)
      return
    }
    const running = (this.#control & ADSC) !== 0
    let control = value & ~ADIF
    if ((value & mask & ADIF) === 0) control |= this.#control & ADIF
    if ((control & ADEN) === 0) {
      control &= ~ADSC
      this.#first = true
      this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    } else if (running) control |= ADSC
    this.#control = control
    if (!running && (control & ADSC) !== 0) this.#start(at, this.#first ? 25 : 13)
    this.#publish(at)
    this.#muxChanged(at)
    this.#chooseTrigger(at)
  }

  /** ADCSRB, or whether triggers count at all, has changed. */
  #chooseTrigger(at: number): void {
    const { triggers, triggerMask } = this.#model
    const on = (this.#control & (ADEN | ADATE)) === (ADEN | ADATE)
    const trigger = on ? triggers[this.#host.data[ADCSRB]! & triggerMask] : undefined
    if (trigger === this.#trigger) return
    this.#trigger = trigger
    this.#host.wantFlag(trigger, at)
  }

  /** The flag of the chosen trigger came up: a conversion of 13.5 clocks, with the prescaler reset (data sheet). */
  triggered(at: number): void {
    if (!this.#powered || (this.#control & ADSC) !== 0) return
    this.#control |= ADSC
    this.#start(at, this.#first ? 25 : 13.5)
    this.#publish(at)
  }

  #start(at: number, clocks: number): void {
    this.#first = false
    const divider = Math.max(2, 1 << (this.#control & 7))
    this.#tooFast = this.#host.cpuHz > divider * FASTEST_HZ
    this.#converted = this.#convert(at)
    this.#endsAt = at + clocks * divider
    this.#host.schedule(this.#slot, this.#endsAt)
  }

  voltAt(channel: number, at: number): number {
    return this.source?.(channel, at) ?? this.volts[channel]!
  }

  #convert(at: number): number {
    const { data } = this.#host
    const mux = (data[ADMUX]! & 31) | ((data[ADCSRB]! & this.#model.highMuxBit) !== 0 ? 0x20 : 0)
    const reference = this.#model.references[data[ADMUX]! >> 6]!
    const full = reference === 'supply' ? this.#supplyVolt : reference
    const channel = this.#model.channelOf(mux)
    let volt = 0
    if (channel !== undefined) {
      volt = this.voltAt(channel, at)
      if (this.#tooFast) this.#doubt(channel, mux)
      this.conversionsOf.set(channel, (this.conversionsOf.get(channel) ?? 0) + 1)
    } else if (mux === this.#model.bandgapMux) volt = BANDGAP_VOLT
    else if (mux !== this.#model.groundMux) {
      this.#host.lacks(RUN_FINDINGS.find('adc-input', { mux }), 'none')
    }
    return Math.max(0, Math.min(1023, Math.floor((volt * 1024) / full)))
  }

  /** Once for each channel. */
  #doubt(channel: number, mux: number): void {
    if (this.#doubted.has(channel)) return
    this.#doubted.add(channel)
    const pin = this.#model.pins[channel]
    const megahertz = this.#host.cpuHz / Math.max(2, 1 << (this.#control & 7)) / 1e6
    const input = pin ?? `input ${mux}`
    this.#host.lacks(RUN_FINDINGS.find('adc-clock', { megahertz, input }), pin === undefined ? 'none' : [pin])
  }

  event(at: number): void {
    this.conversions++
    const { data } = this.#host
    const left = (data[ADMUX]! & 0x20) !== 0
    const word = left ? this.#converted << 6 : this.#converted
    if (this.#locked) {
      // One alone may have come between the reads of both halves.
      if (++this.#lost === 2) this.#host.note(RUN_FINDINGS.find('adc-locked', {}))
    } else {
      this.#lost = 0
      data[ADCL] = word & 255
      data[ADCH] = word >> 8
    }
    if ((this.#control & ADIF) !== 0 && (this.#control & ADIE) !== 0) {
      this.#host.overrun(this.#model.vector, at)
    }
    this.#control |= ADIF
    // ADTS = 0: free running.
    if ((this.#control & ADATE) !== 0 && (data[ADCSRB]! & this.#model.triggerMask) === 0) this.#start(at, 13)
    else this.#control &= ~ADSC
    this.#publish(at)
  }

  #publish(at: number): void {
    this.#host.data[ADCSRA] = this.#control
    this.#host.request(this.#model.vector, (this.#control & (ADIF | ADIE)) === (ADIF | ADIE), at)
  }

  acknowledge(_vector: number, at: number): void {
    this.#control &= ~ADIF
    this.#publish(at)
  }
}
