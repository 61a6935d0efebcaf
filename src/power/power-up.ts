/**
 * Power-up, and switching on again after every trip: all capacitors charge together, stay-alives through their
 * resistors and each decoder's own behind its rectifier, and those of the other districts of the supply with them or
 * not. The driver must survive the peak, nothing may trip, no fuse may melt, and the supply must come up.
 */
import {
  between,
  type CornerQuestion,
  exactly,
  type Quantities,
  searchCorners,
  type Uncertain,
  type Values,
  within,
} from '../corner/index.js'
import type { SupplyDesign } from './design/index.js'
import { dropVolt, onOhm } from './driver.js'
import type { DriverHeatModel } from './driver-heat.js'
import { fuseWear } from './fuse.js'
import { type ChargingTogether, type Inrush, type InrushPoint, inrush } from './inrush.js'
import { blankingFor, roomOf, tripsAt } from './inrush-trip.js'
import { atFirstAmp, coldOf, type DistrictLoad, type StayAlive } from './load.js'
import { shareCurrent } from './share.js'
import type { SourceModel, SourceQuantity } from './source.js'
import { chainOf, type DistrictStage, sharedBetween } from './stage.js'
import { holds, peakOf, startMargin } from './supply-start.js'

export interface InrushReport extends Inrush {
  /** It trips, at the earliest after this time, us; Infinity when it does not. Absent without a trip. */
  tripsAtUs?: number
  /** How long the trip would have to be blind, us. */
  blankingUs?: number
  /** Hottest junction during the inrush, °C; absent when the driver's heat is not known. */
  junctionC?: number
  /** The driver stays inside its peak current and temperature; absent when not known. */
  driverSafe?: boolean
  /** It asks more than the supply surely gives: its limit, or its rating where the limit is not known. */
  supplyLimits: boolean
  supplyKind: SupplyDesign['limit']
  /** It reaches the driver's own current limit at its least. */
  driverLimits: boolean
  /** Decoders with a capacitor of their own. */
  decoders: number
  /** Districts that charge from the same supply at the same time where that is worse. */
  together: string[]
}

/** Another district of the same supply. */
export interface ChargingBeside {
  stage: DistrictStage
  load: DistrictLoad
}

/** Capacitor of a decoder behind its rectifier, F, with its own and the rectifier's resistance, Ohm; assumed, no source. */
export const DECODER_FARAD = 47e-6
export const DECODER_OHM = 0.5
/** Electrolytic capacitors differ by so much either way; common practice, no source. */
const CAPACITOR_SPREAD = 0.2

export type PowerUpQuantity =
  | Extract<
      SourceQuantity,
      | 'volt'
      | 'limit'
      | 'shortCurrent'
      | 'hiccupOn'
      | 'part'
      | 'trip'
      | 'delay'
      | 'clock'
      | 'ownLimit'
      | 'capacitor'
      | 'response'
      | 'peak'
    >
  | 'farad'
  | 'cold'
  | 'together'
  | 'melts'

/** Decoders that charge at power-up at the most: those that run here, and those parked here. */
function decodersOf(load: DistrictLoad): number {
  return (load.decoders ?? 1) + (load.parked?.decoders ?? 0)
}

/** Stay-alives and the decoders' own capacitors. */
export function chargedBy(load: DistrictLoad): StayAlive[] {
  const own = decodersOf(load)
  const decoders = { capacitanceFarad: DECODER_FARAD, resistanceOhm: DECODER_OHM, count: own }
  return [...(load.stayAlive ?? []), ...(load.parked?.stayAlive ?? []), ...(own > 0 ? [decoders] : [])]
}

interface PowerUpRun {
  found: Inrush
  /** With what the supply's output capacitors give, A. */
  peakAmp: number
  margin: number
  because: 'nothing' | 'peak' | 'heat' | 'trips' | 'own limit' | 'supply' | 'fuse'
  tripsAtUs?: number
  /** The trip must be blind for so long, us. */
  blankingUs?: number
  junctionC?: number
  peakShare?: number
}

export interface PowerUp {
  report: InrushReport
  question: CornerQuestion<PowerUpQuantity>
  run(v: Values<PowerUpQuantity>): PowerUpRun
}

