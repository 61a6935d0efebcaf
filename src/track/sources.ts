/** What feeds the track, from the power stage's part of the design. */

import type { Uncertain } from '../corner/index.js'
import {
  type ClockShare,
  COLD_C,
  chainOf,
  type DistrictLoad,
  type DistrictModel,
  type DistrictStage,
  type DistrictTrip,
  delayRange,
  districtModels,
  districtSource,
  driverLine,
  driverSkewUs,
  foldbackAmp,
  heldRange,
  type PowerDesign,
  type SourceModel,
  type StayAlive,
  senseOfInputs,
  sharedBetween,
  standsAtFirst,
  strongestAmp,
  type Terminator,
} from '../power/index.js'
import type { SignalDesign } from '../signal/index.js'
import { wireConductor } from './conductors/conductor.js'
import type { RollingStockDesign } from './design/track.js'
import { DesignConflict } from './design-conflict.js'
import { hottestAllowed } from './heat/evidence.js'
import { hotJointsOfEachKind, jointLimit } from './heat/joints.js'
import type { Stand } from './layout/layout.js'
import type { TrackModel } from './model.js'
import type { DistrictSource, DriverPartFigures, SourceWiring } from './network/network.js'
import { visitorsOf } from './network/visitors.js'
import { driverEdge } from './ringing/edge.js'

/**
 * Sources by power district. Counted on in the unfavourable case: the lowest supply voltage, the trip threshold with
 * its error, a supply that gives no more than its limit (or its rating, when its limit is not known).
 * @throws InputError when a district's driver or supply cannot be found.
 */
export function sourcesFromPower(
  power: PowerDesign,
  signal?: SignalDesign,
  clock?: ClockShare,
): Map<string, DistrictSource> {
  const models = districtModels(power, signal, undefined, clock)
  return new Map(models.map((m) => [m.stage.name, sourceFrom(m, models, signal)]))
}

/** Kept with the district's model, which is the same one where nothing has changed. */
const lastSources = new WeakMap<DistrictModel, DistrictSource>()

function sourceFrom(
  m: DistrictModel,
  models: readonly DistrictModel[],
  signal: SignalDesign | undefined,
): DistrictSource {
  const sense = senseOfInputs(m.stage.driver.pins, m.stage.output, signal)
  const known = lastSources.get(m)
  if (known && known.wiring?.sense === sense) return known
  const made = makeSource(
    m,
    models.map((other) => other.stage),
    sense,
  )
  lastSources.set(m, made)
  return made
}

function makeSource(
  { stage, source: model, heats, hotC }: DistrictModel,
  stages: readonly DistrictStage[],
  sense: SourceWiring['sense'],
): DistrictSource {
  const { name } = stage
  const trip = model?.trip
  const about = trip?.nominalAmp ?? stage.district.load?.running ?? 1
  const source = districtSource(stage, about, hotC)
  if (!source)
    throw new DesignConflict(
      ['power', 'drivers', stage.driverName],
      `the driver of district "${name}" has no on-resistance and no saturation voltage: name a known part or give its figures`,
    )
  const { supply } = stage
  const edge = driverEdge(stage.model)
  const { leastAmp: sure, mostAmp: most } = heldRange(stage)
  // Through the same channels everything else of the driver weighs, through others only the supply does.
  const beside = stages.flatMap((other) => {
    const shared = sharedBetween(stage, other)
    if (!shared) return []
    return [{ district: other.name, ohm: shared === 'channels' ? source.ohm : supply.resistance }]
  })
  return {
    openVolt: {
      low: Math.max(0, source.lowVolt - source.dropVolt),
      usual: Math.max(0, source.nominalVolt - source.dropVolt),
      high: source.highVolt,
    },
    sourceOhm: source.ohm,
    sourceLeastOhm: leastOhm(stage, about),
    ...(trip ? { tripAmp: trip.highAmp } : {}),
    ...(Number.isFinite(sure) ? { limitAmp: sure } : {}),
    ...(Number.isFinite(most) ? { limitHighAmp: most } : {}),
    ...(supply.limit === 'foldback'
      ? { foldbackAmp: (ohm: number, most: boolean) => foldbackAmp(stage, ohm, most)! }
      : {}),
    ...(beside.length > 0 ? { beside } : {}),
    wiring: {
      supply: stage.supplyName,
      driver: stage.driverName,
      channels: stage.channels,
      ...(stage.output === undefined ? {} : { output: stage.output }),
      ...groundOf(stage, stages),
      ...(sense ? { sense } : {}),
      part: partOf(stage),
    },
    ...(trip ? { tripLowAmp: trip.lowAmp } : {}),
    stands: (amp: number, favourable = false) => {
      const strongest = strongestAmp(stage.model, stage.channels.length, amp)
      const { us, because } = favourable
        ? heats.typical.standsUs(strongest, name, COLD_C)
        : heats.most.standsUs(strongest, name)
      return us === undefined ? { because } : { us, because }
    },
    ...(trip && model
      ? {
          tripTimeUs: (amp: number, favourable = false) => steadyTripUs(model, trip, amp, favourable),
        }
      : {}),
    ...(model
      ? {
          soonestTripUs: (amp: number) => soonestOffUs(model, amp),
          standsAtFirst: (amp: { low: number; high: number }, besideAmp: number) =>
            standsAtFirst(stage, model, amp, besideAmp),
        }
      : {}),
    ...(edge ? { edge } : {}),
  }
}

