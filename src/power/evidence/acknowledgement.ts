/** Evidence on the detection of acknowledgements, over the error of the sense's gain. */
import { type CornerQuestion, searchCorners, within } from '../../corner/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import type { AckReport } from '../ack-report.js'
import { ACK_CHANCE_LIMIT, ackChances, withGain } from '../acknowledgement.js'
import { decision, marginOf, plainFinding } from '../corner-evidence.js'
import { POWER_FINDINGS } from '../findings.data.js'

export function ackEvidence(name: string, a: AckReport): Evidence {
  const { rule, played, situation } = a
  const error = situation.gainError ?? 0
  const at = (gain: number) => ackChances(...withGain(situation, rule, gain - 1))
  const low = at(1 - error)
  // The play sees what the closed form cannot (sampling in step with chopping); beyond chance it overrides it.
  const sigma = Math.sqrt(Math.max(low.miss * (1 - low.miss), 1 / played.runs) / played.runs)
  const floor = played.miss > low.miss + 5 * sigma ? played.miss : 0
  const worstAt = (gain: number) => {
    const { miss, false: wrong } = at(gain)
    return { miss: Math.max(miss, floor), wrong, worst: Math.max(miss, floor, wrong) }
  }
  const question: CornerQuestion<'gain'> = {
    quantities: {
      gain: within(`gain of the sense of ${name}`, 1, error, '', 'tolerance of shunt and reference'),
    },
    // In decades: 1 at a thousandth of the allowed chance, 0 at it.
    margin: ({ gain }) => Math.log10(ACK_CHANCE_LIMIT / Math.max(worstAt(gain).worst, 1e-12)) / 3,
    tries: { gain: [1] },
  }
  const found = searchCorners(question)
  const worst = worstAt(found.worst.values.gain)
  const best = worstAt(found.best.values.gain)
  const miss = Math.max(worstAt(1 - error).miss, worstAt(1 + error).miss)
  const wrong = Math.max(worstAt(1 - error).wrong, worstAt(1 + error).wrong)
  const finding = POWER_FINDINGS.find('ack-detect', {
    proposed: a.proposed,
    samples: rule.samples,
    of: rule.of,
    thresholdAmp: rule.thresholdAmp,
    rate: situation.rate,
    miss: chance(miss),
    wrong: chance(wrong),
    gain: error,
    method: a.chances.method,
    limit: chance(ACK_CHANCE_LIMIT),
  })
  const sentence = finding.sentence + decision(found, question)
  return {
    clause: 'ack-detect',
    origin: 'calculated',
    verdict: found.verdict,
    value: { low: Math.min(best.miss, best.wrong), high: worst.worst, unit: 'share' },
    margin: marginOf(found.worst.margin),
    about: name,
    because: sentence,
    finding: plainFinding({ ...finding, sentence }),
  }
}

/** A chance in words that stay readable when small. */
export function chance(p: number): string {
  if (p <= 1e-12) return 'less than 1 in 1e12'
  if (p >= 0.05) return `${formatNumber(p * 100, 2)} %`
  const odds = 1 / p
  return `1 in ${odds < 1e6 ? formatNumber(odds, 2) : odds.toExponential(0).replace('+', '')}`
}