export function powerUp(
  stage: DistrictStage,
  source: SourceModel,
  load: DistrictLoad,
  driver: DriverHeatModel,
  /** Junction at the usual load: a trip may have switched it off a moment before, °C. */
  runningC: number | undefined,
  beside: readonly ChargingBeside[] = [],
): PowerUp {
  const { supply, model, channels } = stage
  const groups = chargedBy(load)
  const n = channels.length
  const q = source.quantities
  // Switched on again right after a trip the driver is hot; what is cold draws the most.
  const coldC = q.junction.low
  const quantities: Quantities<PowerUpQuantity> = {
    volt: q.volt,
    limit: q.limit,
    shortCurrent: q.shortCurrent,
    hiccupOn: q.hiccupOn,
    part: q.part,
    trip: q.trip,
    delay: q.delay,
    clock: q.clock,
    ownLimit: q.ownLimit,
    capacitor: q.capacitor,
    response: q.response,
    // Here all counts that may be: capacitors charge at every start.
    peak: model.peakAmp === undefined ? q.peak : exactly(q.peak.name, model.peakAmp, 'A', 'its data sheet'),
    farad:
      groups.length > 0 || beside.length > 0 || reservoirOf(stage).length > 0
        ? within(
            'capacitors that charge at power-up',
            1,
            CAPACITOR_SPREAD,
            '',
            'usual tolerance, 20 % either way',
          )
        : exactly('capacitors that charge at power-up', 0, '', 'there are none'),
    cold: coldOf([load, ...beside.map((b) => b.load)]),
    together: togetherOf(stage, beside),
    melts:
      stage.district.fuse === undefined && supply.fuse === undefined
        ? exactly('slowness of the fuse', 0, '', 'there is none')
        : between(
            'slowness of the fuse, from the soonest (0) to the latest (1) that its kind allows',
            { low: 0, high: 1 },
            '',
            'its data sheet gives its own',
          ),
  }
  /** Open voltage and resistance of a driver's path behind the supply. */
  const pathOf = (of: DistrictStage, volt: number, part: number) => {
    const ohm = onOhm(of.model, coldC, part)
    const drop = ohm === undefined ? (dropVolt(of.model, 1, coldC, part) ?? 0) : 0
    return { volt: volt - drop, ohm: (ohm ?? 0) / of.channels.length + (chainOf(of)?.seriesOhm ?? 0) }
  }
  // What is parked here is not parked there at the same time.
  const others = beside.map(({ stage: of, load: { parked: _, ...own } }) => ({
    stage: of,
    load: own,
    same: sharedBetween(stage, of) === 'channels',
  }))
  const charge = (v: Values<PowerUpQuantity>, limited: boolean, outputFarad = 0, responseUs = 0): Inrush => {
    const scaled = (list: readonly StayAlive[]) =>
      list.map((g) => ({ ...g, capacitanceFarad: g.capacitanceFarad * v.farad }))
    const path = pathOf(stage, v.volt, v.part)
    const reservoir = reservoirOf(stage)
    const together: ChargingTogether | undefined =
      v.together > 0
        ? {
            supplyOhm: supply.resistance,
            besideAmp: others.reduce((sum, o) => sum + atFirstAmp(o.load, v.cold), 0),
            sameDriver: scaled(others.flatMap((o) => (o.same ? chargedBy(o.load) : []))),
            others: [
              ...others
                .filter((o) => !o.same)
                .map((o) => ({ ...pathOf(o.stage, v.volt, v.part), groups: scaled(chargedBy(o.load)) })),
              ...(reservoir.length > 0 ? [{ volt: v.volt, ohm: 0, groups: scaled(reservoir) }] : []),
            ],
          }
        : undefined
    return inrush({
      volt: path.volt,
      sourceOhm: supply.resistance + path.ohm,
      limitAmp: limited ? v.limit : Number.POSITIVE_INFINITY,
      outputFarad,
      responseUs,
      groups: scaled(groups),
      besideAmp: atFirstAmp(load, v.cold),
      ...(together ? { together } : {}),
    })
  }
  const known = new Map<string, PowerUpRun>()
  const run = (v: Values<PowerUpQuantity>): PowerUpRun => {
    const key = Object.values(v).join()
    const before = known.get(key)
    if (before) return before
    const made = runOf(v)
    known.set(key, made)
    return made
  }
  const charged = new Map<
    string,
    { found: Inrush; gush: Inrush; peakAmp: number; each: number; hottest: number | undefined }
  >()
  const chargedAt = (v: Values<PowerUpQuantity>) => {
    const key = [
      v.volt,
      holds(supply) ? v.limit : 0,
      v.part,
      v.farad,
      v.cold,
      v.capacitor,
      v.response,
      v.together,
    ].join()
    const before = charged.get(key)
    if (before) return before
    const found = charge(v, holds(supply))
    const through = found.driver ?? found.points
    const driverAmp = peakOf(through)
    // Output capacitors give what no limit holds back, for as long as they have it.
    const atFirst = v.capacitor > 0 || v.response > 0
    const free = atFirst ? charge(v, false) : found
    const isBounded = atFirst && Number.isFinite(v.capacitor) && holds(supply)
    const gush = isBounded ? charge(v, true, v.capacitor, v.response) : found
    const peakAmp = peakOf(free.driver ?? free.points)
    // Parallel channels share unequally: the strongest decides.
    const each = (shareCurrent(model, n, driverAmp)?.amps[0] ?? driverAmp / n) / driverAmp || 0
    const temperatures = wavesOf(found, gush).flatMap(
      (wave) =>
        driver.hottestC(
          thin(wave.driver ?? wave.points).map((p) => ({ us: p.us, amp: each * p.amp })),
          stage.name,
          runningC,
        ) ?? [],
    )
    const hottest = temperatures.length > 0 ? Math.max(...temperatures) : undefined
    const made = { found, gush, peakAmp, each, hottest }
    charged.set(key, made)
    return made
  }
  const runOf = (v: Values<PowerUpQuantity>): PowerUpRun => {
    const { found, gush, peakAmp, each, hottest } = chargedAt(v)
    const waves = wavesOf(found, gush)
    const result: PowerUpRun = { found, peakAmp, margin: 1, because: 'nothing' }
    const worse = (margin: number, because: PowerUpRun['because']) => {
      if (margin < result.margin) Object.assign(result, { margin, because })
    }
    const ownLimited = Number.isFinite(v.ownLimit)
    if (Number.isFinite(v.peak) && !(ownLimited && v.ownLimit <= n * v.peak)) {
      const share = (each * peakAmp) / v.peak
      if (model.peakAmp !== undefined) result.peakShare = share
      worse(model.peakAmp === undefined ? Math.max(-1, 1 - share) : 1 - share, 'peak')
    }
    // Where its own limit acts it may switch off, or charge in steps: neither is coming up for certain.
    if (ownLimited) worse(1 - peakAmp / v.ownLimit, 'own limit')
    if (hottest !== undefined) {
      result.junctionC = hottest
      const { junctionMaxC } = model
      const { ambientC } = driver.heat
      if (junctionMaxC !== undefined && junctionMaxC > ambientC)
        worse(Math.max(-1, (junctionMaxC - hottest) / (junctionMaxC - ambientC)), 'heat')
    }
    for (const wave of source.trip ? waves : []) {
      const trip = source.trip!
      const tripsAtUs = tripsAt(trip, wave, v)
      result.tripsAtUs = Math.min(result.tripsAtUs ?? Number.POSITIVE_INFINITY, tripsAtUs)
      result.blankingUs = Math.max(result.blankingUs ?? 0, blankingFor(trip, wave))
      const peakShare = wave.peakAmp / v.trip
      if (Number.isFinite(tripsAtUs)) worse(Math.max(-1, Math.min(-0.01, 1 - peakShare)), 'trips')
      else if (peakShare > 1) worse(Math.max(0.01, roomOf(trip, wave, v)), 'trips')
      else worse(1 - peakShare, 'trips')
    }
    const wear = Math.max(
      ...waves.flatMap((wave) => [
        fuseWear(stage.district, wave.points, v.melts),
        fuseWear(supply, wave.supply ?? wave.points, v.melts),
      ]),
    )
    worse(Math.max(-1, 1 - wear), 'fuse')
    const beside = v.together > 0 ? others : []
    const runs = [load, ...beside.map((o) => o.load)].reduce((sum, l) => sum + atFirstAmp(l, v.cold), 0)
    worse(startMargin(supply, found.supply ?? found.points, runs, v), 'supply')
    return result
  }
  const question: CornerQuestion<PowerUpQuantity> = {
    quantities,
    margin: (v) => run(v).margin,
    unfavourable: {
      volt: 'high',
      part: 'low',
      trip: 'low',
      delay: 'low',
      clock: 'low',
      farad: 'high',
      cold: 'high',
      ownLimit: 'low',
      capacitor: 'high',
      response: 'high',
      peak: 'low',
      hiccupOn: 'low',
      shortCurrent: 'low',
      melts: 'low',
    },
  }
  const { values } = searchCorners(question).worst
  const worst = run(values)
  const { points, lastsUs, supply: given } = worst.found
  const report: InrushReport = {
    points,
    lastsUs,
    peakAmp: worst.found.peakAmp,
    together:
      values.together > 0
        ? [...others.map((o) => o.stage.name), ...(reservoirOf(stage).length > 0 ? ['the controller'] : [])]
        : [],
    supplyLimits: peakOf(given ?? points) >= q.limit.low * (1 - 1e-9),
    supplyKind: supply.limit,
    driverLimits: peakOf(worst.found.driver ?? points) >= q.ownLimit.low,
    decoders: decodersOf(load),
  }
  if (worst.tripsAtUs !== undefined) report.tripsAtUs = worst.tripsAtUs
  // Of all corners: another than the worst one may stay above the threshold for longer.
  if (source.trip) report.blankingUs = Math.max(...[...known.values()].map((r) => r.blankingUs ?? 0))
  if (worst.junctionC !== undefined) report.junctionC = worst.junctionC
  const cool =
    worst.junctionC !== undefined && model.junctionMaxC !== undefined
      ? worst.junctionC < model.junctionMaxC
      : undefined
  const small = worst.peakShare !== undefined ? worst.peakShare <= 1 : undefined
  if (cool === false || small === false) report.driverSafe = false
  else if (cool !== undefined && small !== undefined) report.driverSafe = true
  return { report, question, run }
}

