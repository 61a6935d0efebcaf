/** Whether a change of a design breaks what held before. */
import { isShown, type Statement, type Verdict } from './evidence.js'

const RANK: Record<Verdict, number> = { broken: 0, undecided: 1, met: 2 }

/** Whether a verdict is worse than another: broken, then undecided, then met. */
export function worseVerdict(one: Verdict, other: Verdict): boolean {
  return RANK[one] < RANK[other]
}

/**
 * Statements of `after` with a worse verdict than those of `before` about the same thing, or not met where `before`
 * says nothing about it. Margins do not count: what stays met may have less than before.
 */
export function worsened(before: readonly Statement[], after: readonly Statement[]): Statement[] {
  const key = (e: Statement) => `${e.clause} ${e.origin} ${e.about ?? ''}`
  const had = new Map<string, number>()
  for (const e of before) {
    if (!isShown(e)) continue
    const k = key(e)
    had.set(k, Math.min(had.get(k) ?? RANK.met, RANK[e.verdict]))
  }
  return after.filter((e) => isShown(e) && RANK[e.verdict] < (had.get(key(e)) ?? RANK.met))
}
