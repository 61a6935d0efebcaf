/**
 * One verdict for one clause and district. The power stage judges a short at the terminals and the voltage there, the
 * track judges them at every place of the rails: what one of them finds worse holds for the clause.
 */
import type { LoadedDesign } from '../design/index.js'
import { powerReport } from '../power/index.js'
import { isShown, type Statement, worseVerdict } from '../standard/index.js'
import { PROOF_FINDINGS } from './findings.data.js'
import { powerInput } from './power-input.js'
import { railroadOf } from './railroad.js'

const keyOf = ({ clause, about }: Statement) => (about === undefined ? undefined : `${clause} ${about}`)

/** One room's statements with the worse verdicts that another room has for the same clause and district. */
export function withOther<S extends Statement>(own: readonly S[], other: readonly Statement[]): S[] {
  const worst = new Map<string, Statement>()
  for (const e of other) {
    const key = keyOf(e)
    if (key === undefined || !isShown(e)) continue
    const before = worst.get(key)
    if (!before || (isShown(before) && worseVerdict(e.verdict, before.verdict))) worst.set(key, e)
  }
  return own.map((e) => {
    const found = worst.get(keyOf(e) ?? '')
    if (!found || !isShown(found) || !isShown(e) || !worseVerdict(found.verdict, e.verdict)) return e
    const finding = PROOF_FINDINGS.find('worse-elsewhere', { own: e.because, other: found.because })
    return {
      ...e,
      verdict: found.verdict,
      margin: Math.min(e.margin, found.margin),
      because: finding.sentence,
      finding,
    }
  })
}

/** The power stage's statements, in agreement with those of the track where the design describes one. */
export function agreeWithTrack<S extends Statement>(own: readonly S[], loaded: LoadedDesign): S[] {
  const railroad = railroadOf(loaded)
  return railroad ? withOther(own, railroad.report.evidence) : [...own]
}

/** The track's statements, in agreement with those of the power stage. */
export function agreeWithPower<S extends Statement>(own: readonly S[], loaded: LoadedDesign): S[] {
  const stage = powerInput(loaded)
  return stage ? withOther(own, powerReport(stage.input).evidence) : [...own]
}
