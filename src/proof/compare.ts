/** Two proofs side by side: what changed, clause by clause and figure by figure. */
import type { Finding } from '../finding/index.js'
import { CLAUSE_FACTS, type ClauseId, type Origin, type Verdict } from '../standard/index.js'
import type { KeyFigure } from './key-figures.js'
import {
  type CellVerdict,
  isShownCell,
  ORIGINS,
  type Proof,
  type ProofInput,
  type Row,
  type ShownCell,
} from './proof.js'
import { marginText, rowName, stationName, valueText } from './words.js'

export const CHANGES = [
  'worse',
  'better',
  'less margin',
  'more margin',
  'other figures',
  'other demand',
  'only A',
  'only B',
  'same',
] as const

/**
 * What B is against A. `worse`, `better`: another verdict. `less margin`, `more margin`: the same verdict. `other
 * figures`: same verdict and margin, another value. `other demand`: only the limits differ. `only A`, `only B`: the other
 * shows nothing, which is neither better nor worse.
 */
export type Change = (typeof CHANGES)[number]

/** One side of a row: the worst that is shown of it. */
export interface SideCell {
  verdict: Verdict
  margin: number
  /** Of its worst statement, `55.2 to 61 us`. */
  value: string
  /** Origin of the worst statement. */
  origin: Origin
  because: string
}

export interface ComparedRow {
  clause: ClauseId
  about?: string
  title: string
  demand: string
  source: string
  limitsA?: string
  limitsB?: string
  a?: SideCell
  b?: SideCell
  /** Of the clause as a whole, by all that is shown of it. */
  verdictA?: CellVerdict
  verdictB?: CellVerdict
  change: Change
  /** Origins that only one of them shows; what is compared is what both show, where they share an origin. */
  unshared: string[]
}

export interface ComparedFigure {
  name: string
  about?: string
  unit: string
  a?: number
  b?: number
  change: 'up' | 'down' | 'same' | 'only A' | 'only B'
}

export interface ComparedSide {
  label: string
  design: string
  standard: string
  scale: string
  verdict: Proof['verdict']
  counts: Proof['counts']
  inputs: readonly ProofInput[]
  notes: readonly Finding[]
}

export interface Comparison {
  halfbit: 1
  kind: 'comparison'
  version: string
  a: ComparedSide
  b: ComparedSide
  rows: ComparedRow[]
  /** Rows by their change. */
  counts: Record<Change, number>
  figures: ComparedFigure[]
}

/** What is compared: a proof under a name, with figures of runs and captures that stand behind it. */
export interface CompareSide {
  label: string
  proof: Proof
  figures?: readonly KeyFigure[]
}

/**
 * Compare two proofs. Rows are matched by clause and by what they are about; where one design has one output and the
 * other several, by the output's name. Where both sides show a clause from the same origin, only shared origins are
 * compared, since a simulated run beside a mere calculation is no change of the design; else the worst of each.
 */
export function compareProofs(a: CompareSide, b: CompareSide): Comparison {
  const pairs = new Map<string, { a?: Row; b?: Row; about: string | undefined }>()
  const add = (side: 'a' | 'b', proof: Proof, other: Proof) => {
    for (const row of proof.rows) {
      const about = row.about ?? onlyOutput(row, proof, other)
      const key = `${row.clause}\n${about ?? ''}`
      const pair = pairs.get(key) ?? { about }
      pair[side] = row
      pairs.set(key, pair)
    }
  }
  add('a', a.proof, b.proof)
  add('b', b.proof, a.proof)
  const rows = [...pairs.values()].map((pair) => compareRow(pair.a, pair.b, pair.about))
  const order = [...a.proof.rows, ...b.proof.rows].map((row) => row.clause)
  rows.sort((x, y) => order.indexOf(x.clause) - order.indexOf(y.clause))
  const counts = Object.fromEntries(CHANGES.map((c) => [c, 0])) as Record<Change, number>
  for (const row of rows) counts[row.change]++
  return {
    halfbit: 1,
    kind: 'comparison',
    version: b.proof.about.version,
    a: sideOf(a),
    b: sideOf(b),
    rows,
    counts,
    figures: compareFigures(a.figures ?? [], b.figures ?? []),
  }
}

/** The output that a row without a name is about, where the other design has several to tell apart. */
function onlyOutput(row: Row, own: Proof, other: Proof): string | undefined {
  const single = own.about.outputs.length === 1 && other.about.outputs.length > 1
  return single && CLAUSE_FACTS[row.clause].concerns === 'output' ? own.about.outputs[0]!.name : undefined
}

