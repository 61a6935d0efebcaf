/** Evidence on a dead controller and on logic levels. */
import type { Evidence } from '../../standard/index.js'
import { deadOutputs, logicLevelChecks } from '../dead-level.js'
import { POWER_FINDINGS } from '../findings.data.js'
import type { PowerInput } from '../report.js'

const WORSE = { off: 0, open: 1, dc: 2, short: 3 } as const

export function deadLevelEvidence({ power, signal, controller }: PowerInput): Evidence[] {
  return deadOutputs(power, signal, controller?.chip).map(({ output, drivers }): Evidence => {
    const worst = drivers.reduce((a, b) => (WORSE[b.rails] > WORSE[a.rails] ? b : a))
    const { driver, rails, because } = worst
    const finding = POWER_FINDINGS.find('dead-level', { driver, rails, because })
    const isCertain = rails === 'dc' || rails === 'short'
    const certain = drivers.filter((d) => d.rails === 'dc' || d.rails === 'short').length
    const maybe = drivers.filter((d) => d.rails !== 'off').length
    return {
      clause: 'dead-level',
      origin: 'calculated',
      verdict: rails === 'off' ? 'met' : isCertain ? 'broken' : 'undecided',
      value: { low: certain, high: maybe, unit: 'outputs' },
      margin: rails === 'off' ? 1 : isCertain ? -1 : 0,
      count: { seen: drivers.length, outside: maybe },
      about: output,
      because: finding.sentence,
      finding,
    }
  })
}

export function logicLevelEvidence(input: PowerInput, missing: string[]): Evidence[] {
  const found = logicLevelChecks(input.power, input.signal, input.controller?.chip)
  missing.push(...found.missing)
  const outputs = [...new Set(found.checks.map((c) => c.output))]
  return outputs.map((output): Evidence => {
    const checks = found.checks.filter((c) => c.output === output)
    const worst = checks.reduce((a, b) => (b.spareVolt < a.spareVolt ? b : a))
    const mostSpareVolt = Math.min(...checks.map((c) => c.mostSpareVolt))
    const depends = worst.spareVolt < 0 && mostSpareVolt >= 0
    const open = worst.spareVolt < 0 ? undefined : found.open.find((o) => o.output === output)
    const because = open
      ? `${worst.because}; ${open.because}`
      : depends
        ? `${worst.because}, its supply 5 % off (common practice, no source), which decides it`
        : worst.because
    const finding = POWER_FINDINGS.find('logic-level', { because })
    return {
      clause: 'logic-level',
      origin: 'calculated',
      verdict: open || depends ? 'undecided' : worst.spareVolt < 0 ? 'broken' : 'met',
      value: { low: worst.spareVolt, high: mostSpareVolt, unit: 'V' },
      // Half of the supply is as much as there can be on either side.
      margin: open ? 0 : Math.max(-1, Math.min(1, worst.spareVolt / (worst.supplyVolt / 2))),
      count: { seen: checks.length, outside: checks.filter((c) => c.spareVolt < 0).length },
      about: output,
      because: finding.sentence,
      finding,
    }
  })
}
