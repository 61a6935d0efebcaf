/** Statements as a list for a terminal: verdict, clause, margin, the place in the design where it is not met, reason. */
import { wrapText } from '../plot/index.js'
import { marginText } from '../proof/words.js'
import { isShown, type Statement } from '../standard/index.js'

/** Each verdict in a column of its own width. */
export const VERDICT_COLUMN: Readonly<Record<Statement['verdict'], string>> = {
  met: 'met      ',
  broken: 'BROKEN   ',
  undecided: 'undecided',
  'not shown': 'not shown',
}

export function evidenceLines(statements: readonly Statement[], width: number): string[] {
  const wide = Math.min(width, 100)
  return statements.flatMap((e) => {
    const { file, line } = e.where ?? {}
    const place = e.verdict !== 'met' && file !== undefined && line !== undefined ? `  ${file}:${line}` : ''
    const margin = isShown(e) ? `: margin ${marginText(e.margin)}` : ''
    return [
      `${VERDICT_COLUMN[e.verdict]} ${e.clause}${e.about ? `, ${e.about}` : ''}${margin}${place}`,
      ...wrapText(e.because, wide - 10).map((l) => `          ${l}`),
      ...(isShown(e) && e.situation !== undefined
        ? wrapText(`worst case: ${e.situation}`, wide - 10).map((l) => `          ${l}`)
        : []),
    ]
  })
}