function sideOf({ label, proof }: CompareSide): ComparedSide {
  const { about, profile, verdict, counts } = proof
  return {
    label,
    design: stationName(about),
    standard: `${profile.title}, edition ${profile.edition}`,
    scale: profile.scale,
    verdict,
    counts,
    inputs: about.inputs,
    notes: about.notes ?? [],
  }
}

function compareRow(a: Row | undefined, b: Row | undefined, about: string | undefined): ComparedRow {
  const { clause, title, demand, source } = (b ?? a)!
  const shows = (row: Row | undefined) => ORIGINS.filter((o) => isShownCell(row?.cells[o]))
  const shared = shows(a).filter((o) => isShownCell(b?.cells[o]))
  const pick = (row: Row | undefined) => worstOf(row, shared.length > 0 ? shared : shows(row))
  const left = pick(a)
  const right = pick(b)
  const alone = (row: Row | undefined, name: string) =>
    shared.length > 0
      ? shows(row)
          .filter((o) => !shared.includes(o))
          .map((o) => `${o} only ${name}`)
      : []
  const compared: ComparedRow = {
    clause,
    title,
    demand,
    source,
    change: changeOf(left, right, (a?.limits ?? b?.limits) !== (b?.limits ?? a?.limits)),
    unshared: [...alone(a, 'A'), ...alone(b, 'B')],
  }
  if (about !== undefined) compared.about = about
  if (a) compared.limitsA = a.limits
  if (b) compared.limitsB = b.limits
  if (a) compared.verdictA = a.verdict
  if (b) compared.verdictB = b.verdict
  if (left) compared.a = left
  if (right) compared.b = right
  return compared
}

const RANK: Record<Verdict, number> = { met: 1, undecided: 2, broken: 3 }

function worstOf(row: Row | undefined, origins: readonly Origin[]): SideCell | undefined {
  let worst: { cell: ShownCell; origin: Origin } | undefined
  for (const origin of origins) {
    const cell = row?.cells[origin]
    if (!isShownCell(cell)) continue
    const worse =
      !worst ||
      RANK[cell.verdict] > RANK[worst.cell.verdict] ||
      (cell.verdict === worst.cell.verdict && cell.margin < worst.cell.margin)
    if (worse) worst = { cell, origin }
  }
  if (!worst) return undefined
  const { cell, origin } = worst
  const first = cell.evidence[0]!
  return {
    verdict: cell.verdict,
    margin: cell.margin,
    value: valueText(first),
    origin,
    because: first.because,
  }
}

function changeOf(a: SideCell | undefined, b: SideCell | undefined, limits: boolean): Change {
  if (!a && !b) return limits ? 'other demand' : 'same'
  if (!b) return 'only A'
  if (!a) return 'only B'
  if (a.verdict !== b.verdict) return RANK[b.verdict] > RANK[a.verdict] ? 'worse' : 'better'
  // What reads the same in every report is the same.
  if (marginText(a.margin) !== marginText(b.margin))
    return b.margin > a.margin ? 'more margin' : 'less margin'
  if (a.value !== b.value) return 'other figures'
  return limits ? 'other demand' : 'same'
}

/** Figures of the same name, side by side; equal to a part in a million is the same. */
export function compareFigures(a: readonly KeyFigure[], b: readonly KeyFigure[]): ComparedFigure[] {
  const list = new Map<string, ComparedFigure>()
  const put = (side: 'a' | 'b', figures: readonly KeyFigure[]) => {
    for (const { name, about, unit, value } of figures) {
      const key = `${about ?? ''}\n${name}\n${unit}`
      const one: ComparedFigure = list.get(key) ?? { name, unit, change: 'same' }
      if (about !== undefined) one.about = about
      one[side] = value
      list.set(key, one)
    }
  }
  put('a', a)
  put('b', b)
  return [...list.values()].map((f) => {
    const { a: x, b: y } = f
    if (y === undefined) return { ...f, change: 'only A' }
    if (x === undefined) return { ...f, change: 'only B' }
    const close = Math.abs(x - y) <= 1e-6 * Math.max(Math.abs(x), Math.abs(y))
    return { ...f, change: close ? 'same' : y > x ? 'up' : 'down' }
  })
}

/** `one-half (main)`. */
export function comparedName({ clause, about }: ComparedRow): string {
  return rowName({ clause, ...(about === undefined ? {} : { about }) } as Row)
}

/** The comparison in one sentence. */
export function comparisonText({ counts, rows }: Comparison): string {
  const parts = CHANGES.filter((c) => c !== 'same' && counts[c] > 0).map((c) => `${counts[c]} ${c}`)
  if (parts.length === 0) return `No clause of ${rows.length} differs.`
  return `B against A: ${parts.join(', ')}; ${counts.same} of ${rows.length} clauses the same.`
}
