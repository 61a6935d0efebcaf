/** How long an edge takes at the driver, and how that is known. */
import { DRIVER_PARTS, type DriverModel } from '../../power/index.js'
import { formatTimeUs } from '../../units/index.js'
import type { TrackLayout } from '../layout/layout.js'
import type { Network } from '../network/network.js'

export interface DriverEdge {
  /** From one voltage to the other, us. */
  us: number
  /** `given`: by the design file; `driver`: from the driver's rise and fall time; `assumed`: nobody says. */
  from: 'given' | 'driver' | 'assumed'
  /** In words: `the 100 ns rise of DRV8874, from memory`. */
  because: string
  /** Where it is assumed, between which edges of known drivers it may lie, us. */
  between?: { fastUs: number; slowUs: number }
}

/** Rise and fall times are told from 10 to 90 %: the whole ramp takes so much longer. */
const PART_OF_RAMP = 0.8
/** Shorter than this the ladder's pieces cannot follow, and no driver stage is, us. */
const SHORTEST_US = 0.005

/**
 * The whole ramp of a driver, us: the quicker of rise and fall, for it rings more; undefined where the driver has neither.
 */
export function driverEdge(model: DriverModel): { us: number; because: string } | undefined {
  const { riseUs, fallUs } = model
  if (riseUs === undefined && fallUs === undefined) return undefined
  const rises = (riseUs ?? Number.POSITIVE_INFINITY) <= (fallUs ?? Number.POSITIVE_INFINITY)
  const us = rises ? riseUs! : fallUs!
  const status = model.status[rises ? 'riseUs' : 'fallUs']
  const known = status === 'given' ? 'from the design' : (status ?? 'from memory')
  return {
    us: Math.max(SHORTEST_US, us / PART_OF_RAMP),
    because: `the ${formatTimeUs(us, 3)} ${rises ? 'rise' : 'fall'} of ${model.name}, 10 to 90 %, ${known}`,
  }
}

/** Edge that is assumed where neither design nor driver tells one, us; common practice, no source. */
const ASSUMED_US = 0.5

function knownEdges(): { fastUs: number; slowUs: number } {
  const all = DRIVER_PARTS.flatMap((p) => [p.figures.riseUs, p.figures.fallUs].flatMap((f) => f?.value ?? []))
  return {
    fastUs: Math.max(SHORTEST_US, Math.min(...all) / PART_OF_RAMP),
    slowUs: Math.max(...all) / PART_OF_RAMP,
  }
}

/** Edge of a district: the design's own, else its driver's, else an assumed one with its bounds. */
export function edgeOf(plan: TrackLayout, net: Network, district: number): DriverEdge {
  const given = plan.design.ringing?.edge
  if (given !== undefined) return { us: given, from: 'given', because: 'given in the design' }
  const own = net.sources[district]!.edge
  if (own) return { ...own, from: 'driver' }
  const between = knownEdges()
  return {
    us: ASSUMED_US,
    from: 'assumed',
    between,
    because: `assumed: the driver's rise and fall times are not known, drivers have ${formatTimeUs(between.fastUs, 2)} to ${formatTimeUs(between.slowUs, 3)}`,
  }
}
