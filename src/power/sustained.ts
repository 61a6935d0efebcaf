/**
 * What may flow continuously in a district: nothing ends a current below the trip's threshold, wherever in its band that
 * lies, so that all of the band is judged. Without a trip, a stalled railroad is what flows.
 */
import type { Uncertain } from '../corner/index.js'
import { districtTrip } from './district-trip.js'
import { onOhm } from './driver.js'
import { FUSE_KINDS, type FuseKind } from './fuse-kinds.data.js'
import type { DistrictLoad } from './load.js'
import { type DistrictStage, ownLimit } from './stage.js'
import { limitOf } from './supply-behaviour.js'

const NEVER = Number.POSITIVE_INFINITY

/** @returns `undefined` when neither a trip nor a load tells it. */
export function sustainedOf(stage: DistrictStage, load: DistrictLoad | undefined): Uncertain | undefined {
  const { name, model, supply } = stage
  const trip = districtTrip(stage)
  const limit = limitOf(supply, stage.supplyName)
  const own = ownLimit(stage)
  // What holds a current continuously, besides a trip.
  const held = Math.min(limit.high, own?.high ?? Number.POSITIVE_INFINITY)
  const what = `current that may flow continuously in ${name}`
  const within = (low: number, usual: number, high: number, source: string): Uncertain => {
    const most = Number.isFinite(Math.min(held, high)) ? Math.min(held, high) : shortOf()
    return {
      name: what,
      unit: 'A',
      low: Math.min(low, most),
      usual: Math.min(usual, most),
      high: most,
      source,
    }
  }
  const shortOf = () => {
    const ohm = supply.resistance + (onOhm(model, 25, 'typical') ?? 0) / stage.channels.length
    return (supply.voltage * (1 + supply.tolerance)) / Math.max(ohm, 1e-3)
  }
  if (trip?.reachable) return within(trip.lowAmp, trip.nominalAmp, trip.highAmp, trip.bandFrom)
  if (trip)
    return within(load?.worstAmp ?? 0, trip.nominalAmp, Number.POSITIVE_INFINITY, 'its trip never acts')
  if (!load) return undefined
  const opens = (part: { fuse?: number; fuseKind: FuseKind }) =>
    (part.fuse ?? NEVER) * FUSE_KINDS[part.fuseKind].opensAt
  const ends = Math.min(held, shortOf(), opens(stage.district), opens(supply))
  return {
    name: what,
    unit: 'A',
    low: load.worstAmp,
    usual: load.worstAmp,
    high: Math.max(load.worstAmp, load.stalledAmp, ends),
    source: 'no trip ends it: from the worst load to what supply and fuse let flow',
  }
}
