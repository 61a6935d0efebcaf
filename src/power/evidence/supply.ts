/** Evidence on what a supply must give. */
import { type CornerQuestion, searchCorners } from '../../corner/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatSi } from '../../units/index.js'
import { decision, marginOf, plainFinding } from '../corner-evidence.js'
import type { PowerDesign } from '../design/index.js'
import { POWER_FINDINGS } from '../findings.data.js'
import { type SupplyReport, tripBudgetQuestion } from '../supply-report.js'
import { shareEvidence } from './limited.js'

const amp = (value: number) => formatSi(value, 'A', 3)

/** What may flow out of a supply for ever: its limit may lie far above its rating, and nothing ends what lies between. */
function overloadEvidence(s: SupplyReport): Evidence[] {
  const { overload } = s
  if (!overload) return []
  const { district, flows, besideAmp } = overload
  const share = (v: { flows: number }) => (v.flows + besideAmp) / s.ratingAmp
  const question: CornerQuestion<'flows'> = {
    quantities: { flows },
    margin: (v) => 1 - share(v),
    unfavourable: { flows: 'high' },
  }
  const found = searchCorners(question)
  const finding = POWER_FINDINGS.find('supply-overload', {
    district,
    leastAmp: flows.low,
    mostAmp: flows.high,
    besideAmp,
    ratingAmp: s.ratingAmp,
  })
  const sentence = finding.sentence + decision(found, question)
  return [
    {
      clause: 'supply-current',
      origin: 'calculated',
      verdict: found.verdict,
      value: {
        low: Math.min(1000, share(found.best.values)),
        high: Math.min(1000, share(found.worst.values)),
        unit: 'share',
      },
      margin: marginOf(found.worst.margin),
      about: `${s.name}, below the trips`,
      because: sentence,
      finding: plainFinding({ ...finding, sentence }),
    },
  ]
}

export function supplyEvidence(s: SupplyReport, power: PowerDesign): Evidence[] {
  const list: Evidence[] = []
  const supply = power.supplies[s.name]!
  if (s.without.length > 0) return list
  if (s.rows.length > 0)
    list.push(
      shareEvidence(
        'supply-current',
        s.name,
        s.worstAmp / s.ratingAmp,
        `worst credible load ${amp(s.worstAmp)} of a rating of ${amp(s.ratingAmp)}; ${amp(s.runningAmp)} usual`,
      ),
    )
  list.push(...overloadEvidence(s))
  const question = tripBudgetQuestion(s, supply)
  if (!question || s.neededToTripAmp === undefined) return list
  const found = searchCorners(question)
  const q = question.quantities.capable
  const finding = POWER_FINDINGS.find('supply-trips', {
    district: s.neededBy ?? '',
    neededAmp: s.neededToTripAmp,
    leastAmp: q.low,
    mostAmp: q.high,
    from: q.source,
  })
  const sentence = finding.sentence + decision(found, question)
  const share = (capable: number) => Math.min(1000, s.neededToTripAmp! / Math.max(capable, 1e-9))
  list.push({
    clause: 'supply-current',
    origin: 'calculated',
    verdict: found.verdict,
    value: { low: share(q.high), high: share(q.low), unit: 'share' },
    margin: marginOf(found.worst.margin),
    about: `${s.name}, to trip`,
    because: sentence,
    finding: plainFinding({ ...finding, sentence }),
  })
  return list
}
