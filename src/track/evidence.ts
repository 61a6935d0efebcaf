/** What the calculation says about the clauses. */
import type { ClauseId, Evidence, Profile } from '../standard/index.js'
import { gapEvidence, isolationEvidence } from './gaps/evidence.js'
import { heatEvidence } from './heat/evidence.js'
import type { TrackLimits } from './limits.js'
import { polarityEvidence } from './polarity/evidence.js'
import type { TrackReport } from './report.js'
import { ringingEvidence } from './ringing/evidence.js'
import { shortEvidence } from './shorts/evidence.js'
import type { Situation } from './situations.js'
import { voltageEvidence } from './voltage/evidence.js'

/** What is worst for a clause where its own figure does not say; by the names of the situations of a design. */
const DECIDES: Partial<Record<ClauseId, Situation['id'] | 'every route' | 'wiring'>> = {
  'short-current': 'short',
  'short-trip': 'short',
  'conductor-heat': 'for ever',
  'joint-heat': 'for ever',
  'gap-bridging': 'wheel across a gap',
  isolation: 'wiring',
  polarity: 'every route',
  'decoder-withstand': 'empty',
  'edge-rate': 'empty',
  'crossing-distortion': 'empty',
}

const IN_WORDS: Readonly<Record<string, string>> = {
  empty: 'an empty railroad but for one decoder at the worst place',
  'every route': 'every route, in every position of its turnouts and switches',
  wiring: 'the wiring as it is, whatever runs',
  standing: 'trains where the design parks them',
  running: 'all trains running, in the worst arrangement',
  stalled: 'one locomotive stalled at the worst place, the others running in the worst arrangement',
  'for ever': 'a continuous current just below the trip at the worst place',
  short: 'a short at the worst place, while the rest runs',
  'wheel across a gap': 'one wheel across the worst gap',
}

/** One piece of evidence per clause and district. */
export function judgeTrack(
  report: TrackReport,
  limits: TrackLimits,
  profile: Profile | undefined,
): Evidence[] {
  const list: Evidence[] = []
  for (const d of report.districts) {
    if (d.lengthMm === 0) continue
    list.push(...voltageEvidence(report, d, limits, profile))
    list.push(...shortEvidence(report, d, limits))
  }
  list.push(...heatEvidence(report, profile))
  list.push(polarityEvidence(report), gapEvidence(report), isolationEvidence(report))
  list.push(...ringingEvidence(report, profile))
  return list.map((e) => {
    const found = e.finding?.params['situation'] ?? DECIDES[e.clause]
    const situation = found === undefined ? undefined : (IN_WORDS[`${found}`] ?? `${found}`)
    return situation === undefined ? e : { ...e, situation }
  })
}
