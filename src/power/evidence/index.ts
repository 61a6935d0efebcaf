/** From the figures of the power stage to evidence about the clauses. No figure, no evidence. */
import type { Evidence } from '../../standard/index.js'
import { formatNumber, formatSi } from '../../units/index.js'
import type { PowerInput, PowerReport } from '../report.js'
import { withSituation } from '../situations.data.js'
import { deadLevelEvidence, logicLevelEvidence } from './controller-levels.js'
import { shareEvidence } from './limited.js'
import { pinEvidence } from './pins.js'
import { supplyEvidence } from './supply.js'

export { chance } from './acknowledgement.js'
export { between } from './short.js'

const n = formatNumber

/**
 * @param parts what is shown of each district and driver
 * @param missing takes what could not be worked out
 */
export function powerEvidence(
  report: Omit<PowerReport, 'evidence'>,
  input: PowerInput,
  parts: Record<'districts' | 'drivers', readonly { evidence: Evidence[] }[]>,
  missing: string[],
): Evidence[] {
  const list: Evidence[] = []
  for (const { evidence } of [...parts.districts, ...parts.drivers]) list.push(...evidence)
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
