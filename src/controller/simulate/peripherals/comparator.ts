/**
 * Analog comparator. Source: ATmega328P data sheet (DS40001906C), "Analog Comparator": AIN0 or the bandgap against
 * AIN1 or, with ACME and the converter off, one of its inputs; interrupt and input capture on its edges. The delay of
 * its output (1 to 2 cycles, and 0.5 us) is left out; a difference of zero counts as low.
 */
import type { AvrModel } from '../../chips/index.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'

const ACSR = 0x50
const ADCSRA = 0x7a
const ADCSRB = 0x7b
const ADMUX = 0x7c
const ACD = 0x80
const ACBG = 0x40
const ACO = 0x20
const ACI = 0x10
const ACIE = 0x08
const ACIC = 0x04
const ACME = 0x40
const ADEN = 0x80
const BANDGAP_VOLT = 1.1
/** Between looks at an input that changes by itself, us: on the bench differences below mean nothing. */
const LOOK_EVERY_US = 10

export interface ComparatorInputs {
  /** Voltage at a pin: given from outside, or its level. */
  voltAt(pin: string): number
  /** Voltage of the converter's input at a time, by its number on the multiplexer; undefined: none. */
  voltOfMux(mux: number, at: number): number | undefined
  /** The converter's inputs change by themselves, so that they have to be looked at. */
  muxIsLive(): boolean
  /** Input capture of Timer 1. */
  capture(rising: boolean, at: number): void
}

export class Comparator implements Peripheral {
  readonly #host: PeripheralHost
  readonly #model: AvrModel
  readonly #inputs: ComparatorInputs
  #control = 0
  /** The program has looked at it, or set it up: until then nothing depends on its output. */
  #used = false
  readonly #slot: number

  constructor(model: AvrModel, host: PeripheralHost, inputs: ComparatorInputs) {
    this.#model = model
    this.#host = host
    this.#inputs = inputs
    this.#slot = host.slot(this)
    host.hook(ACSR, this, true)
    host.own(model.comparator.vector, this)
  }

  reset(at: number): void {
    this.#control = 0
    this.#used = false
    this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
    this.#publish(at)
  }

  read(address: number, at: number): number {
    this.#use(at)
    if (this.#inputs.muxIsLive()) this.update(at)
    return this.#host.data[address]!
  }

  #use(at: number): void {
    if (this.#used) return
    this.#used = true
    this.update(at)
    // What happened before nobody looked is no event.
    this.#control &= ~ACI
    this.#publish(at)
  }

  wantFlag(vector: number | undefined, at: number): void {
    if (vector !== undefined) this.#use(at)
  }

  write(_address: number, value: number, mask: number, at: number): void {
    this.#use(at)
    const flag = (value & mask & ACI) !== 0 ? 0 : this.#control & ACI
    this.#control = (value & ~(ACO | ACI)) | (this.#control & ACO) | flag
    this.update(at)
    this.#publish(at)
  }

  event(at: number): void {
    this.update(at)
  }

  /** Whether Timer 1 captures on this output instead of its pin. */
  get capturesTimer1(): boolean {
    return (this.#control & ACIC) !== 0
  }

  /** An input may have changed. */
  update(at: number): void {
    const off = !this.#used || (this.#control & ACD) !== 0
    if (off) {
      this.#host.schedule(this.#slot, Number.POSITIVE_INFINITY)
      return
    }
    const { data } = this.#host
    const { comparator, adc } = this.#model
    const positive = (this.#control & ACBG) !== 0 ? BANDGAP_VOLT : this.#inputs.voltAt(comparator.positive)
    const multiplexed = (data[ADCSRB]! & ACME) !== 0 && (data[ADCSRA]! & ADEN) === 0
    // Whoever reads the output looks at it then.
    const isWatched = (this.#control & (ACIE | ACIC)) !== 0
    const again = isWatched && multiplexed && this.#inputs.muxIsLive()
    this.#host.schedule(
      this.#slot,
      again ? at + Math.round((LOOK_EVERY_US * this.#host.cpuHz) / 1e6) : Number.POSITIVE_INFINITY,
    )
    const high = (data[ADCSRB]! & adc.highMuxBit) !== 0 ? 0x20 : 0
    const negative = multiplexed
      ? (this.#inputs.voltOfMux((data[ADMUX]! & 31) | high, at) ?? 0)
      : comparator.negative === undefined
        ? 0
        : this.#inputs.voltAt(comparator.negative)
    const out = positive > negative
    if (out === ((this.#control & ACO) !== 0)) return
    this.#control = out ? this.#control | ACO : this.#control & ~ACO
    if (this.capturesTimer1) this.#inputs.capture(out, at)
    const sense = this.#control & 3
    if (sense === 0 || (sense === 2 && !out) || (sense === 3 && out)) {
      const { vector } = comparator
      if ((this.#control & ACI) === 0) this.#host.raised(vector, at)
      else if ((this.#control & ACIE) !== 0) this.#host.overrun(vector, at)
      this.#control |= ACI
    }
    this.#publish(at)
  }

  #publish(at: number): void {
    this.#host.data[ACSR] = this.#control
    const on = (this.#control & (ACI | ACIE)) === (ACI | ACIE)
    this.#host.request(this.#model.comparator.vector, on, at)
  }

  acknowledge(_vector: number, at: number): void {
    this.#control &= ~ACI
    this.#publish(at)
  }
}