/** With the supply holding the current, and with what its output capacitors give besides: shorter, but stronger. */
function wavesOf(found: Inrush, gush: Inrush): Inrush[] {
  return gush === found ? [found] : [found, gush]
}

/** The capacitor before the regulator of a controller that the same supply feeds; its resistance as that of a decoder's. */
function reservoirOf({ controller }: DistrictStage): StayAlive[] {
  const farad = controller?.reservoirFarad ?? 0
  return farad > 0 ? [{ capacitanceFarad: farad, resistanceOhm: DECODER_OHM, count: 1 }] : []
}

/** Whether the other districts of the supply charge at the same time: at its switching on, but not after a trip of one. */
function togetherOf(stage: DistrictStage, beside: readonly ChargingBeside[]): Uncertain {
  const reservoir = reservoirOf(stage).length > 0
  const what = [
    ...(beside.length > 0 ? [`the other districts of supply ${stage.supplyName}`] : []),
    ...(reservoir ? ["the controller's capacitor"] : []),
  ]
  if (what.length === 0)
    return exactly(
      `share of the other districts of supply ${stage.supplyName} that charge at the same time`,
      0,
      'share',
      'there are none',
    )
  return between(
    `share of ${what.join(' and ')} that charge at the same time`,
    { low: 0, high: 1 },
    'share',
    'all when the supply comes up, none after a trip of one or where they are switched on one after another',
  )
}

const HEAT_POINTS = 60

/** No more points than the heat of a driver can tell apart. */
function thin(points: readonly InrushPoint[]): InrushPoint[] {
  if (points.length <= HEAT_POINTS) return [...points]
  const step = (points.length - 1) / (HEAT_POINTS - 1)
  return Array.from({ length: HEAT_POINTS }, (_, i) => points[Math.round(i * step)]!)
}
