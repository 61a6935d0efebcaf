/**
 * What a short does to the current sense: the voltage it drives at the converter pin, the current into the pin's clamp,
 * and the heat in the shunt, as a pulse until it is off and for ever below the trip.
 */
import { type CornerQuestion, exactly, type Quantities, type Uncertain, type Values, within } from '../corner/index.js'
import type { PowerDesign, SenseDesign } from './design/index.js'
import type { ShortOutcome } from './short.js'
import type { SourceModel, SourceQuantity } from './source.js'
import type { DistrictStage } from './stage.js'

/** How far above its supply a pin may be driven, V: ATmega328P data sheet, absolute maximum ratings (from memory). */
const PIN_ABOVE_SUPPLY_VOLT = 0.5
/** Current that a pin's clamp diodes carry, A: application notes of several makers, from memory. */
const CLAMP_AMP = 1e-3
/** Short-time overload of resistors: 2.5 times the rated voltage for 5 s. IEC 60115-1, from memory. */
export const OVERLOAD_POWER = 2.5 ** 2
const OVERLOAD_US = 5e6

export type StressQuantity = SourceQuantity | 'shunt' | 'sustained'

export interface SenseStress {
  share: number
  what: 'pin' | 'clamp' | 'pulse' | 'power' | 'unrated shunt'
  /** Most at the pin, V, and in the shunt, W. */
  pinVolt: number
  pinMaxVolt: number
  pulseWatt: number
  sustainedWatt: number
}

/** Voltage at the converter per ampere at this instant: not the mean that a one-sided sense shows. */
function voltPerAmpOf(sense: SenseDesign & object, stage: DistrictStage, ohm: number): number {
  if (sense.kind === 'hall') return (sense.sensitivity ?? 0) * sense.gain
  if (sense.kind === 'mirror') return (stage.model.mirror ?? 0) * (1 + (stage.model.mirrorSpread ?? 0)) * ohm * sense.gain
  return ohm * sense.gain
}

export function senseStressQuestion(
  stage: DistrictStage,
  source: SourceModel,
  sustained: Uncertain | undefined,
  outcome: (v: Values<SourceQuantity>) => ShortOutcome,
  power: PowerDesign,
): { question: CornerQuestion<StressQuantity>; stress(v: Values<StressQuantity>): SenseStress } | undefined {
  const { sense } = stage.district
  if (!sense) return undefined
  const quantities: Quantities<StressQuantity> = {
    ...source.quantities,
    shunt: within(
      `resistance of the sense of ${stage.name}`,
      sense.resistance ?? 0,
      sense.tolerance,
      'Ohm',
      'its tolerance',
    ),
    sustained: sustained ?? exactly(`current that may flow for ever in ${stage.name}`, 0, 'A', 'not known'),
  }
  const logicVolt = power.controller?.voltage ?? sense.reference
  const pinMaxVolt = sense.pinMax ?? logicVolt + PIN_ABOVE_SUPPLY_VOLT
  const amplified = sense.gain !== 1 || sense.kind === 'hall'
  const stress = (v: Values<StressQuantity>): SenseStress => {
    const { amp, offUs } = outcome(v)
    let pinVolt = sense.zero + amp * voltPerAmpOf(sense, stage, v.shunt)
    // An amplifier goes no higher than its own supply.
    if (amplified && sense.amplifierSupply !== undefined) pinVolt = Math.min(pinVolt, sense.amplifierSupply)
    const result: SenseStress = { share: 0, what: 'pin', pinVolt, pinMaxVolt, pulseWatt: 0, sustainedWatt: 0 }
    const worse = (share: number, what: SenseStress['what']) => {
      if (share > result.share) Object.assign(result, { share, what })
    }
    if (sense.series !== undefined && pinVolt > pinMaxVolt)
      worse((pinVolt - pinMaxVolt) / sense.series / CLAMP_AMP, 'clamp')
    else worse(pinVolt / pinMaxVolt, 'pin')
    if (sense.kind !== 'shunt') return result
    result.pulseWatt = amp * amp * v.shunt
    result.sustainedWatt = v.sustained * v.sustained * v.shunt
    if (sense.power === undefined) {
      worse(shuntShare(result, SMALLEST_WATT, offUs) > 1 ? 2 : result.share, 'unrated shunt')
      return result
    }
    worse(result.sustainedWatt / sense.power, 'power')
    worse(shuntShare(result, sense.power, offUs), 'pulse')
    return result
  }
  return {
    quantities,
    question: {
      quantities,
      margin: (v) => 1 - stress(v).share,
      unfavourable: { shunt: 'high', sustained: 'high', trip: 'high', delay: 'high', hiccupOn: 'low' },
    },
    stress,
  } as { question: CornerQuestion<StressQuantity>; stress(v: Values<StressQuantity>): SenseStress }
}

/** The smallest resistor that anyone would fit as a shunt, W; without a rating no more is counted on. */
export const SMALLEST_WATT = 0.0625

/** A pulse against the short-time overload; one that lasts longer than that test, against the rating. */
function shuntShare(s: SenseStress, ratedWatt: number, offUs: number): number {
  if (s.pulseWatt <= ratedWatt) return s.pulseWatt / ratedWatt / OVERLOAD_POWER
  return offUs <= OVERLOAD_US ? s.pulseWatt / (ratedWatt * OVERLOAD_POWER) : s.pulseWatt / ratedWatt
}
