/**
 * What follows for one district, and for one driver. Kept with the district's model: where that is as before, and nothing else that
 * matters has changed either, its results are.
 */
import type { LogicLevels } from '../controller/index.js'
import type { Evidence, Profile } from '../standard/index.js'
import { dependence } from '../units/index.js'
import type { PowerDesign } from './design/index.js'
import type { DistrictModel } from './district-model.js'
import { type DistrictParts, type DistrictReport, districtReport } from './district-report.js'
import type { DriverHeatModel } from './driver-heat.js'
import { ackEvidence } from './evidence/acknowledgement.js'
import { driverCurrentEvidence, driverHeatEvidence } from './evidence/driver.js'
import { edgeRateEvidence } from './evidence/edge-rate.js'
import { protectionEvidence } from './evidence/protection.js'
import { shortEvidence } from './evidence/short.js'
import { voltageEvidence } from './evidence/voltage.js'
import { fuseModel } from './fuse.js'
import { powerUp } from './power-up.js'
import type { DriverReport } from './report.js'
import { senseStress } from './sense-stress.js'
import { shortOutcome } from './short.js'
import { driverSkewUs, driverSlope } from './skew.js'
import type { SupplyReport } from './supply-report.js'

/** What the results of a district depend on beside its model. */
export interface DistrictContext {
  supply: SupplyReport
  levels: LogicLevels | undefined
  ack: { seed: number; conversions: number }
  profile: Profile
  /** It feeds a service track. */
  isService: boolean
  /** All of it but the supply, as text. */
  on: string
}

export interface DistrictResults {
  parts: DistrictParts
  report: DistrictReport
  evidence: Evidence[]
  missing: string[]
}

const lastOfDistrict = new WeakMap<DistrictModel, { on: string; results: DistrictResults }>()

/** @param models of all districts, its supply's among them */
export function districtResults(
  m: DistrictModel,
  models: readonly DistrictModel[],
  context: DistrictContext,
): DistrictResults {
  const on = context.on + dependence(context.supply).text
  const known = lastOfDistrict.get(m)
  if (known?.on === on) return known.results
  const results = makeDistrictResults(m, models, context)
  lastOfDistrict.set(m, { on, results })
  return results
}

function makeDistrictResults(
  m: DistrictModel,
  models: readonly DistrictModel[],
  { supply, levels, ack, profile, isService }: DistrictContext,
): DistrictResults {
  const missing: string[] = []
  const parts = partsOf(m, models, supply, levels)
  const stages = models.map((other) => other.stage)
  const loads = new Map(models.map((other) => [other.stage.name, other.load] as const))
  const report = districtReport(m, parts, stages, loads, ack, missing)
  const evidence = [
    ...voltageEvidence(report, profile, m.stage),
    ...shortEvidence(m, parts, isService ? profile : undefined),
  ]
  if (m.source) evidence.push(...protectionEvidence(m, parts, supply.worstAmp))
  if (report.acknowledgement) evidence.push(ackEvidence(m.stage.name, report.acknowledgement))
  return { parts, report, evidence, missing }
}

function partsOf(
  m: DistrictModel,
  models: readonly DistrictModel[],
  supply: SupplyReport,
  levels: LogicLevels | undefined,
): DistrictParts {
  if (!m.source) return {}
  const beside = models.flatMap(({ stage, load }) =>
    load && stage !== m.stage && stage.supplyName === m.stage.supplyName ? [{ stage, load }] : [],
  )
  const worst = supply.without.length === 0 ? supply.worstAmp : undefined
  return {
    ...(m.load ? { powerUp: powerUp(m.stage, m.source, m.load, m.heats.most, m.runningC, beside) } : {}),
    ...protectiveParts(m, worst, levels),
  }
}

/** Fuse and current sense of a district. */
export function protectiveParts(
  m: DistrictModel,
  supplyWorstAmp: number | undefined,
  levels: LogicLevels | undefined,
): Pick<DistrictParts, 'fuse' | 'stress'> {
  if (!m.source) return {}
  const fuse = fuseModel(m.stage, m.source, m.load, supplyWorstAmp, m.ambientC)
  const outcome = shortOutcome(m.stage, m.source, m.heats, m.load)
  const stress = senseStress(m.stage, m.source, m.sustained, outcome, levels)
  return { ...(fuse ? { fuse } : {}), ...(stress ? { stress } : {}) }
}

export interface DriverResults {
  report: DriverReport | undefined
  evidence: Evidence[]
  missing: string[]
}

/** By the first of its districts. */
const lastOfDriver = new WeakMap<DistrictModel, { on: string; results: DriverResults }>()

export function driverResults(
  name: string,
  models: readonly DistrictModel[],
  power: PowerDesign,
  { profile, on }: Pick<DistrictContext, 'profile' | 'on'>,
): DriverResults {
  const own = models.filter((m) => m.stage.driverName === name)
  const [first] = own
  if (!first) return { report: undefined, evidence: [], missing: [`driver "${name}" serves no district`] }
  const known = lastOfDriver.get(first)
  if (known?.on === on) return known.results
  const missing: string[] = []
  const report = driverReport(name, first, power, missing)
  const evidence = [
    ...driverCurrentEvidence(report, own, models),
    ...driverHeatEvidence(report, own),
    ...edgeRateEvidence(report, first.stage, profile),
  ]
  const results = { report, evidence, missing }
  lastOfDriver.set(first, { on, results })
  return results
}

function driverReport(
  name: string,
  first: DistrictModel,
  power: PowerDesign,
  missing: string[],
): DriverReport {
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
  return report
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
