/**
 * Power-up, and switching on again after every trip: all capacitors charge together, stay-alives through their
 * resistors and each decoder's own behind its rectifier. The driver must survive the peak, nothing may trip, and the
 * supply must come up.
 */
import {
  type CornerQuestion,
  exactly,
  type Quantities,
  searchCorners,
  type Values,
  within,
} from '../corner/index.js'
import type { SupplyDesign } from './design/index.js'
import type { DistrictTrip } from './district-trip.js'
import { dropVolt, onOhm } from './driver.js'
import type { DriverHeatModel } from './driver-heat.js'
import { type Inrush, type InrushPoint, inrush, timeAboveUs, waveOf } from './inrush.js'
import type { DistrictLoad, StayAlive } from './load.js'
import { shareCurrent } from './share.js'
import type { SourceModel, SourceQuantity } from './source.js'
import { chainOf, type DistrictStage } from './stage.js'
import { hasNoLimit } from './supply-behaviour.js'
import { tripAtUs } from './trip.js'

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
    >
  | 'farad'

/** Stay-alives and the decoders' own capacitors. */
export function chargedBy(load: DistrictLoad): StayAlive[] {
  const own = load.decoders ?? 1
  const decoders = { capacitanceFarad: DECODER_FARAD, resistanceOhm: DECODER_OHM, count: own }
  return [...(load.stayAlive ?? []), ...(own > 0 ? [decoders] : [])]
}

