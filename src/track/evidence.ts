/** What the calculation says about the clauses. */
import type { Evidence, Profile } from '../standard/index.js'
import { gapEvidence, isolationEvidence } from './gaps/evidence.js'
import { heatEvidence } from './heat/evidence.js'
import type { TrackLimits } from './limits.js'
import { polarityEvidence } from './polarity/evidence.js'
import type { TrackReport } from './report.js'
import { ringingEvidence } from './ringing/evidence.js'
import { shortEvidence } from './shorts/evidence.js'
import { voltageEvidence } from './voltage/evidence.js'

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
  return list
}
