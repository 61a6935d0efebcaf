/** The power stage of a design, calculated: every figure, the evidence from it, and the cautions that go with it. */
import type { SignalDesign } from '../signal/index.js'
import type { Evidence, Profile } from '../standard/index.js'
import {
  type AckAdvice,
  type AckChances,
  type AckRule,
  type AckSituation,
  ackChances,
  adviseAck,
  simulateAck,
} from './acknowledgement.js'
import { powerAdvice } from './advice.js'
import { careFor } from './care.js'
import { requireSound } from './check.js'
import type { DistrictDesign, PowerDesign, SupplyDesign } from './design/index.js'
import { type DriverHeat, type DriverHeatModel, driverHeat } from './driver-heat.js'
import { capacitorI2t, copperI2t, i2t } from './energy.js'
import { type Inrush, inrush, timeAboveUs, waveOf } from './inrush.js'
import type { DistrictLoad } from './load.js'
import { type PinPlan, pinPlan } from './pins.js'
import { powerEvidence } from './power-evidence.js'
import { type RegulatorHeat, regulatorHeat } from './regulator.js'
import type { SenseChain } from './sense.js'
import { shareCurrent, strongestAmp } from './share.js'
import { type DriverSkew, driverSkewUs, driverSlope } from './skew.js'
import {
  allStages,
  type Beside,
  besideOf,
  chainOf,
  type DistrictSource,
  type DistrictStage,
  type DistrictTrip,
  districtSource,
  districtTrip,
  shortLimits,
} from './stage.js'
import { type Budget, type BudgetRow, budget, fuseFor } from './supply.js'
import { tripAtUs } from './trip.js'
import { type TrackVoltage, trackVoltage } from './voltage.js'

export interface PowerInput {
  power: PowerDesign
  profile: Profile
  signal?: SignalDesign
  /** Chip and pins that other code uses. */
  controller?: { chip: string; reservedPins?: readonly string[] }
  /** What each district feeds, from the railroad; the design's own `load` stands in where it is absent. */
  loads?: Readonly<Record<string, DistrictLoad>>
  /** Seed of the played acknowledgements. */
  seed?: number
  /** How many conversions of the converter they may take in all, 30 000 when absent; more is finer and slower. */
  conversions?: number
}

export interface InrushReport extends Inrush {
  /** It trips, at the earliest after this time, us; Infinity when it does not. Absent without a trip. */
  tripsAtUs?: number
  /** How long the trip must be blind, us. */
  blankingUs?: number
  /** Hottest junction during the inrush, °C; absent when the driver's heat is not known. */
  junctionC?: number
  /** The driver stays inside its peak current and temperature; absent when not known. */
  driverSafe?: boolean
  /** It asks more than the supply surely gives: its limit, or its rating where the limit is not known. */
  supplyLimits: boolean
  supplyKind: SupplyDesign['limit']
  /** It reaches the driver's own current limit. */
  driverLimits: boolean
}

export interface AckReport {
  situation: AckSituation
  rule: AckRule
  /** The design gave no threshold: the advised rule stands in. */
  proposed: boolean
  chances: AckChances
  /** Pulses played with the true frequencies; the chance to miss that chance calculation cannot see. */
  played: { miss: number; runs: number }
  advice: AckAdvice
}

export interface ShortReport {
  /** Short at the terminals, A: what the source gives through driver and sense. */
  amp: number
  /**
   * What it surely draws, A: from the lowest supply voltage, while everything else runs, and no more than the supply's
   * limit, or its rating where the limit is not known.
   */
  leastAmp: number
  /** Switched off at the latest when it draws no more than that, us. */
  leastTripUs: number
  /** What holds it: `supply`, `driver` or `resistance`. */
  heldBy: 'supply' | 'driver' | 'resistance'
  /** Switched off at the latest, us: from an idle track, with filters and averages empty. Infinity for never. */
  tripUs: number
  /** At the soonest, with the usual current before, us; for information. */
  soonestUs: number
  /** Until it trips, with what the supply's capacitors give on top, A²s. */
  letThroughA2s: number
  /** When the fuse would melt, without loss of heat, us; absent without its I²t. */
  fuseMeltsUs?: number
  /** How long the driver stands it, us; absent when not known. */
  driverStandsUs?: number
  /** It stands it no longer than this, us, where some of its losses are not known. */
  driverStandsAtMostUs?: number
  driverBecause: string
  /** How long the thinnest wire stands it, us; absent when not known. */
  wireStandsUs?: number
  wireA2s?: number
}

