/** Evidence about gaps: wheels across them, and districts that are joined where they must not be. */
import type { Evidence, Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { TrackReport } from '../report.js'
import { worstGap } from './bridging.js'

export function gapEvidence({ gaps }: TrackReport): Evidence {
  const worst = worstGap(gaps)
  const outside = gaps.filter((g) => g.verdict === 'broken').length
  const finding = worst?.finding ?? trackFindings.find('no-gaps', {})
  const share = (amp: number) => (worst?.allowedAmp ? amp / worst.allowedAmp : 0)
  return {
    clause: 'gap-bridging',
    origin: 'calculated',
    verdict: worst?.verdict ?? 'met',
    value: { low: share(worst?.leastAmp ?? 0), high: share(worst?.mostAmp ?? 0), unit: 'share' },
    margin: worst?.margin ?? 1,
    count: { seen: gaps.length, outside },
    ...(worst ? { where: { section: worst.joint } } : {}),
    because: finding.sentence,
    finding,
  }
}

const RANK: readonly Verdict[] = ['broken', 'undecided', 'met']

export function isolationEvidence({ commonRails, districts }: TrackReport): Evidence {
  const worst = [...commonRails].sort((a, b) => RANK.indexOf(a.verdict) - RANK.indexOf(b.verdict))[0]
  const count = (verdict: Verdict) => commonRails.filter((c) => c.verdict === verdict).length
  const verdict = worst?.verdict ?? 'met'
  const finding = worst?.finding ?? trackFindings.find('isolated', { districts: districts.length })
  return {
    clause: 'isolation',
    origin: 'calculated',
    verdict,
    value: { low: count('broken'), high: count('broken') + count('undecided'), unit: 'joints' },
    margin: verdict === 'met' ? 1 : -1,
    count: { seen: districts.length, outside: count('broken') },
    ...(worst?.joint ? { where: { section: worst.joint } } : {}),
    because: finding.sentence,
    finding,
  }
}
