/** Evidence of the origin `calculated`, made from an interval. */
import type { Finding } from '../../finding/index.js'
import type { SignalDesign } from '../../signal/index.js'
import {
  type ClauseId,
  type Evidence,
  type Limits,
  marginWithin,
  type Profile,
} from '../../standard/index.js'
import type { ControllerDesign } from '../design.js'

export interface SignalParts {
  controller: ControllerDesign
  signal: SignalDesign
}

interface Draft {
  clause: ClauseId
  low: number
  high: number
  finding: Finding
  /** Absent: decided. */
  undecided?: boolean
  about?: string
}

/** Evidence from an interval, held against the sender's limits of its clause or those given. */
export function statement(
  d: Draft,
  profile: Profile,
  limits: Limits = profile.clauses[d.clause].sender,
): Evidence {
  const margin = marginWithin(d.low, d.high, limits) + 0
  return {
    clause: d.clause,
    origin: 'calculated',
    verdict: margin < 0 ? 'broken' : d.undecided ? 'undecided' : 'met',
    value: { low: d.low, high: d.high, unit: profile.clauses[d.clause].unit },
    margin,
    ...(d.about === undefined ? {} : { about: d.about }),
    because: d.finding.sentence,
    finding: d.finding,
  }
}
