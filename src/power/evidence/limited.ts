/** Evidence from a figure and its limits. */
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  type Verdict,
  verdictOfCases,
} from '../../standard/index.js'

export function limited(
  clause: ClauseId,
  about: string,
  value: Evidence['value'],
  limits: { min?: number | undefined; max?: number | undefined },
  because: string,
): Evidence {
  const margin = marginWithin(value.low, value.high, limits)
  return {
    clause,
    origin: 'calculated',
    verdict: margin >= 0 ? 'met' : 'broken',
    value,
    margin,
    about,
    because,
  }
}

/** A voltage in its unfavourable and its favourable case: judged as the track judges it. */
export function limitedInCases(...args: Parameters<typeof limited>): Evidence {
  const e = limited(...args)
  const [, , { low, high }, limits] = args
  const inside = (volt: number) => marginWithin(volt, volt, limits) >= 0
  return { ...e, verdict: verdictOfCases(inside(low) && inside(high), inside(low) || inside(high)) }
}

/** A share of a rating: 1 is the rating. */
export function shareEvidence(
  clause: ClauseId,
  about: string,
  share: number,
  because: string,
  verdict?: Verdict,
): Evidence {
  // JSON knows no infinity: a thousand times the rating stands for all beyond.
  const high = Math.min(share, 1000)
  const e = limited(clause, about, { low: high, high, unit: 'share' }, { max: 1 }, because)
  return verdict ? { ...e, verdict, margin: verdict === 'undecided' ? 0 : e.margin } : e
}
