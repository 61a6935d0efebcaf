/** The traffic of a design, for the proof: the policy the firmware has, without loss. */
import { seededRandom } from '../corner/index.js'
import type { Evidence, Profile } from '../standard/index.js'
import { type CaseChoice, type CaseResult, runCase } from './case.js'
import { trafficEvidence } from './judge.js'
import { type ResolvedTraffic, resolveTraffic, type TrafficParts, trafficInputOf } from './plan.js'
import { type StopFigures, type StopShot, stopFigures } from './stopping.js'

export interface CalculatedTraffic {
  traffic: ResolvedTraffic
  result: CaseResult
  stops: StopFigures[]
  evidence: Evidence[]
}

/** Simulate and judge. Deterministic by the design's seed. @throws InputError when the parts do not fit. */
export function calculateTraffic(
  parts: TrafficParts,
  profile: Profile,
  choice: Partial<Pick<CaseChoice, 'mostPackets' | 'forUs'>> = {},
): CalculatedTraffic {
  const traffic = resolveTraffic(trafficInputOf(parts))
  const result = runCase(traffic, { policy: traffic.policy, lost: 0, ...choice })
  const { figures } = stopsOf(traffic, result)
  return { traffic, result, stops: figures, evidence: trafficEvidence(traffic, result, figures, profile) }
}

/** The stops of a case; phases and speeds are drawn from a stream of their own. */
export function stopsOf(
  traffic: ResolvedTraffic,
  result: CaseResult,
): { figures: StopFigures[]; shots: StopShot[] } {
  return stopFigures(traffic, result, seededRandom((traffic.input.traffic.seed ^ 0x2545f491) >>> 0).uniform)
}
