/** The power stage of a design, calculated: every figure, the evidence from it, and the cautions that go with it. */
import { controllerClock } from '../controller/index.js'
import type { Finding } from '../finding/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { Evidence, Profile } from '../standard/index.js'
import { dependence } from '../units/index.js'
import { careFor } from './care.js'
import { requireSound } from './check.js'
import { type CornerReport, cornerReports } from './corner-report.js'
import { controllerLevels } from './dead-level.js'
import type { PowerDesign } from './design/index.js'
import { districtModels } from './district-model.js'
import type { DistrictReport } from './district-report.js'
import { districtResults, driverResults } from './district-results.js'
import type { DriverHeat } from './driver-heat.js'
import { powerEvidence } from './evidence/index.js'
import { type FaultReport, faultReports, type Terminators } from './faults/still-protected.js'
import type { DistrictLoad } from './load.js'
import { faultNotices, powerNotices } from './notices.js'
import { type PinPlan, type PinUsers, pinPlan } from './pins.js'
import { type Protection, protectionOf } from './protection.js'
import { type RegulatorHeat, regulatorHeat } from './regulator.js'
import type { DriverSkew } from './skew.js'
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
  /** Across the ends of each district's bus, from the railroad; none when absent. */
  terminators?: Terminators
  /** Seed of the played acknowledgements. */
  seed?: number
  /** How many conversions of the converter they may take in all, 30 000 when absent; more is finer and slower. */
  conversions?: number
  /** Draw so many builds for the yield of each clause, and make the protection charts; none when absent. */
  builds?: number
  /** Judge every single fault of the stage, too. */
  faults?: boolean
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
  /** Every single fault of the stage, with whether protection still holds; asked for with `faults`. */
  faults?: FaultReport[]
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
  const { profile } = input
  const missing: string[] = []
  const levels = controllerLevels(power, input.controller?.chip)
  const ack = { seed: input.seed ?? 1, conversions: input.conversions ?? 30_000 }
  const context = { levels, ack, profile, on: dependence([levels, ack, profile]).text }
  const loads = new Map(models.map((m) => [m.stage.name, m.load] as const))
  const ofDrivers = Object.keys(power.drivers).map((name) => driverResults(name, models, power, context))
  const drivers = ofDrivers.flatMap((d) => d.report ?? [])
  const regulator = regulatorOf(power)
  const supplies = Object.entries(power.supplies).map(([name, supply]) =>
    supplyReport(name, supply, stages, loads, power, regulator),
  )
  const ofDistricts = models.map((m) => {
    const supply = supplies.find((s) => s.name === m.stage.supplyName)!
    const isService = signal?.outputs[m.stage.output ?? '']?.mode === 'service'
    return districtResults(m, models, { ...context, supply, isService, on: `${context.on} ${isService}` })
  })
  const parts = new Map(models.map((m, i) => [m.stage.name, ofDistricts[i]!.parts] as const))
  for (const results of [...ofDrivers, ...ofDistricts]) missing.push(...results.missing)
  const report: PowerReport = {
    districts: ofDistricts.map((d) => d.report),
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
  const evidence = { districts: ofDistricts, drivers: ofDrivers }
  report.evidence = powerEvidence(report, input, evidence, missing)
  report.missing = [...new Set(missing)]
  if (input.faults) {
    report.faults = faultReports(models, power.ambient, levels, input.terminators)
    report.notices.push(...faultNotices(report.faults))
  }
  if (input.builds !== undefined) {
    report.protection = models.flatMap((m) => protectionOf(m, parts.get(m.stage.name)!) ?? [])
    report.corners = cornerReports(models, parts, drivers, input.builds, input.seed ?? 1)
  }
  return report
}

function regulatorOf(power: PowerDesign): RegulatorHeat | undefined {
  const c = power.controller
  if (c?.from !== 'track') return undefined
  const supply = power.supplies[c.supply ?? Object.keys(power.supplies)[0]!]!
  return regulatorHeat(c, supply.voltage * (1 + supply.tolerance), power.ambient)
}
