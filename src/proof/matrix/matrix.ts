/** One station on many boards: its proofs as a table of variant × stage or clause, and which of them to recommend. */
import type { Finding } from '../../finding/index.js'
import { CLAUSE_FACTS, type Origin } from '../../standard/index.js'
import {
  type CellVerdict,
  isShownCell,
  ORIGINS,
  overall,
  type Proof,
  type ProofInput,
  proofHolds,
  type Row,
} from '../proof.js'
import { marginText, missingText, placeText, rowName, troubles, valueText } from '../words.js'
import { MATRIX_FINDINGS } from './findings.data.js'

const { find } = MATRIX_FINDINGS

/** Columns of the table. */
export const MATRIX_COLUMNS = ['stages', 'clauses'] as const
export type MatrixColumns = (typeof MATRIX_COLUMNS)[number]

export interface MatrixCell {
  /** Broken before undecided before not shown before met: a cell with a gap is never met. */
  verdict: CellVerdict
  /** Clauses by their verdict. */
  counts: Record<CellVerdict, number>
  /** The smallest margin of what is shown, and the clause it is of; absent where nothing is. */
  margin?: number
  worst?: string
  /** Clauses that are not shown. */
  notShown: string[]
}

/** What is broken or undecided, and where. */
export interface MatrixTrouble {
  column: string
  clause: string
  origin: Origin
  verdict: 'broken' | 'undecided'
  value: string
  limits: string
  because: string
  place: string
}

/** `as far as shown`: nothing shown speaks against it, but not everything is shown. */
export type Advice = 'recommended' | 'as far as shown' | 'undecided' | 'not recommended'

export interface MatrixRow {
  variant: string
  suits?: string
  verdict: CellVerdict
  /** As the exit status of a proof has it: nothing is broken, and nothing required is missing. */
  holds: boolean
  counts: Record<CellVerdict, number>
  margin?: number
  worst?: string
  /** By column; a column without a clause that the variant owes is left out. */
  cells: Record<string, MatrixCell>
  troubles: MatrixTrouble[]
  /** What was required and is not shown. */
  missing: string[]
  /** Clauses about what the firmware does that are not shown. */
  behaviourNotShown: string[]
  advice: Advice
  finding: Finding
  inputs: readonly ProofInput[]
  notes: readonly Finding[]
}

export interface Matrix {
  halfbit: 1
  kind: 'matrix'
  version: string
  design: string
  date?: string
  by: MatrixColumns
  columns: string[]
  rows: MatrixRow[]
  /** Which to take first, or that none can be. */
  choice: Finding
}

export interface MatrixInput {
  /** Name of the variant, or of the design as written. */
  variant: string
  suits?: string | undefined
  proof: Proof
}

/** @param inputs at least one proof, all of one design. */
export function matrixOf(inputs: readonly MatrixInput[], by: MatrixColumns): Matrix {
  const columnOf = ({ clause }: Row) => (by === 'clauses' ? clause : CLAUSE_FACTS[clause].stage)
  const columns = [...new Set(inputs.flatMap(({ proof }) => proof.rows.map(columnOf)))]
  const rows = inputs.map((input) => rowOf(input, columnOf))
  const { name, version, date } = inputs[0]!.proof.about
  return {
    halfbit: 1,
    kind: 'matrix',
    version,
    design: name,
    ...(date === undefined ? {} : { date }),
    by,
    columns,
    rows,
    choice: choiceOf(rows),
  }
}

/** What speaks for the whole table, as `proofHolds` of one proof. */
export function matrixHolds({ rows }: Matrix): boolean {
  return rows.every((row) => row.holds)
}

