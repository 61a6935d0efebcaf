/** A row of the proof that is not met, in words. */
import { type Row, rowName, sentence } from '../../proof/index.js'

export interface Unmet {
  /** Clause and what it is about, with its title. */
  words: string
  verdict: Row['verdict']
  because: string
}

export function unmet(row: Row): Unmet {
  const worst = Object.values(row.cells).find((c) => c?.verdict === row.verdict)
  const because =
    row.because ??
    (worst === undefined ? '' : 'evidence' in worst ? worst.evidence[0]!.because : worst.because)
  return { words: `${rowName(row)}: ${row.title}`, verdict: row.verdict, because: sentence(because) }
}
