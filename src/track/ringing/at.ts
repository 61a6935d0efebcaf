/** Ringing at a place of one's choice, in place of the far end of the bus. */

import type { TrackLayout } from '../layout/layout.js'
import { findPlace } from '../layout/nearest-feeder.js'
import type { Network } from '../network/network.js'
import { type Progressive, runToEnd } from '../progress.js'
import { type RingCircuit, type RingWay, ringCircuitAt } from './circuit.js'
import { ringNetlist } from './netlist.js'
import { confirmDistrict, type DistrictRinging, districtSteps, windowUs } from './report.js'
import type { SpiceRun } from './spice.js'

/** A place on the track: the name of a section, turnout or leg, and how far from its `from` end; its middle when left out. */
export interface RingingPlace {
  section: string
  atMm?: number
}

export interface RingingAt {
  /** For people: `main.3, 0.5 m`. */
  place: string
  /** What lies between the station and the place. */
  way: RingWay
  /** The edge there is `edges.far`; `edges.wave` is its voltage over time, from rail to rail. */
  edges: DistrictRinging
  /** The circuit that was calculated, for {@link confirmRingingAt}. */
  circuit: RingCircuit
  /** The same as a plain SPICE netlist, to be written as a `.cir`. */
  netlist: string
}

/**
 * Edges at a place of the track: along the bus to the nearest feeder, down its wires, and along the rails from there to
 * the place, where no train stands.
 * @param model of `modelTrack`.
 * @param options `search`: look for the best resistor and capacitor for the ends of the bus as well; some 0.3 s.
 * @returns `undefined` when no feeder leads there.
 * @throws InputError when there is no such place.
 */
export function ringingAt(
  model: { plan: TrackLayout; net: Network },
  where: RingingPlace,
  options: { search?: boolean } = {},
): RingingAt | undefined {
  return runToEnd(ringingAtSteps(model, where, options))
}

/** {@link ringingAt} in steps. */
export function* ringingAtSteps(
  model: { plan: TrackLayout; net: Network },
  where: RingingPlace,
  options: { search?: boolean } = {},
): Progressive<RingingAt | undefined> {
  const place = findPlace(model.plan, where.section, where.atMm)
  const found = ringCircuitAt(model.plan, model.net, place)
  if (!found) return undefined
  const { circuit, way } = found
  return {
    place: place.name,
    way,
    edges: yield* districtSteps(circuit, options.search ?? false),
    circuit,
    netlist: ringNetlist(circuit, windowUs(circuit)),
  }
}

/** The same with the waves of a SPICE engine. @throws SpiceUnavailable */
export async function confirmRingingAt(had: RingingAt, run: SpiceRun): Promise<RingingAt> {
  return { ...had, edges: await confirmDistrict(had.circuit, had.edges, run) }
}
