/** What differs from an accepted proof, as data and in words. */
import type { Origin } from '../../standard/index.js'

export interface SinceChange {
  /** `short-trip (yard)`. */
  clause: string
  /** What shows it; absent where the clause as a whole is spoken of. */
  origin?: Origin
  kind: 'verdict' | 'margin' | 'no longer shown' | 'newly shown' | 'newly owed' | 'no longer owed'
  /** `met 0.4`, `not shown`. */
  before: string
  now: string
}

export interface Since {
  /** The accepted proof's file, its sum, and the date it was given. */
  baseline: { file: string; sha256?: string; date?: string }
  worse: SinceChange[]
  better: SinceChange[]
  /** Clauses that only one of the proofs has, and that nothing shows there: neither worse nor better. */
  others: SinceChange[]
}

/** `short-trip (yard), simulated: no longer shown; met 0.4 before, not shown now`. */
export function changeText({ clause, origin, before, now, kind }: SinceChange): string {
  const what = kind === 'no longer shown' ? 'no longer shown; ' : ''
  return `${clause}${origin === undefined ? '' : `, ${origin}`}: ${what}${before} before, ${now} now`
}

/** `Since the accepted proof main.json of 2026-05-01: 1 worse, 2 better`. */
export function sinceText({ baseline, worse, better, others }: Since): string {
  const of = baseline.date === undefined ? '' : ` of ${baseline.date}`
  const what =
    worse.length + better.length === 0
      ? 'nothing got better or worse'
      : `${worse.length} worse, ${better.length} better`
  const more = others.length === 0 ? '' : `, ${others.length} owed by only one of the two and not shown`
  return `Since the accepted proof ${baseline.file}${of}: ${what}${more}`
}