export interface DistrictReport {
  name: string
  driver: string
  supply: string
  output?: string
  channels: number
  load?: DistrictLoad
  /** What may flow for ever: up to the trip level, else the worst load, A. */
  sustainedAmp?: number
  source?: DistrictSource
  voltage?: TrackVoltage
  sense?: SenseChain
  trip?: Omit<DistrictTrip, 'timeUs' | 'settings'> & {
    curve: { amp: number; bestUs: number; worstUs: number }[]
  }
  short?: ShortReport
  inrush?: InrushReport
  acknowledgement?: AckReport
  adviseFuseAmp?: number
}

export interface DriverReport extends DriverHeat {
  name: string
  part: string
  suits: 'yes' | 'no' | 'doubtful' | 'unknown'
  remark: string
  /** How long overloads of a channel may last, from its running heat; us absent when not known. */
  overloads: { amp: number; us?: number; because: string }[]
  skew?: DriverSkew
  slopeVoltPerUs?: number
}

export interface SupplyReport extends Budget {
  name: string
  ratingAmp: number
  /** What it gives at most, as far as is known, A. */
  capableAmp: number
  /** Hardest district: its trip level with the others running, A; absent without trips. */
  neededToTripAmp?: number
  neededBy?: string
  /** Districts whose load is not known: the sums lack them and are not judged. */
  without: string[]
}

export interface PowerReport {
  districts: DistrictReport[]
  drivers: DriverReport[]
  supplies: SupplyReport[]
  pins: PinPlan
  regulator?: RegulatorHeat
  evidence: Evidence[]
  /** What could not be worked out, and which figure it takes. */
  missing: string[]
  /** What to change, with figures. */
  advice: string[]
  cautions: string[]
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
  if (load.thinnestWire !== undefined) result.thinnestWireMm2 = load.thinnestWire
  return result
}

/** Evidence of the power stage alone. */
export function calculatePower(input: PowerInput): Evidence[] {
  return powerReport(input).evidence
}

/**
 * Calculates the power stage.
 * @throws InputError when the design contradicts itself; `checkPower` lists all of it with places
 */
export function powerReport(input: PowerInput): PowerReport {
  const { power, signal } = input
  requireSound(power, signal)
  const stages = allStages(power, signal)
  const missing: string[] = []
  const loads = new Map(
    stages.map((s) => [s.name, input.loads?.[s.name] ?? loadOfDesign(s.district)] as const),
  )
  const sustained = new Map(
    stages.map((s) => [s.name, s.district.trip?.current ?? loads.get(s.name)?.worstAmp] as const),
  )
  const drivers = new Map<string, { report: DriverReport; heat: DriverHeatModel }>()
  for (const [name, driver] of Object.entries(power.drivers)) {
    const own = stages.filter((s) => s.driverName === name)
    const heat = driverHeat(own, sustained, driver.cooling?.ambient ?? power.ambient)
    const model = own[0]?.model
    if (!model) {
      missing.push(`driver "${name}" serves no district`)
      continue
    }
    for (const m of heat.heat.missing) missing.push(`driver "${name}": ${m}`)
    const report: DriverReport = {
      ...heat.heat,
      name,
      part: model.name,
      suits: model.part?.suits ?? 'unknown',
      remark: model.part?.remark ?? '',
      overloads: overloadsOf(heat),
    }
    const skew = driverSkewUs(model, driver.matchedLegs)
    if (skew) report.skew = skew
    else missing.push(`driver "${name}": its delays, so what it does to a half-bit is not shown`)
    const slope = driverSlope(model, own[0]!.supply.voltage)
    if (slope !== undefined) report.slopeVoltPerUs = slope
    drivers.set(name, { report, heat })
  }
  const regulator = regulatorOf(power)
  const supplies = Object.entries(power.supplies).map(([name, supply]) =>
    supplyReport(name, supply, stages, loads, power, regulator),
  )
  const districts = stages.map((stage) =>
    districtReport(
      stage,
      besideOf(stage, stages, (other) => loads.get(other)?.runningAmp ?? 0),
      loads.get(stage.name),
      sustained.get(stage.name),
      drivers.get(stage.driverName)!,
      input,
      missing,
    ),
  )
  const pins = pinPlan(power, signal, input.controller?.reservedPins ?? [], input.controller?.chip)
  const report: PowerReport = {
    districts,
    drivers: [...drivers.values()].map((d) => d.report),
    supplies,
    pins,
    evidence: [],
    advice: [],
    missing: [...new Set(missing)],
    cautions: careFor('supply', 'fuse', 'outputs', 'trip', 'heat'),
  }
  if (regulator) report.regulator = regulator
  report.advice = powerAdvice(report, power)
  report.evidence = powerEvidence(report, input, stages)
  return report
}