/** Isolated inputs keep the ground of a driver apart, unless the controller reads something of it past them. */
function groundOf(
  { driver, driverName, model }: DistrictStage,
  stages: readonly DistrictStage[],
): Pick<SourceWiring, 'controlled' | 'isolated'> {
  const wired = driver.pins?.filter((pin) => pin.wired !== undefined || pin.fixed !== undefined) ?? []
  if (!model.isolator) return { controlled: wired.length > 0 }
  const isRead =
    wired.some(({ role }) => role === 'sense' || role === 'fault') ||
    stages.some(
      ({ driverName: name, district: { sense, trip } }) =>
        name === driverName && (sense ? sense.kind !== 'hall' : trip?.by === 'sense'),
    )
  // What is read may pass an isolator of its own, which no design tells.
  return { controlled: false, ...(isRead ? {} : { isolated: true }) }
}

function partOf({ model, driver, channels }: DistrictStage): DriverPartFigures {
  const delays = delayRange(model)
  const matched = driverSkewUs(model)
  // An own limit that acts at once holds the current where no peak is given.
  const peak = model.peakAmp ?? model.limitMinAmp
  return {
    name: model.name,
    ...(delays ? { delays } : {}),
    ...(matched ? { matchedUs: matched.mismatchUs } : {}),
    ...(driver.matchedLegs ? { matched: true } : {}),
    ...(driver.batch === undefined ? {} : { batch: driver.batch }),
    ...(peak === undefined ? {} : { peakAmp: channels.length * peak }),
  }
}

/**
 * Latest time until a steady current is off, us; Infinity where supply or driver may switch off by themselves before that.
 * @param favourable at the lowest threshold and the shortest delay
 */
function steadyTripUs(source: SourceModel, trip: DistrictTrip, amp: number, favourable: boolean): number {
  const { limit, hiccupOn, ownLimit, limitLasts } = source.quantities
  const end = favourable ? 'high' : 'low'
  const us = favourable
    ? trip.latestUs(amp, trip.lowAmp, trip.delayUs.low, source.quantities.clock.low)
    : trip.timeUs(amp, 0).worstUs
  const heldBy = (q: Uncertain) => amp >= q[end] * (1 - 1e-9)
  if (source.latches && heldBy(ownLimit)) return Math.min(us, limitLasts.high)
  const outlasts = (heldBy(limit) && us > hiccupOn[end]) || (heldBy(ownLimit) && us > limitLasts[end])
  return outlasts ? Number.POSITIVE_INFINITY : us
}

/** Soonest time until a current is off, by its trip or because supply or driver switch off by themselves, us. */
function soonestOffUs({ trip, quantities }: SourceModel, amp: number): number {
  const { limit, hiccupOn, ownLimit, limitLasts } = quantities
  const reaches = (q: Uncertain) => amp >= q.low * (1 - 1e-9)
  return Math.min(
    trip ? trip.soonestUs(amp, trip.lowAmp, trip.lowAmp, trip.leastDelayUs) : Number.POSITIVE_INFINITY,
    reaches(limit) ? hiccupOn.low : Number.POSITIVE_INFINITY,
    reaches(ownLimit) ? limitLasts.low : Number.POSITIVE_INFINITY,
  )
}

