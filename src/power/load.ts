/** What a district feeds, as the power stage sees it. `track/` works it out of trains and wiring. */
import type { DistrictDesign } from './design/index.js'

export interface StayAlive {
  capacitanceFarad: number
  /** Charging resistor, Ohm. */
  resistanceOhm: number
  count: number
}

export interface DistrictLoad {
  /** Usual current, everything that is meant to run at once. */
  runningAmp: number
  /** Worst credible: the heaviest traffic with sound, lights and one stalled locomotive. */
  worstAmp: number
  /** Every motor stalled at once. */
  stalledAmp: number
  stayAlive?: readonly StayAlive[]
  /** Decoders, each with a capacitor of its own; one when absent. */
  decoders?: number
  /** Trains of other districts that may be parked here: their capacitors charge at power-up, and they draw nothing else. */
  parked?: { decoders: number; stayAlive: readonly StayAlive[] }
  /** Wiring there and back to the farthest place, Ohm. */
  wiringOhm?: number
  /** Every kind of wire in the district, with what it carries continuously where that is known, A. */
  conductors?: readonly { name: string; areaMm2: number; amp?: number }[]
  /** The joiner and the connector nearest to their limits: what it carries continuously, A, and how quickly it warms, us. */
  joints?: readonly { name: string; amp: number; tauUs: { low: number; high: number } }[]
  /** Resistors with a capacitor across the ends of its bus; `ratedWatt` absent where the design gives none. */
  terminators?: readonly { name: string; ohm: number; ratedWatt?: number }[]
  /** Cross-section of the thinnest wire in the way of a short, mm2. */
  thinnestWireMm2?: number
}

/** What the design itself says a district feeds, where the railroad is not described. */
export function loadOfDesign(district: DistrictDesign): DistrictLoad | undefined {
  const { load } = district
  if (!load) return undefined
  const result: DistrictLoad = {
    runningAmp: load.running,
    worstAmp: load.worst ?? load.running,
    stalledAmp: load.stalled ?? load.worst ?? load.running,
    stayAlive: (load.stayAlive ?? []).map((s) => ({
      capacitanceFarad: s.capacitance,
      resistanceOhm: s.resistance,
      count: s.count,
    })),
  }
  if (load.wiring !== undefined) result.wiringOhm = load.wiring
  if (load.decoders !== undefined) result.decoders = load.decoders
  if (load.thinnestWire !== undefined) result.thinnestWireMm2 = load.thinnestWire
  return result
}
