/** Reports of the proof, for the page to save. */
import { type Proof, proofHtml, proofJunit, proofMarkdown } from '../../proof/index.js'
import type { DeskCalls } from './calls.js'
import { markedFor } from './judge.js'

/** A report of a proof; one that is not of the present text says so, whoever asks for it. */
export async function exported({ proof, text, form }: DeskCalls['export']['takes']): Promise<string> {
  const render = {
    html: proofHtml,
    md: proofMarkdown,
    junit: proofJunit,
    json: (p: Proof) => `${JSON.stringify(p, null, 2)}\n`,
  }[form]
  return render(await markedFor(proof, text))
}
