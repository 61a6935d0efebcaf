/** Evidence as a list for a terminal: verdict, clause, margin, the place in the design where it is not met, reason. */
import { wrapText } from '../plot/index.js'
import { marginText } from '../proof/words.js'
import type { Evidence } from '../standard/index.js'

export function evidenceLines(evidence: readonly Evidence[], width: number): string[] {
  const sign = { met: 'met      ', broken: 'BROKEN   ', undecided: 'undecided' }
  const wide = Math.min(width, 100)
  return evidence.flatMap((e) => {
    const { file, line } = e.where ?? {}
    const place = e.verdict !== 'met' && file !== undefined && line !== undefined ? `  ${file}:${line}` : ''
    return [
      `${sign[e.verdict]} ${e.clause}${e.about ? `, ${e.about}` : ''}: margin ${marginText(e.margin)}${place}`,
      ...wrapText(e.because, wide - 10).map((l) => `          ${l}`),
    ]
  })
}
