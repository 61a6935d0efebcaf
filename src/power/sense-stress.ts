/**
 * What a short does to the current sense: the voltage it drives at the converter pin or the amplifier's input, the
 * current into the pin's clamp, and the heat in the shunt, as a pulse until it is off and continuously below the trip.
 */
import type { LogicLevels } from '../controller/index.js'
import {
  between,
  type CornerQuestion,
  exactly,
  type Quantities,
  type Uncertain,
  type Values,
  within,
} from '../corner/index.js'
import type { SenseDesign } from './design/index.js'
import { mirrorSpread } from './driver.js'
import type { ShortOutcome } from './short.js'
import { capacitorsBehind, responseOf, type SourceModel, type SourceQuantity } from './source.js'
import { type DistrictStage, limitsAtOnce, limitTakesUs } from './stage.js'

/** Current that a pin's clamp diodes carry, A: application notes of several makers, from memory. */
const CLAMP_AMP = 1e-3
/** Short-time overload of resistors: 2.5 times the rated voltage for 5 s. IEC 60115-1, from memory. */
export const OVERLOAD_POWER = 2.5 ** 2
const OVERLOAD_US = 5e6
/** More than any supply has at its output, F; assumed, no source. */
const MOST_FARAD = 1
/** The smallest resistor that anyone would fit as a shunt, W: of one without a rating no more is counted on. */
export const SMALLEST_WATT = 0.0625

export type StressQuantity = SourceQuantity | 'shunt' | 'sustained' | 'ratedWatt' | 'pinMax' | 'inputMax'

export interface SenseStress {
  /** Greatest share of what a part of the sense survives; 1 is its limit. */
  share: number
  /** Which part that is. */
  what: 'pin' | 'clamp' | 'input' | 'pulse' | 'power'
  amp: number
  pinVolt: number
  /** At the input of the amplifier, V; 0 without one. */
  inputVolt: number
  pulseWatt: number
  sustainedWatt: number
}

export interface SenseStressModel {
  question: CornerQuestion<StressQuantity>
  stress(v: Values<StressQuantity>): SenseStress
  /** The current at which the converter pin is at its limit, with its clamp, A. */
  pinAmp(worst: boolean): number
}

/** @returns `undefined` for a district without a current sense. */
export function senseStress(
  stage: DistrictStage,
  source: SourceModel,
  sustained: Uncertain | undefined,
  outcome: (v: Values<SourceQuantity>) => ShortOutcome,
  levels: LogicLevels | undefined,
): SenseStressModel | undefined {
  const { sense } = stage.district
  if (!sense) return undefined
  const of = `of the sense of ${stage.name}`
  const quantities: Quantities<StressQuantity> = {
    ...source.quantities,
    // A driver's own limit bounds what they drive into the pin, but does not spare it.
    capacitor: finite(capacitorsBehind(stage)),
    response: limitsAtOnce(stage.model) ? responseOf(stage) : source.quantities.response,
    shunt: within(`resistance ${of}`, sense.resistance ?? 0, sense.tolerance, 'Ohm', 'its tolerance'),
    sustained:
      sustained ??
      exactly(`current that may flow continuously in ${stage.name}`, 0, 'A', 'neither trip nor load tells'),
    ratedWatt: ratedWatt(sense, of),
    pinMax: pinMax(sense, of, levels),
    inputMax: inputMax(sense, of),
  }
  const stress = (v: Values<StressQuantity>): SenseStress => {
    const { amp, offUs } = outcome(v)
    // The pin sees what flows before the supply's limit acts, too, up to the driver's own limit; the shunt's heat hardly does.
    const empties = v.capacitor > 0 || v.response > 0
    const isLimited = limitsAtOnce(stage.model)
    const own = isLimited ? v.ownLimit : Number.POSITIVE_INFINITY
    const freeAmp = empties
      ? source.pulseAmp(v)
      : source.fault({ ...v, ownLimit: Number.POSITIVE_INFINITY }).amp
    const lastingAmp = empties ? Math.max(amp, Math.min(freeAmp, own)) : amp
    // Until the driver's own limit acts nothing holds it, and so much of that passes the filter. Its sense output is no quicker.
    const earlyAmp = isLimited && sense.kind !== 'mirror' ? Math.max(freeAmp, lastingAmp) : lastingAmp
    const passes = sense.filter > 0 ? -Math.expm1(-limitTakesUs(stage.model) / sense.filter) : 1
    const peakAmp = isLimited ? Math.max(lastingAmp, earlyAmp * passes) : lastingAmp
    let pinVolt = sense.zero + peakAmp * voltPerAmp(sense, stage, v.shunt)
    // An amplifier goes no higher than its own supply.
    if (sense.amplifierSupply !== undefined && (sense.gain !== 1 || sense.kind === 'hall'))
      pinVolt = Math.min(pinVolt, sense.amplifierSupply)
    const inputVolt = amplifies(sense) ? (earlyAmp * voltPerAmp(sense, stage, v.shunt)) / sense.gain : 0
    const pulseWatt = sense.kind === 'shunt' ? amp * amp * v.shunt : 0
    const sustainedWatt = sense.kind === 'shunt' ? v.sustained * v.sustained * v.shunt : 0
    const overload = offUs <= OVERLOAD_US ? OVERLOAD_POWER : 1
    const shares: [SenseStress['what'], number][] = [
      sense.series !== undefined && pinVolt > v.pinMax
        ? ['clamp', (pinVolt - v.pinMax) / sense.series / CLAMP_AMP]
        : ['pin', pinVolt / v.pinMax],
      ['input', inputVolt / v.inputMax],
      ['power', sustainedWatt / v.ratedWatt],
      ['pulse', pulseWatt / (v.ratedWatt * overload)],
    ]
    const [what, share] = shares.reduce((a, b) => (b[1] > a[1] ? b : a))
    const atOnce = what === 'pin' || what === 'clamp' || what === 'input'
    const flows = what === 'input' ? earlyAmp : atOnce ? peakAmp : amp
    return { share, what, amp: flows, pinVolt, inputVolt, pulseWatt, sustainedWatt }
  }
  return {
    question: {
      quantities,
      margin: (v) => 1 - stress(v).share,
      unfavourable: {
        shunt: 'high',
        sustained: 'high',
        ratedWatt: 'low',
        pinMax: 'low',
        inputMax: 'low',
        trip: 'high',
        delay: 'high',
        clock: 'high',
        capacitor: 'high',
        response: 'high',
        peak: 'low',
        hiccupOn: 'high',
        limitLasts: 'high',
        holdUp: 'low',
        // The more flows, the more of it meets the sense, for every length of time.
        volt: 'high',
        limit: 'high',
        shortCurrent: 'high',
        ownLimit: 'high',
        part: 'low',
        junction: 'low',
        beside: 'low',
      },
    },
    stress,
    pinAmp: (worst) => {
      const ohm = worst ? quantities.shunt.high : quantities.shunt.low
      const perAmp = voltPerAmp(sense, stage, ohm)
      const most = worst ? quantities.pinMax.low : quantities.pinMax.high
      const withstands = most + (sense.series ?? 0) * CLAMP_AMP
      const amplified = sense.amplifierSupply !== undefined && (sense.gain !== 1 || sense.kind === 'hall')
      if (perAmp <= 0 || (amplified && sense.amplifierSupply! <= withstands)) return Number.POSITIVE_INFINITY
      return (withstands - sense.zero) / perAmp
    },
  }
}

