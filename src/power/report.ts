/** The power stage of a design, calculated: every figure, the evidence from it, and the cautions that go with it. */
import { controllerClock, type LogicLevels } from '../controller/index.js'
import type { Finding } from '../finding/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { Evidence, Profile } from '../standard/index.js'
import { careFor } from './care.js'
import { requireSound } from './check.js'
import { type CornerReport, cornerReports } from './corner-report.js'
import { controllerLevels } from './dead-level.js'
import type { PowerDesign } from './design/index.js'
import { type DistrictModel, districtModels } from './district-model.js'
import { type DistrictParts, type DistrictReport, districtReport } from './district-report.js'
import type { DriverHeat, DriverHeatModel } from './driver-heat.js'
import { powerEvidence } from './evidence/index.js'
import { fuseModel } from './fuse.js'
import type { DistrictLoad } from './load.js'
import { powerNotices } from './notices.js'
import { type PinPlan, type PinUsers, pinPlan } from './pins.js'
import { powerUp } from './power-up.js'
import { type Protection, protectionOf } from './protection.js'
import { type RegulatorHeat, regulatorHeat } from './regulator.js'
import { senseStress } from './sense-stress.js'
import { shortOutcome } from './short.js'
import { type DriverSkew, driverSkewUs, driverSlope } from './skew.js'
import { allStages } from './stage.js'
import { type SupplyReport, supplyReport } from './supply-report.js'
import { type TripReach, tripReach } from './trip-reach.js'

export interface PowerInput {
  power: PowerDesign
  profile: Profile
  signal?: SignalDesign
  /** Chip and pins that other code uses. */
  controller?: PinUsers
  /** What each district feeds, from the railroad; the design's own `load` stands in where it is absent. */
  loads?: Readonly<Record<string, DistrictLoad>>
  /** Seed of the played acknowledgements. */
  seed?: number
  /** How many conversions of the converter they may take in all, 30 000 when absent; more is finer and slower. */
  conversions?: number
  /** Draw so many builds for the yield of each clause, and make the protection charts; none when absent. */
  builds?: number
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

export interface PowerReport {
  districts: DistrictReport[]
  drivers: DriverReport[]
  supplies: SupplyReport[]
  pins: PinPlan
  /** What a trip of each district switches off besides. */
  tripReach: TripReach[]
  /** Time against current from continuous to short; asked for with `builds`. */
  protection?: Protection[]
  /** Corners, yield and the quantities that matter, by clause; asked for with `builds`. */
  corners?: CornerReport[]
  regulator?: RegulatorHeat
  evidence: Evidence[]
  /** What could not be worked out, and which figure it takes. */
  missing: string[]
  /** What else is worth knowing; changes are proposed by `powerCandidates`, once they are judged. */
  notices: Finding[]
  cautions: string[]
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
  const clock = controllerClock(input.controller)
  const stages = allStages(power, signal, clock)
  const models = districtModels(power, signal, input.loads, clock)
  const missing: string[] = []
  const loads = new Map(models.map((m) => [m.stage.name, m.load] as const))
  const drivers = Object.keys(power.drivers).flatMap((name) => driverReport(name, models, power, missing))
  const regulator = regulatorOf(power)
  const supplies = Object.entries(power.supplies).map(([name, supply]) =>
    supplyReport(name, supply, stages, loads, power, regulator),
  )
  const levels = controllerLevels(power, input.controller?.chip)
  const parts = new Map(models.map((m) => [m.stage.name, partsOf(m, supplies, levels)] as const))
  const ack = { seed: input.seed ?? 1, conversions: input.conversions ?? 30_000 }
  const districts = models.map((m) =>
    districtReport(m, parts.get(m.stage.name)!, stages, loads, ack, missing),
  )
  const report: PowerReport = {
    districts,
    drivers,
    supplies,
    pins: pinPlan(power, signal, input.controller),
    tripReach: tripReach(power, signal, input.controller, models),
    evidence: [],
    notices: [],
    missing: [],
    cautions: careFor('supply', 'fuse', 'outputs', 'trip', 'heat'),
  }
  if (regulator) report.regulator = regulator
  report.notices = powerNotices(report, power)
  report.evidence = powerEvidence(report, input, models, parts, missing)
  report.missing = [...new Set(missing)]
  if (input.builds !== undefined) {
    report.protection = models.flatMap((m) => protectionOf(m, parts.get(m.stage.name)!) ?? [])
    report.corners = cornerReports(models, parts, drivers, input.builds, input.seed ?? 1)
  }
  return report
}

function partsOf(
  m: DistrictModel,
  supplies: readonly SupplyReport[],
  levels: LogicLevels | undefined,
): DistrictParts {
  if (!m.source) return {}
  const supply = supplies.find((s) => s.name === m.stage.supplyName)
  const worst = supply && supply.without.length === 0 ? supply.worstAmp : undefined
  const fuse = fuseModel(m.stage, m.source, m.load, worst)
  const outcome = shortOutcome(m.stage, m.source, m.heats, m.load)
  const stress = senseStress(m.stage, m.source, m.sustained, outcome, levels)
  return {
    ...(m.load ? { powerUp: powerUp(m.stage, m.source, m.load, m.heats.most, m.runningC) } : {}),
    ...(fuse ? { fuse } : {}),
    ...(stress ? { stress } : {}),
  }
}

function driverReport(
  name: string,
  models: readonly DistrictModel[],
  power: PowerDesign,
  missing: string[],
): DriverReport[] {
  const [first] = models.filter((m) => m.stage.driverName === name)
  if (!first) {
    missing.push(`driver "${name}" serves no district`)
    return []
  }
  const { model } = first.stage
  const heat = first.heats.most
  for (const m of heat.heat.missing) missing.push(`driver "${name}": ${m}`)
  const report: DriverReport = {
    ...heat.heat,
    name,
    part: model.name,
    suits: model.part?.suits ?? 'unknown',
    remark: model.part?.remark ?? '',
    overloads: overloadsOf(heat),
  }
  const skew = driverSkewUs(model, power.drivers[name]!.matchedLegs)
  if (skew) report.skew = skew
  else missing.push(`driver "${name}": its delays, so what it does to a half-bit is not shown`)
  const slope = driverSlope(model, first.stage.supply.voltage)
  if (slope !== undefined) report.slopeVoltPerUs = slope
  return [report]
}

function regulatorOf(power: PowerDesign): RegulatorHeat | undefined {
  const c = power.controller
  if (c?.from !== 'track') return undefined
  const supply = power.supplies[c.supply ?? Object.keys(power.supplies)[0]!]!
  return regulatorHeat(c, supply.voltage * (1 + supply.tolerance), power.ambient)
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
