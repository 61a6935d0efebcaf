/** What a district feeds, as the power stage sees it. `track/` works it out of trains and wiring. */
import { between, exactly, type Uncertain } from '../corner/index.js'
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
  /** Of the usual current, what draws as a resistor does: lamps, which draw more while they are cold. None when absent. */
  resistiveAmp?: number
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
  /** Cross-section of the thinnest wire in the way of a short, mm2. */
  thinnestWireMm2?: number
}

/** A resistor with a capacitor across the end of a bus; `ratedWatt` absent where the design gives none. */
export interface Terminator {
  name: string
  ohm: number
  ratedWatt?: number
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

/** A cold tungsten filament has about a tenth of its resistance when it glows; common practice, no source. */
const COLD_TIMES = 10

/** How many times their usual current lamps draw while they are cold. */
export function coldOf(loads: readonly DistrictLoad[]): Uncertain {
  const [name, unit] = ['current that cold lamps draw', 'times what they draw when lit']
  return loads.every((l) => (l.resistiveAmp ?? 0) === 0)
    ? exactly(name, 1, unit, 'there are none')
    : between(
        name,
        { low: 1, high: COLD_TIMES },
        unit,
        'the design does not say whether "load: resistor" stands for filament lamps, which draw about ten times as much for a tenth of a second (common practice, no source)',
      )
}

/** What a district draws beside its capacitors when it is switched on, A. */
export function atFirstAmp({ runningAmp, resistiveAmp = 0 }: DistrictLoad, cold: number): number {
  return runningAmp + (cold - 1) * resistiveAmp
}