/** How much they hold does not matter to a pin: only whether there are any. */
function finite(capacitors: Uncertain): Uncertain {
  return Number.isFinite(capacitors.high) ? capacitors : { ...capacitors, high: MOST_FARAD }
}

/** What reaches the current sense through a shunt that is open, and as a share of what it withstands. */
export function openShunt(
  stage: DistrictStage,
  levels: LogicLevels | undefined,
): { volt: number; part: string; share: { low: number; high: number } } {
  const sense = stage.district.sense!
  const of = `of the sense of ${stage.name}`
  const volt = stage.supply.voltage * (1 + stage.supply.tolerance)
  const withstands = (amplifies(sense) ? inputMax : pinMax)(sense, of, levels)
  const share = (most: number) =>
    !amplifies(sense) && sense.series !== undefined && volt > most
      ? (volt - most) / sense.series / CLAMP_AMP
      : volt / most
  return {
    volt,
    part: amplifies(sense) ? "the amplifier's input" : 'the converter pin',
    share: { low: share(withstands.high), high: share(withstands.low) },
  }
}

function ratedWatt(sense: SenseDesign & object, of: string): Uncertain {
  const name = `rated power of the shunt ${of}`
  if (sense.kind !== 'shunt') return exactly(name, 1, 'W', 'there is none')
  if (sense.power !== undefined) return exactly(name, sense.power, 'W', 'the design')
  const all = { low: SMALLEST_WATT, high: Number.POSITIVE_INFINITY }
  return { ...between(name, all, 'W', 'not given'), unknown: true }
}

function pinMax(sense: SenseDesign & object, of: string, levels: LogicLevels | undefined): Uncertain {
  const name = `highest voltage at the converter pin ${of}`
  if (sense.pinMax !== undefined) return exactly(name, sense.pinMax, 'V', 'the design')
  if (levels) return exactly(name, levels.pinMaxVolt, 'V', `${levels.source}, ${levels.status}`)
  const all = { low: sense.reference, high: Number.POSITIVE_INFINITY }
  return { ...between(name, all, 'V', 'not given, and the chip is not known'), unknown: true }
}

/** An amplifier between the resistor and the converter, be it a follower: a Hall sensor has none. */
function amplifies({ kind, gain, amplifierSupply, amplifierInputMax }: SenseDesign & object): boolean {
  return kind !== 'hall' && (gain !== 1 || amplifierSupply !== undefined || amplifierInputMax !== undefined)
}

function inputMax(sense: SenseDesign & object, of: string): Uncertain {
  const name = `highest voltage at the input of the amplifier ${of}`
  if (!amplifies(sense)) return exactly(name, Number.POSITIVE_INFINITY, 'V', 'there is none')
  if (sense.amplifierInputMax !== undefined) return exactly(name, sense.amplifierInputMax, 'V', 'the design')
  const low = sense.amplifierSupply ?? sense.reference
  return { ...between(name, { low, high: Number.POSITIVE_INFINITY }, 'V', 'not given'), unknown: true }
}

/** Voltage at the converter per ampere at an instant: not the mean that a one-sided sense shows. */
function voltPerAmp(sense: SenseDesign & object, { model }: DistrictStage, ohm: number): number {
  if (sense.kind === 'hall') return (sense.sensitivity ?? 0) * sense.gain
  if (sense.kind === 'mirror') return (model.mirror ?? 0) * (1 + mirrorSpread(model)) * ohm * sense.gain
  return ohm * sense.gain
}