/** Supply, sense and a driver that was just switched on, with its typical losses, Ohm. */
function leastOhm(stage: DistrictStage, amp: number): number {
  const driver = driverLine(stage.model, stage.channels.length, amp, COLD_C, 'typical')
  return stage.supply.resistance + (driver?.ohm ?? 0) + (chainOf(stage)?.seriesOhm ?? 0)
}

function stayAliveOf({ stayAlive }: RollingStockDesign[string], count: number): StayAlive[] {
  if (!stayAlive) return []
  return [{ capacitanceFarad: stayAlive.capacitance, resistanceOhm: stayAlive.resistance, count }]
}

/**
 * What each district feeds, for the power stage: trains and accessories count in the district they stand in; trains
 * that stand nowhere count in every district, for they may run there.
 */
export function districtLoads(
  rollingStock: RollingStockDesign,
  model: TrackModel,
): Map<string, DistrictLoad> {
  const { plan, net, worstCase } = model
  const joints = hotJointsOfEachKind(model, hottestAllowed(undefined))
  const loads = new Map<string, DistrictLoad>()
  const districtOf = (s: Stand) =>
    s.track < 0 ? plan.runs[s.run]!.district : net.districts[net.districtOfTrack[s.track]!]
  for (const [at, name] of net.districts.entries()) {
    const here = plan.stands.filter((s) => districtOf(s) === name)
    const trains = new Set(here.filter((s) => s.train).map((s) => s.name))
    const others = here.filter((s) => !s.train)
    let runningAmp = others.reduce((sum, s) => sum + s.amp, 0)
    let resistiveAmp = others.reduce((sum, s) => sum + (s.law === 'resistor' ? s.amp : 0), 0)
    let stalledAmp = runningAmp
    let extra = 0
    const stayAlive: StayAlive[] = []
    let decoders = 0
    for (const [train, t] of Object.entries(rollingStock)) {
      if (t.section !== undefined && !trains.has(train)) continue
      const other = t.lights + t.sound
      const stall = t.stall ?? 2 * t.running
      runningAmp += t.count * (t.running + other)
      if (t.load === 'resistor') resistiveAmp += t.count * (t.running + other)
      stalledAmp += t.count * (stall + other)
      extra = Math.max(extra, stall - t.running)
      decoders += t.count
      stayAlive.push(...stayAliveOf(t, t.count))
    }
    const parked = visitorsOf(plan, rollingStock, net.districtOfTrack, at)
    const conductors = plan.runs
      .filter((r) => r.district === name)
      .map((r) => wireConductor(r.design.wire, r.design.kind))
    for (const wire of new Set(
      plan.feeders.filter((f) => plan.runs[f.run]!.district === name).map((f) => f.wire),
    ))
      conductors.push(wireConductor(wire))
    const wires = conductors.map((c) => c.areaMm2)
    // Wires and rails to the farthest place and back, without the source.
    const ohm = net.places.reduce(
      (most, p, i) => (net.districtOfTrack[p.track] === at ? Math.max(most, worstCase.placeOhm[i]!) : most),
      0,
    )
    loads.set(name, {
      runningAmp,
      worstAmp: runningAmp + extra,
      stalledAmp,
      resistiveAmp,
      stayAlive,
      decoders,
      parked: {
        decoders: parked.reduce((sum, v) => sum + v.count, 0),
        stayAlive: parked.flatMap(({ train, count }) => stayAliveOf(rollingStock[train]!, count)),
      },
      wiringOhm: Math.max(0, ohm - net.sources[at]!.sourceOhm),
      conductors: [
        ...new Map(conductors.map((c) => [c.name, { name: c.name, areaMm2: c.areaMm2 }])).values(),
      ],
      ...(wires.length > 0 ? { thinnestWireMm2: Math.min(...wires) } : {}),
      joints: joints.flatMap((j) => (j.district === name ? [jointLimit(j)] : [])),
    })
  }
  return loads
}

/** The terminators across the ends of each district's bus, for the power stage. */
export function districtTerminators({ plan, net }: TrackModel): Record<string, Terminator[]> {
  const of = (name: string) =>
    plan.runs.flatMap(({ name: run, district, design: { terminator } }): Terminator[] => {
      if (district !== name || !terminator) return []
      const { resistance: ohm, power } = terminator
      return [{ name: run, ohm, ...(power === undefined ? {} : { ratedWatt: power }) }]
    })
  return Object.fromEntries(net.districts.map((name) => [name, of(name)]))
}