function regulatorOf(power: PowerDesign): RegulatorHeat | undefined {
  const c = power.controller
  if (c?.from !== 'track') return undefined
  const supply = power.supplies[c.supply ?? Object.keys(power.supplies)[0]!]!
  return regulatorHeat(c, supply.voltage * (1 + supply.tolerance), power.ambient)
}

function supplyReport(
  name: string,
  supply: PowerDesign['supplies'][string],
  stages: readonly DistrictStage[],
  loads: ReadonlyMap<string, DistrictLoad | undefined>,
  power: PowerDesign,
  regulator: RegulatorHeat | undefined,
): SupplyReport {
  const own = stages.filter((s) => s.supplyName === name)
  const rows: BudgetRow[] = []
  const without: string[] = []
  for (const s of own) {
    const load = loads.get(s.name)
    if (!load) {
      without.push(s.name)
      continue
    }
    const most = s.district.trip?.current ?? Number.POSITIVE_INFINITY
    rows.push({
      who: s.name,
      runningAmp: load.runningAmp,
      worstAmp: load.worstAmp,
      stalledAmp: Math.min(load.stalledAmp, most),
    })
  }
  for (const driver of new Set(own.map((s) => s.driverName))) {
    const quiescent = own.find((s) => s.driverName === driver)!.model.quiescentAmp ?? 0
    if (quiescent > 0) rows.push(flat(`driver ${driver} itself`, quiescent))
  }
  if (regulator && (power.controller?.supply ?? Object.keys(power.supplies)[0]) === name) {
    rows.push(flat('controller', regulator.inputAmp))
  }
  const report: SupplyReport = {
    ...budget(rows),
    name,
    ratingAmp: supply.rating,
    capableAmp: supply.limitCurrent ?? supply.rating,
    without,
  }
  for (const s of own) {
    const trip = districtTrip(s)
    // Where no current trips it for certain no supply helps.
    if (!trip || !Number.isFinite(trip.highAmp)) continue
    // While one district is shorted the others go on drawing, and so does everything else on the supply.
    const beside = rows.filter((r) => r.who !== s.name).reduce((sum, r) => sum + r.runningAmp, 0)
    const needed = trip.highAmp + beside
    if (report.neededToTripAmp === undefined || needed > report.neededToTripAmp) {
      report.neededToTripAmp = needed
      report.neededBy = s.name
    }
  }
  return report
}

function flat(who: string, amp: number): BudgetRow {
  return { who, runningAmp: amp, worstAmp: amp, stalledAmp: amp }
}

function districtReport(
  stage: DistrictStage,
  beside: Beside,
  load: DistrictLoad | undefined,
  sustainedAmp: number | undefined,
  driver: { report: DriverReport; heat: DriverHeatModel },
  input: PowerInput,
  missing: string[],
): DistrictReport {
  const { name, district } = stage
  const miss = (text: string) => missing.push(`district "${name}": ${text}`)
  const report: DistrictReport = {
    name,
    driver: stage.driverName,
    supply: stage.supplyName,
    channels: stage.channels.length,
  }
  if (stage.output !== undefined) report.output = stage.output
  if (load) report.load = load
  else miss('what it feeds, so budget and voltage under load are not shown')
  if (sustainedAmp !== undefined) report.sustainedAmp = sustainedAmp
  const hot = hotC(driver.report, input.power.ambient)
  const source = districtSource(stage, sustainedAmp ?? 1, hot, beside)
  if (source) {
    report.source = source
    report.voltage = trackVoltage(stage, load, hot, beside)
  } else miss('the losses of its driver, so track voltage and shorts are not shown')
  const chain = chainOf(stage)
  if (chain) report.sense = chain
  const trip = districtTrip(stage)
  if (trip) {
    const { timeUs, settings: _, ...plain } = trip
    const before = load?.runningAmp ?? 0
    const top = Math.max(trip.highAmp * 4, 2 * (sustainedAmp ?? 0))
    const curve = Array.from({ length: Number.isFinite(trip.highAmp) ? 32 : 0 }, (_point, i) => {
      const amp = trip.highAmp * (1.001 + (top / trip.highAmp - 1.001) * (i / 31) ** 2)
      // Soonest with the filter full of the usual current, latest with it empty: a short may come right after power-up.
      const { bestUs } = timeUs(amp, Math.min(before, trip.nominalAmp))
      return { amp, bestUs, worstUs: timeUs(amp, 0).worstUs }
    })
    report.trip = { ...plain, curve }
  } else if (!district.trip) miss('a trip, so shorts are not judged')
  if (trip && source) report.short = shortReport(stage, source, trip, load, driver.heat, beside)
  if (load?.stayAlive?.length && source) report.inrush = inrushReport(stage, source, trip, load, driver.heat)
  if (district.acknowledgement && chain)
    report.acknowledgement = ackReport(stage, chain, input.seed ?? 1, input.conversions ?? 30_000)
  if (load) report.adviseFuseAmp = fuseFor(Math.max(load.worstAmp, sustainedAmp ?? 0))
  return report
}

