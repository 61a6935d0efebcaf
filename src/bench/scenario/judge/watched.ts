/** Expectations about signal and traffic: what the readers of the whole design say of the run. */
import type { Statement } from '../../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'

export function signal(_: boolean, { watched }: Played): Found[] {
  return foundIn(watched?.signal ?? [], 'the signal')
}

export function traffic(_: boolean, { watched }: Played): Found[] {
  return foundIn(watched?.traffic ?? [], 'the traffic')
}

/** The statements themselves go into the result; here only what becomes of the expectation. */
function foundIn(statements: readonly Statement[], what: string): Found[] {
  const broken = statements.find((s) => s.verdict === 'broken')
  const open = statements.find((s) => s.verdict === 'undecided')
  const shown = statements.filter((s) => s.verdict === 'met')
  const worst = broken ?? open
  if (worst) {
    const finding = SAYS.find('clause-of-run', { clause: worst.clause, because: worst.because })
    return [{ about: worst.about ?? what, verdict: broken ? 'broken' : 'undecided', finding }]
  }
  if (shown.length === 0) return []
  const clauses = [...new Set(shown.map((s) => s.clause))]
  return [{ about: what, verdict: 'met', finding: SAYS.find('clauses-hold', { what, clauses }) }]
}
