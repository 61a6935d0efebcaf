/** How the districts are fed, with a fault or without. */
import type { Effects, Wave } from '../faults/effects.js'
import type { DistrictFacts, Station } from './station.js'
import type { FaultyWiring } from './wiring.js'
import type { Span } from './wiring-edit.js'

const USUAL: Wave = { ac: 1, dc: 0 }
const NOTHING: Wave = { ac: 0, dc: 0 }
const AS_DESIGNED: Span = { low: 1, high: 1 }
const NO_OHM: Span = { low: 0, high: 0 }

export interface Fed {
  district: DistrictFacts
  name: string
  wave: Wave
  /** Of the supply's usual voltage. */
  share: Span
  extraOhm: Span
}

/** How a district is fed with the fault: not at all where its source trips at once. */
export function fed(station: Station, effects: Effects, wiring: FaultyWiring | undefined, name: string): Fed {
  const district = station.districts.get(name)!
  const supply = effects.supplies.get(district.stage.supplyName)
  const base = effects.waves.get(name) ?? USUAL
  return {
    district,
    name,
    wave: wiring && isTripped(district, wiring) ? NOTHING : base,
    share: supply?.share ?? AS_DESIGNED,
    extraOhm: supply?.ohm ?? NO_OHM,
  }
}

/** Whether the source of a district trips at once. */
export function isTripped({ index, trip }: DistrictFacts, wiring: FaultyWiring): boolean {
  if (index === undefined) return false
  const { low, high } = wiring.terminals(index).amp
  return Math.max(low, high) > (trip?.amp ?? 20)
}