/** The temperature for the driver's resistance: its own when known and sound, else a warm guess of 100 °C. */
function hotC(driver: DriverReport, ambient: number): number {
  const t = driver.junctionC
  return t !== undefined && Number.isFinite(t) ? Math.max(ambient, Math.min(t, 175)) : 100
}

/** Currents of a channel beyond the sustained one, as multiples. */
const OVERLOADS = [1.25, 1.5, 2, 3]

function overloadsOf({ heat, standsUs }: DriverHeatModel): DriverReport['overloads'] {
  const strongest = heat.channelAmps[0]?.sharing.amps[0]
  if (strongest === undefined || strongest <= 0) return []
  return OVERLOADS.map((k) => {
    const { us, because } = standsUs(k * strongest)
    return { amp: k * strongest, ...(us === undefined ? {} : { us }), because }
  })
}

function shortReport(
  stage: DistrictStage,
  source: DistrictSource,
  trip: DistrictTrip,
  load: DistrictLoad | undefined,
  driver: DriverHeatModel,
  beside: Beside,
): ShortReport {
  const free = Math.max(0, source.highVolt - source.dropVolt) / Math.max(source.ohm, 1e-3)
  const { driverAmp: own, supplyMostAmp: supply, supplySureAmp: sure } = shortLimits(stage)
  const amp = Math.min(free, own, supply)
  const leastAmp = Math.max(
    0,
    Math.min(
      Math.max(0, source.lowVolt - source.dropVolt) / Math.max(source.ohm, 1e-3),
      trip.by === 'driver' ? Number.POSITIVE_INFINITY : own,
      sure - beside.supplyAmp - beside.channelAmp,
    ),
  )
  const heldBy = amp === supply ? 'supply' : amp === own ? 'driver' : 'resistance'
  // A short may come when nothing else runs: from an empty filter it trips latest.
  const tripUs = trip.timeUs(amp, 0).worstUs
  const soonestUs = trip.timeUs(amp, Math.min(load?.runningAmp ?? 0, trip.nominalAmp)).bestUs
  const stands = driver.standsUs(strongestAmp(stage.model, stage.channels.length, amp), stage.name)
  const result: ShortReport = {
    amp,
    leastAmp,
    leastTripUs: leastAmp >= trip.highAmp ? trip.timeUs(leastAmp, 0).worstUs : Number.POSITIVE_INFINITY,
    heldBy,
    tripUs,
    soonestUs,
    letThroughA2s: Number.isFinite(tripUs)
      ? i2t(amp, tripUs) + capacitorI2t(stage.supply.capacitance ?? 0, source.highVolt, source.ohm)
      : Number.POSITIVE_INFINITY,
    driverBecause: stands.because,
  }
  const { fuseI2t } = stage.district
  if (fuseI2t !== undefined) result.fuseMeltsUs = (fuseI2t / (amp * amp)) * 1e6
  if (stands.us !== undefined) result.driverStandsUs = stands.us
  if (stands.atMostUs !== undefined) result.driverStandsAtMostUs = stands.atMostUs
  if (load?.thinnestWireMm2 !== undefined) {
    result.wireA2s = copperI2t(load.thinnestWireMm2)
    result.wireStandsUs = (result.wireA2s / (amp * amp)) * 1e6
  }
  return result
}

