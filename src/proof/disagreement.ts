/** Where a run shows something else than the calculation: one of the two is wrong, and both are told. */
import type { Finding } from '../finding/index.js'
import { type ClauseId, type Evidence, isShown, type Statement } from '../standard/index.js'
import { PROOF_FINDINGS } from './findings.data.js'

/** Clauses whose figure is the same thing in both: the bench's events fall on whole instructions. */
const SAME_FIGURE: Partial<Record<ClauseId, { share: number; absolute: number }>> = {
  // Corners of the calculation hold the tolerances; the bench adds the grain of its events, us.
  'short-trip': { share: 0.05, absolute: 10 },
}

/** Opposite verdicts on the same thing, and figures of the run beyond the worst of the calculation by more than their error. */
export function disagreements(calculated: readonly Statement[], shown: readonly Statement[]): Finding[] {
  // Stops have a row together, and each its place.
  const keyOf = (s: Statement) =>
    `${s.clause} ${s.about}${s.clause === 'stopping-distance' ? ` ${s.where?.section}` : ''}`
  const worked = new Map<string, Evidence>()
  for (const s of calculated) if (isShown(s) && s.origin === 'calculated') worked.set(keyOf(s), s)
  return shown.flatMap((s): Finding[] => {
    const c = isShown(s) && s.origin === 'simulated' ? worked.get(keyOf(s)) : undefined
    if (!c || !isShown(s)) return []
    const verdicts = [c.verdict, s.verdict]
    const opposite = verdicts.includes('met') && verdicts.includes('broken')
    const same = SAME_FIGURE[s.clause]
    // The calculation is of the slowest place and corner: a run may be quicker, never slower.
    const outside =
      same !== undefined &&
      c.value.unit === s.value.unit &&
      s.value.high > c.value.high * (1 + same.share) + same.absolute
    if (!opposite && !outside) return []
    return [
      PROOF_FINDINGS.find('origins-disagree', {
        clause: s.clause,
        about: s.about,
        calculated: c.because,
        simulated: s.because,
      }),
    ]
  })
}