interface PowerUpRun {
  found: Inrush
  /** With what the supply's output capacitors give, A. */
  peakAmp: number
  margin: number
  because: 'nothing' | 'peak' | 'heat' | 'trips' | 'own limit' | 'supply'
  tripsAtUs?: number
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
    farad:
      groups.length > 0
        ? within(
            'capacitors that charge at power-up',
            1,
            CAPACITOR_SPREAD,
            '',
            'usual tolerance, 20 % either way',
          )
        : exactly('capacitors that charge at power-up', 0, '', 'there are none'),
  }
  const charge = (v: Values<PowerUpQuantity>, limited: boolean): Inrush => {
    const share = onOhm(model, coldC, v.part)
    const drop = share === undefined ? (dropVolt(model, 1, coldC, v.part) ?? 0) : 0
    return inrush({
      volt: v.volt - drop,
      sourceOhm: supply.resistance + (share ?? 0) / n + (chainOf(stage)?.seriesOhm ?? 0),
      limitAmp: limited ? v.limit : Number.POSITIVE_INFINITY,
      groups: groups.map((g) => ({ ...g, capacitanceFarad: g.capacitanceFarad * v.farad })),
      besideAmp: load.runningAmp,
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
    { found: Inrush; peakAmp: number; each: number; hottest: number | undefined }
  >()
  const chargedAt = (v: Values<PowerUpQuantity>) => {
    const key = [v.volt, holds(supply) ? v.limit : 0, v.part, v.farad, v.capacitor > 0].join()
    const before = charged.get(key)
    if (before) return before
    const found = charge(v, holds(supply))
    // Output capacitors give what no limit holds back, for as long as they have it.
    const peakAmp = v.capacitor > 0 ? charge(v, false).peakAmp : found.peakAmp
    // Parallel channels share unequally: the strongest decides.
    const each = (shareCurrent(model, n, found.peakAmp)?.amps[0] ?? found.peakAmp / n) / found.peakAmp || 0
    const hottest = driver.hottestC(
      thin(found.points).map((p) => ({ us: p.us, amp: each * p.amp })),
      stage.name,
      runningC,
    )
    const made = { found, peakAmp, each, hottest }
    charged.set(key, made)
    return made
  }
  const runOf = (v: Values<PowerUpQuantity>): PowerUpRun => {
    const { found, peakAmp, each, hottest } = chargedAt(v)
    const result: PowerUpRun = { found, peakAmp, margin: 1, because: 'nothing' }
    const worse = (margin: number, because: PowerUpRun['because']) => {
      if (margin < result.margin) Object.assign(result, { margin, because })
    }
    const ownLimited = Number.isFinite(v.ownLimit)
    if (model.peakAmp !== undefined && !(ownLimited && v.ownLimit <= n * model.peakAmp)) {
      result.peakShare = (each * peakAmp) / model.peakAmp
      worse(1 - result.peakShare, 'peak')
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
    if (source.trip) {
      const tripsAtUs = tripsAt(source.trip, found, v)
      result.tripsAtUs = tripsAtUs
      const peakShare = found.peakAmp / v.trip
      if (Number.isFinite(tripsAtUs)) worse(Math.max(-1, Math.min(-0.01, 1 - peakShare)), 'trips')
      else if (peakShare > 1) worse(Math.max(0.01, roomOf(source.trip, found, v)), 'trips')
      else worse(1 - peakShare, 'trips')
    }
    worse(startMargin(supply, found, load, v), 'supply')
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
      ownLimit: 'low',
      capacitor: 'high',
      hiccupOn: 'low',
      shortCurrent: 'low',
    },
  }
  const worst = run(searchCorners(question).worst.values)
  const report: InrushReport = {
    ...worst.found,
    supplyLimits: worst.found.peakAmp >= q.limit.low * (1 - 1e-9),
    supplyKind: supply.limit,
    driverLimits: worst.found.peakAmp >= q.ownLimit.low,
    decoders: load.decoders ?? 1,
  }
  if (worst.tripsAtUs !== undefined) report.tripsAtUs = worst.tripsAtUs
  if (source.trip) report.blankingUs = blankingFor(source.trip, worst.found)
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

/** Supplies whose control holds the current; a hiccup supply does so while it delivers. */
function holds({ limit }: SupplyDesign): boolean {
  return limit === 'constant' || limit === 'hiccup' || limit === 'foldback'
}

/**
 * Whether the supply comes up. Constant current always does, later. A foldback supply hangs where its current at a low
 * voltage is less than what runs. A hiccup supply must have the capacitors charged before it switches off.
 */
function startMargin(
  supply: SupplyDesign,
  found: Inrush,
  load: DistrictLoad,
  v: Values<PowerUpQuantity>,
): number {
  if (hasNoLimit(supply.limit) || supply.limit === 'constant') return 1
  if (supply.limit === 'unknown') {
    // Beyond its rating nobody can tell what it does.
    return found.peakAmp <= supply.rating ? 1 - found.peakAmp / supply.rating : -0.01
  }
  if (found.peakAmp < v.limit * (1 - 1e-9)) return 1 - found.peakAmp / v.limit
  if (supply.limit === 'foldback') return v.shortCurrent > 0 ? 1 - load.runningAmp / v.shortCurrent : -1
  const us = timeAboveUs(found.points, v.limit * (1 - 1e-6))
  return v.hiccupOn > 0 ? Math.max(-1, 1 - us / v.hiccupOn) : -1
}

/** When it trips for a part with this threshold and delay, us. */
function tripsAt(
  trip: DistrictTrip,
  found: Inrush,
  { trip: thresholdAmp, delay: delayUs, clock }: Pick<Values<PowerUpQuantity>, 'trip' | 'delay' | 'clock'>,
): number {
  if (found.peakAmp < thresholdAmp) return Number.POSITIVE_INFINITY
  const until = Number.isFinite(found.lastsUs) ? found.lastsUs : found.points.at(-1)!.us
  if (!trip.settings) {
    const above = timeAboveUs(found.points, thresholdAmp)
    return above - trip.blankingUs > delayUs ? trip.blankingUs + delayUs : Number.POSITIVE_INFINITY
  }
  const { samplePeriodUs, afterUs } = trip.settings.nominal
  const s = {
    ...trip.settings.nominal,
    thresholdAmp,
    samplePeriodUs: samplePeriodUs * clock,
    afterUs: afterUs * clock,
    blankingUs: trip.blankingUs * clock,
  }
  const lag = lagOf(s)
  // The current only falls: once filter and averages have followed it below the threshold, nothing trips any more.
  const last = timeAboveUs(found.points, thresholdAmp) + 8 * lag + s.samplePeriodUs * (s.of + 2)
  return tripAtUs(waveOf(found.points), 0, s, 0, Math.min(until, last))
}

function lagOf(s: { filterUs: number; samplePeriodUs: number; average: number; smoothing: number }): number {
  return 4 * s.filterUs + s.samplePeriodUs * (s.average - 1) + (4 * s.samplePeriodUs) / s.smoothing
}

/** How much sooner than it would trip the current is back below the threshold, as a share of the trip time. */
function roomOf(
  trip: DistrictTrip,
  found: Inrush,
  v: { trip: number; delay: number; clock: number },
): number {
  const above = timeAboveUs(found.points, v.trip)
  const needs = trip.blankingUs + trip.soonestUs(found.peakAmp, 0, v.trip, v.delay, v.clock)
  return Number.isFinite(needs) && needs > 0 ? Math.min(1, 1 - above / needs) : 1
}

function blankingFor(trip: DistrictTrip, found: Inrush): number {
  const above = timeAboveUs(found.points, trip.lowAmp)
  if (above === 0) return 0
  if (!trip.settings) return Math.max(0, above - trip.timeUs(trip.highAmp, 0).bestUs)
  const s = trip.settings.soonest
  return above + (s.filterUs + (s.average - 1) + (1 / s.smoothing - 1) > 0 ? lagOf(s) : 0)
}

const HEAT_POINTS = 60

/** No more points than the heat of a driver can tell apart. */
function thin(points: readonly InrushPoint[]): InrushPoint[] {
  if (points.length <= HEAT_POINTS) return [...points]
  const step = (points.length - 1) / (HEAT_POINTS - 1)
  return Array.from({ length: HEAT_POINTS }, (_, i) => points[Math.round(i * step)]!)
}
