/** Inductance and capacitance of a pair of wires. */
import type { BusRunDesign } from '../design/track.js'

const MU0 = 4e-7 * Math.PI
const EPSILON0 = 8.8541878128e-12

export interface LineConstants {
  /** Of the loop, H/m. */
  henryPerM: number
  /** Between the wires, F/m. */
  faradPerM: number
  /** √(L/C), Ohm. */
  impedanceOhm: number
}

/**
 * Two parallel round wires: L = µ0/π · acosh(D/d), C = π·ε0·εr / acosh(D/d) (transmission-line reference tables).
 * @param diameterMm of the conductor; @param spacingMm between the middles, more than the diameter.
 * @param permittivity relative: 1 in air, about 2.5 inside PVC insulation.
 */
export function parallelWires(diameterMm: number, spacingMm: number, permittivity: number): LineConstants {
  const a = Math.acosh(Math.max(1.001, spacingMm / diameterMm))
  const henryPerM = (MU0 / Math.PI) * a
  const faradPerM = (Math.PI * EPSILON0 * permittivity) / a
  return { henryPerM, faradPerM, impedanceOhm: Math.sqrt(henryPerM / faradPerM) }
}

/** Insulation of both wires together between two touching conductors, mm; common practice, no source. */
const TOUCHING_MM = { twisted: 1.2, parallel: 1.6 } as const

/** A bus run's constants. A twisted pair counts as touching wires, 3 % longer for the twist (from memory). */
export function runConstants(
  geometry: BusRunDesign['geometry'],
  diameterMm: number,
  spacingMm?: number,
): LineConstants {
  if (geometry === 'spaced') {
    // Wires farther apart than their insulation: mostly air between them.
    return parallelWires(diameterMm, Math.max(spacingMm ?? 50, diameterMm * 1.05), 1)
  }
  const line = parallelWires(diameterMm, diameterMm + TOUCHING_MM[geometry], 2.5)
  if (geometry === 'parallel') return line
  return { ...line, henryPerM: line.henryPerM * 1.03, faradPerM: line.faradPerM * 1.03 }
}

/** A pair of rails, H0 gauge: about 1.3 µH/m and 8.5 pF/m (derived); other gauges differ little. */
export const RAIL_PAIR: LineConstants = {
  henryPerM: 1.3e-6,
  faradPerM: 8.5e-12,
  impedanceOhm: Math.sqrt(1.3e-6 / 8.5e-12),
}

/** Two feeder wires a few millimetres apart: 0.8 µH/m and 40 pF/m (derived). */
export const FEEDER_PAIR: LineConstants = {
  henryPerM: 0.8e-6,
  faradPerM: 40e-12,
  impedanceOhm: Math.sqrt(0.8e-6 / 40e-12),
}

/** Loss angle of PVC at some megahertz; from memory. */
const PVC_LOSS = 0.04
/** Share of a pair's field that lies in its insulation, by its capacitance against that of rails in air. */
const AIR_FARAD_PER_M = 12e-12

/**
 * Losses that only high frequencies have. The skin effect of a round conductor: ρ/(π·d·δ) with δ = √(ρ/(π·f·µ)), so that
 * R(f) is √(ρ·µ·f/π)/d for each; d from its resistance. The dielectric: ω·C·tan δ.
 * @param ohmPerM both conductors, direct current
 */
export function highFrequencyLoss(
  line: LineConstants,
  ohmPerM: number,
  hertz: number,
): { skinOhmPerM: number; siemensPerFarad: number } {
  const rho = 1.7241e-8
  const diameter = Math.sqrt((8 * rho) / (Math.PI * Math.max(1e-4, ohmPerM)))
  const whole = (2 * Math.sqrt((rho * MU0 * hertz) / Math.PI)) / diameter
  const insulated = line.faradPerM > AIR_FARAD_PER_M
  return {
    skinOhmPerM: Math.max(0, whole - ohmPerM),
    siemensPerFarad: insulated ? 2 * Math.PI * hertz * PVC_LOSS : 0,
  }
}
