/** From a clause's corners to evidence: one verdict, the corner that decides, and the quantity to find out. */
import { type CornerQuestion, type CornerResult, searchCorners, type Values } from '../corner/index.js'
import type { Finding, Parameters } from '../finding/index.js'
import type { ClauseId, Evidence } from '../standard/index.js'

export interface CornerClause<K extends string = string> {
  clause: ClauseId
  about: string
  question: CornerQuestion<K>
  unit: string
  /** The clause's figure at a corner, in its unit; Infinity is cut off at `most`. */
  figure(values: Values<K>): number
  /** What stands for a figure without end in JSON. */
  most: number
  /** What is said of it, without the corner. */
  finding(result: CornerResult<K>): Finding
}

/** The evidence of a clause, with its sentence and what decides where corners differ. */
export function cornerEvidence<K extends string>(c: CornerClause<K>): Evidence {
  const result = searchCorners(c.question)
  const finding = c.finding(result)
  const at = (values: Values<K>) => Math.max(-c.most, Math.min(c.most, c.figure(values)))
  const [a, b] = [at(result.best.values), at(result.worst.values)]
  const sentence = finding.sentence + decision(result, c.question)
  return {
    clause: c.clause,
    origin: 'calculated',
    verdict: result.verdict,
    value: { low: Math.min(a, b), high: Math.max(a, b), unit: c.unit },
    margin: marginOf(result.worst.margin),
    about: c.about,
    because: sentence,
    finding: plainFinding({ ...finding, sentence }, decisionParams(result, c.question)),
  }
}

/** A finding whose parameters survive JSON: what is without limit is left out of them, the sentence says it. */
export function plainFinding(finding: Finding, more: Parameters = {}): Finding {
  const params = Object.entries({ ...finding.params, ...more }).filter(
    ([, value]) => typeof value !== 'number' || Number.isFinite(value),
  )
  return { ...finding, params: Object.fromEntries(params) }
}

export function marginOf(margin: number): number {
  return Number.isNaN(margin) ? -1 : Math.max(-1, Math.min(1, margin))
}

/** Where corners differ: the one that fails, and what would decide. */
export function decision<K extends string>(
  { verdict, corner, decider, decidesAlone }: CornerResult<K>,
  { quantities }: CornerQuestion<K>,
): string {
  if (verdict !== 'undecided') return ''
  const fails = corner === '' ? '' : `; it fails with the ${corner}`
  if (decider === undefined) return fails
  const q = quantities[decider]
  const ask = decidesAlone ? `knowing the ${q.name} decides it` : `most depends on the ${q.name}`
  return `${fails}; ${ask} (${q.source})`
}

function decisionParams<K extends string>(
  { verdict, corner, decider }: CornerResult<K>,
  { quantities }: CornerQuestion<K>,
): Record<string, string> {
  if (verdict !== 'undecided') return {}
  return { corner, ...(decider === undefined ? {} : { decider: quantities[decider].name }) }
}