function rowOf({ variant, suits, proof }: MatrixInput, columnOf: (row: Row) => string): MatrixRow {
  const cells: Record<string, MatrixCell> = {}
  for (const column of new Set(proof.rows.map(columnOf)))
    cells[column] = cellOf(proof.rows.filter((row) => columnOf(row) === column))
  const all = cellOf(proof.rows)
  const behaviourNotShown = proof.rows
    .filter((row) => CLAUSE_FACTS[row.clause].behaviour && row.verdict === 'not shown')
    .map(rowName)
  const missing = missingText(proof)
  return {
    variant,
    ...(suits === undefined ? {} : { suits }),
    verdict: all.verdict,
    holds: proofHolds(proof),
    counts: all.counts,
    ...(all.margin === undefined ? {} : { margin: all.margin, worst: all.worst! }),
    cells,
    troubles: troubles(proof).map(({ row, origin, evidence }) => ({
      column: columnOf(row),
      clause: rowName(row),
      origin,
      verdict: evidence.verdict === 'broken' ? 'broken' : 'undecided',
      value: valueText(evidence),
      limits: row.limits,
      because: evidence.because,
      place: placeText(evidence),
    })),
    missing,
    behaviourNotShown,
    ...adviceOf({ variant, suits }, all, proof, behaviourNotShown.length > 0),
    inputs: proof.about.inputs,
    notes: proof.about.notes ?? [],
  }
}

function cellOf(rows: readonly Row[]): MatrixCell {
  const counts = { met: 0, broken: 0, undecided: 0, 'not shown': 0 }
  let worst: { margin: number; name: string } | undefined
  for (const row of rows) {
    counts[row.verdict]++
    // What is only declared has a margin and is not shown.
    if (row.verdict === 'not shown') continue
    for (const origin of ORIGINS) {
      const cell = row.cells[origin]
      if (isShownCell(cell) && (!worst || cell.margin < worst.margin))
        worst = { margin: cell.margin, name: rowName(row) }
    }
  }
  return {
    verdict: overall(counts),
    counts,
    ...(worst ? { margin: worst.margin, worst: worst.name } : {}),
    notShown: rows.filter((row) => row.verdict === 'not shown').map(rowName),
  }
}

function adviceOf(
  of: { variant: string; suits: string | undefined },
  { verdict, counts, margin, worst }: MatrixCell,
  proof: Proof,
  behaviour: boolean,
): { advice: Advice; finding: Finding } {
  const named = (wanted: CellVerdict) => proof.rows.filter((row) => row.verdict === wanted).map(rowName)
  if (verdict === 'broken')
    return { advice: 'not recommended', finding: find('variant-broken', { ...of, clauses: named('broken') }) }
  if (!proofHolds(proof))
    return {
      advice: 'not recommended',
      finding: find('variant-requirement', { ...of, clauses: missingNames(proof) }),
    }
  if (verdict === 'undecided')
    return { advice: 'undecided', finding: find('variant-undecided', { ...of, clauses: named('undecided') }) }
  if (margin === undefined) return { advice: 'not recommended', finding: find('variant-nothing-shown', of) }
  const least = { margin: marginText(margin), at: worst! }
  const total = proof.rows.length
  if (verdict === 'met')
    return { advice: 'recommended', finding: find('recommended', { ...of, ...least, of: total }) }
  return {
    advice: 'as far as shown',
    finding: find('recommended-as-far-as-shown', {
      ...of,
      ...least,
      missing: counts['not shown'],
      of: total,
      behaviour,
    }),
  }
}

function missingNames({ required }: Proof): string[] {
  const names = (required?.missing ?? []).map(({ clause, about }) =>
    about === undefined ? clause : `${clause} (${about})`,
  )
  return [...new Set(names)]
}

/** As reports print it; what reads the same is no reason to choose. */
const hundredths = (margin: number) => Math.round(100 * margin)

/** Fewest gaps first: a margin that few clauses have contributed to is no better for it. */
function choiceOf(rows: readonly MatrixRow[]): Finding {
  const candidates = rows.filter((r) => r.advice === 'recommended' || r.advice === 'as far as shown')
  const [first] = [...candidates].sort(
    (a, b) => a.counts['not shown'] - b.counts['not shown'] || hundredths(b.margin!) - hundredths(a.margin!),
  )
  if (!first) return find('no-choice', {})
  return find('first-choice', {
    variant: first.variant,
    others: candidates.length,
    missing: first.counts['not shown'],
  })
}
