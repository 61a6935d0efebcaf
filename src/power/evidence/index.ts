/** From the figures of the power stage to evidence about the clauses. No figure, no evidence. */
import type { Evidence } from '../../standard/index.js'
import { formatNumber, formatSi } from '../../units/index.js'
import type { DistrictModel } from '../district-model.js'
import type { DistrictParts } from '../district-report.js'
import type { PowerInput, PowerReport } from '../report.js'
import { withSituation } from '../situations.data.js'
import { ackEvidence } from './acknowledgement.js'
import { deadLevelEvidence, logicLevelEvidence } from './controller-levels.js'
import { driverCurrentEvidence, driverHeatEvidence } from './driver.js'
import { edgeRateEvidence } from './edge-rate.js'
import { shareEvidence } from './limited.js'
import { pinEvidence } from './pins.js'
import { protectionEvidence } from './protection.js'
import { shortEvidence } from './short.js'
import { supplyEvidence } from './supply.js'
import { voltageEvidence } from './voltage.js'

export { chance } from './acknowledgement.js'
export { between } from './short.js'

const n = formatNumber

/** @param missing takes what could not be worked out */
export function powerEvidence(
  report: Omit<PowerReport, 'evidence'>,
  input: PowerInput,
  models: readonly DistrictModel[],
  parts: ReadonlyMap<string, DistrictParts>,
  missing: string[],
): Evidence[] {
  const list: Evidence[] = []
  for (const m of models) {
    const { name, supplyName } = m.stage
    const d = report.districts.find((district) => district.name === name)!
    const supply = report.supplies.find((s) => s.name === supplyName)!
    list.push(...voltageEvidence(d, input, m.stage))
    list.push(...shortEvidence(m, parts.get(name) ?? {}))
    if (m.source) list.push(...protectionEvidence(m, parts.get(name) ?? {}, supply.worstAmp))
    if (d.acknowledgement) list.push(ackEvidence(name, d.acknowledgement))
  }
  for (const driver of report.drivers) {
    const own = models.filter((m) => m.stage.driverName === driver.name)
    list.push(...driverCurrentEvidence(driver, own))
    list.push(...driverHeatEvidence(driver, own))
    list.push(...edgeRateEvidence(driver, own[0]!.stage, input))
  }
  for (const s of report.supplies) list.push(...supplyEvidence(s, input.power))
  list.push(...pinEvidence(report, input))
  list.push(...deadLevelEvidence(input))
  list.push(...logicLevelEvidence(input, missing))
  if (report.regulator) list.push(regulatorEvidence(report.regulator, input))
  return list.map(withSituation)
}

function regulatorEvidence(r: NonNullable<PowerReport['regulator']>, input: PowerInput): Evidence {
  const what =
    r.limit === 'heat'
      ? `${n(r.watt, 3)} W in the regulator: junction ${n(r.junctionC, 3)} of ${n(r.junctionMaxC)} °C`
      : r.limit === 'current'
        ? `regulator current ${formatSi(input.power.controller!.current, 'A', 3)}`
        : `${n(r.inputVolt, 3)} V at the regulator's input`
  return shareEvidence(
    'regulator-heat',
    'controller',
    r.share,
    `${what}; figures of its package unless given`,
  )
}