function inrushReport(
  stage: DistrictStage,
  source: DistrictSource,
  trip: DistrictTrip | undefined,
  load: DistrictLoad,
  driver: DriverHeatModel,
): InrushReport {
  const found = inrush({
    volt: source.highVolt - source.dropVolt,
    sourceOhm: source.ohm + (load.wiringOhm ?? 0),
    limitAmp: source.limitKind === 'constant' ? source.limitAmp : Number.POSITIVE_INFINITY,
    groups: load.stayAlive ?? [],
    besideAmp: load.runningAmp,
  })
  const { limit } = stage.supply
  const { supplySureAmp: supplyAmp } = shortLimits(stage)
  const ownAmp =
    (stage.model.limitMinAmp ?? stage.model.limitAmp ?? Number.POSITIVE_INFINITY) * stage.channels.length
  const report: InrushReport = {
    ...found,
    supplyLimits: found.peakAmp >= supplyAmp * (1 - 1e-9),
    supplyKind: limit,
    driverLimits: found.peakAmp >= ownAmp,
  }
  const wave = waveOf(found.points)
  if (trip) {
    const blanking = stage.district.trip?.blanking ?? 0
    const until = Number.isFinite(found.lastsUs) ? found.lastsUs : found.points.at(-1)!.us
    if (trip.settings) {
      const s = { ...trip.settings.soonest, blankingUs: blanking }
      const lag = 4 * s.filterUs + s.samplePeriodUs * (s.average - 1) + (4 * s.samplePeriodUs) / s.smoothing
      const above = timeAboveUs(found.points, trip.lowAmp)
      // The current only falls: once filter and averages have followed it below the threshold, nothing trips any more.
      const last = timeAboveUs(found.points, s.thresholdAmp) + 8 * lag + s.samplePeriodUs * (s.of + 2)
      report.tripsAtUs = tripAtUs(wave, 0, s, 0, Math.min(until, last))
      report.blankingUs =
        above === 0 ? 0 : above + (s.filterUs + (s.average - 1) + (1 / s.smoothing - 1) > 0 ? lag : 0)
    } else {
      const above = timeAboveUs(found.points, trip.lowAmp)
      const { bestUs } = trip.timeUs(trip.highAmp, 0)
      report.tripsAtUs = above - blanking > bestUs ? blanking + bestUs : Number.POSITIVE_INFINITY
      report.blankingUs = Math.max(0, above - bestUs)
    }
  }
  // Parallel channels share unequally: the strongest decides.
  const n = stage.channels.length
  const share = (shareCurrent(stage.model, n, found.peakAmp)?.amps[0] ?? found.peakAmp / n) / found.peakAmp
  const each = share * found.peakAmp
  const hottest = driver.hottestC(
    found.points.map((p) => ({ us: p.us, amp: share * p.amp })),
    stage.name,
  )
  if (hottest !== undefined) report.junctionC = hottest
  const peak = stage.model.peakAmp
  const highestC = stage.model.junctionMaxC
  const cool = hottest !== undefined && highestC !== undefined ? hottest < highestC : undefined
  const small = peak !== undefined ? each <= peak : undefined
  if (cool === false || small === false) report.driverSafe = false
  else if (cool !== undefined && small !== undefined) report.driverSafe = true
  return report
}

function ackReport(stage: DistrictStage, chain: SenseChain, seed: number, conversions: number): AckReport {
  const a = stage.district.acknowledgement!
  const sense = stage.district.sense!
  const blindHalf = sense.sees === 'one'
  const situation: AckSituation = {
    noiseAmp: Math.hypot(sense.noise / chain.voltPerAmp, a.loadNoise),
    countAmp: chain.ampPerCount,
    rate: a.rate ?? sense.rate / a.average,
    average: a.average,
    filterUs: sense.filter,
    windowUs: a.window,
  }
  if (a.chopRate !== undefined && a.chopDuty < 1) situation.chop = { rate: a.chopRate, duty: a.chopDuty }
  // A sense in one leg that is not filtered meets the other polarity half of the time, at the bit rate.
  if (blindHalf && !situation.chop) situation.chop = { rate: 1e6 / 116, duty: 0.5 }
  const advice = adviseAck(situation, sense.rate)
  const smoothed: AckSituation = { ...situation }
  if (a.smoothing < 1) {
    // An exponential average is an RC filter that also takes the noise of its samples down, by √(a / (2 − a)).
    smoothed.filterUs += 1e6 / situation.rate / -Math.log(1 - a.smoothing)
    smoothed.noiseAmp *= Math.sqrt(a.smoothing / (2 - a.smoothing))
  }
  const proposed = a.threshold === undefined
  const rule: AckRule = proposed
    ? advice.rule
    : { thresholdAmp: a.threshold!, samples: a.samples, of: Math.max(a.samples, a.of ?? a.samples) }
  const used = proposed ? { ...situation, rate: advice.rate, average: advice.average } : smoothed
  // As many pulses as the conversions allow, so that a fast converter does not take minutes.
  const each = Math.max(1, 5000e-6 * used.rate * used.average)
  const runs = Math.max(20, Math.min(2000, Math.floor(conversions / each)))
  const { miss } = simulateAck(used, rule, runs, seed, 0)
  return {
    situation: used,
    rule,
    proposed,
    chances: ackChances(used, rule),
    played: { miss, runs },
    advice,
  }
}
