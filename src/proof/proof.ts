/** Statements × clauses → the proof. */
import type { Finding } from '../finding/index.js'
import {
  CLAUSE_FACTS,
  CLAUSE_IDS,
  type Clause,
  type ClauseId,
  type Evidence,
  isShown,
  type Limits,
  type NotShown,
  ORIGINS,
  type Origin,
  type OutputMode,
  type Profile,
  profileOf,
  type Statement,
  senderLimits,
  type Verdict,
} from '../standard/index.js'
import type { Since } from './baseline/changes.js'
import { PROOF_FINDINGS } from './findings.data.js'
import { limitsText } from './limits-text.js'
import { sourceInWords } from './source-in-words.js'
import { type Part, type StationParts, subjectsOf } from './subjects.js'

export { ORIGINS }

export type CellVerdict = Verdict | 'not shown'

/** What was found about one clause from one origin; several statements are joined to the worst. */
export interface ShownCell {
  verdict: Verdict
  /** The smallest of the statements. */
  margin: number
  /**
   * Where it is broken for the station and the standard says what decoders must accept: whether that is kept.
   * The clause is broken either way.
   */
  decoders?: 'must accept it' | 'need not accept it'
  /** The statements, worst first. */
  evidence: Evidence[]
  /** What more could have shown it and did not, such as a capture of another build. */
  unshown?: NotShown[]
}

/** Why an origin that can show a clause shows nothing of it. */
export interface UnshownCell {
  verdict: 'not shown'
  because: string
  finding: Finding
  /** Further reasons. */
  unshown?: NotShown[]
}

export type Cell = ShownCell | UnshownCell

export function isShownCell(cell: Cell | undefined): cell is ShownCell {
  return cell !== undefined && cell.verdict !== 'not shown'
}

export interface Row {
  clause: ClauseId
  /** Output, district or part it is about; absent when there is only one or none. */
  about?: string
  title: string
  demand: string
  /** Limits in words, `55 to 61 us`. */
  limits: string
  /** The same as figures in the clause's unit. */
  window: Limits
  /** `S-9.1:2020 Table 1 (confirmed)`. */
  source: string
  /** One for each origin that can show the clause; an origin that is not there cannot. */
  cells: Partial<Record<Origin, Cell>>
  /** The worst of the cells that are shown; `not shown` too where only a declaration speaks of what the station does. */
  verdict: CellVerdict
  /** Why the row as a whole is not shown although a cell is. */
  because?: string
  finding?: Finding
}

export interface ProofInput {
  role: 'design' | 'firmware' | 'stimulus' | 'capture'
  file: string
  /** Of the file's bytes, hexadecimal. */
  sha256?: string
}

export interface ProofOutput {
  name: string
  mode: OutputMode
  cutout: boolean
}

export interface ProofAbout {
  /** Name of the design. */
  name: string
  /** Its variant, where it is not the design as written. */
  variant?: string
  outputs: readonly ProofOutput[]
  inputs: readonly ProofInput[]
  /** Version of the program. */
  version: string
  /** What was asked for and could not be done, and what a reader should know. */
  notes?: readonly Finding[]
  /** What to mind when the design is built. */
  cautions?: readonly Finding[]
  /** ISO date, when the caller wants one in the report. */
  date?: string
}

/** An origin that must show whatever it can, or one clause that it must show. */
export type Requirement = Origin | `${Origin}:${ClauseId}`

export function isRequired(list: readonly Requirement[], origin: Origin, clause: ClauseId): boolean {
  return list.includes(origin) || list.includes(`${origin}:${clause}`)
}

/** A clause that an origin can show, was required to show, and does not. */
export interface Missing {
  clause: ClauseId
  about?: string
  origin: Origin
  because: string
  finding: Finding
}

export interface Proof {
  halfbit: 1
  kind: 'proof'
  about: ProofAbout
  profile: { id: string; title: string; edition: string; documents: string; scale: string }
  /** One for each clause that the design owes, and for each output, district or part of it. */
  rows: Row[]
  /** Rows by their verdict. */
  counts: Record<CellVerdict, number>
  /** The worst of the rows: broken, undecided, not shown, met. */
  verdict: CellVerdict
  /** Whether a run or a capture shows what the firmware does with commands; absent where no output owes it. */
  behaviour?: 'shown' | 'not shown'
  /** What was required, by origin or by origin and clause, and what of it is not shown. */
  required?: { origins: readonly Requirement[]; missing: Missing[] }
  /** What got better or worse since a proof that was accepted before. */
  since?: Since
  /** Set where the proof does not belong to the design as it is now; says what has changed since. */
  stale?: { since: readonly Finding[] }
}

const RANK: Record<CellVerdict, number> = { 'not shown': 0, met: 1, undecided: 2, broken: 3 }

export interface ProveOptions {
  /** Beside the outputs: the parts of the station that have rows of their own, and whether there is firmware. */
  parts?: StationParts
  /** Why nothing is shown of a clause where no statement says so. */
  reason?: (clause: ClauseId, origin: Origin, about: string | undefined) => Finding
  /** What must be shown. */
  require?: readonly Requirement[]
}

const noReason = () => PROOF_FINDINGS.find('not-given', {})

/**
 * Put statements into the table of clauses. What nothing shows has a row that says `not shown`.
 * @param profile limits of an output without cut-out; those of an output with one are made from it.
 * @throws RangeError when a statement names no clause of the profile.
 */
export function prove(
  statements: readonly Statement[],
  profile: Profile,
  about: ProofAbout,
  { parts = {}, reason = noReason, require = [] }: ProveOptions = {},
): Proof {
  const checked = statements.map((e) => sound(e, profile))
  const withCutout = profileOf({
    profile: profile.profile,
    edition: profile.edition,
    scale: profile.scale,
    cutout: true,
  })
  const rows: Row[] = []
  for (const id of CLAUSE_IDS) {
    for (const { part, list } of subjectsOf(id, checked, about.outputs, parts)) {
      const { clauses } = part?.cutout ? withCutout : profile
      rows.push(rowOf(clauses[id], list, part, reason))
    }
  }
  // One output need not be named in every row.
  if (about.outputs.length === 1) {
    for (const row of rows) {
      const ofOutput = CLAUSE_FACTS[row.clause].concerns === 'output'
      if (ofOutput && rows.filter((r) => r.clause === row.clause).length === 1) delete row.about
    }
  }
  for (const row of rows) if (isDeclared(row, rows)) declare(row)
  const counts = { met: 0, broken: 0, undecided: 0, 'not shown': 0 }
  for (const row of rows) counts[row.verdict]++
  const { profile: id, title, edition, documents, scale } = profile
  const proof: Proof = {
    halfbit: 1,
    kind: 'proof',
    about,
    profile: { id, title, edition, documents, scale },
    rows,
    counts,
    verdict: overall(counts),
  }
  const commanded = rows.filter((row) => row.clause === 'command-latency')
  if (parts.firmware && commanded.length > 0) proof.behaviour = commanded.every(seen) ? 'shown' : 'not shown'
  if (require.length > 0) proof.required = { origins: [...require], missing: missingOf(rows, require) }
  return proof
}

/** Nothing is met as long as something is broken, undecided or not shown. */
export function overall(counts: Proof['counts']): CellVerdict {
  if (counts.broken > 0) return 'broken'
  if (counts.undecided > 0) return 'undecided'
  return counts['not shown'] > 0 || counts.met === 0 ? 'not shown' : 'met'
}

/** A run or a capture says something of it. */
function seen({ cells }: Row): boolean {
  return isShownCell(cells.simulated) || isShownCell(cells.measured)
}

/** Met by calculation alone, of something that only a run or a capture can show the station to do. */
function isDeclared(row: Row, rows: readonly Row[]): boolean {
  const { calculated } = row.cells
  if (!CLAUSE_FACTS[row.clause].behaviour || row.verdict !== 'met') return false
  if (isShownCell(calculated) && calculated.evidence.every((e) => e.byParts)) return false
  // `main, every current` is shown by what is seen of `main`.
  const name = (about: string | undefined) => about?.split(', ')[0]
  return !rows.some(
    (r) =>
      r.clause === row.clause &&
      name(r.about) === name(row.about) &&
      seen(r) &&
      // A reading is of one short: it shows its own row and no other.
      (row.clause !== 'short-trip' || isShownCell(r.cells.simulated) || r.about === row.about),
  )
}

function declare(row: Row): void {
  const finding = PROOF_FINDINGS.find('calculated-only', {})
  Object.assign(row, { verdict: 'not shown', because: finding.sentence, finding })
}

function missingOf(rows: readonly Row[], required: readonly Requirement[]): Missing[] {
  return [...silentOf(rows, required), ...unowedOf(rows, required)]
}

function silentOf(rows: readonly Row[], required: readonly Requirement[]): Missing[] {
  return rows.flatMap(({ clause, about, cells }) =>
    ORIGINS.flatMap((origin): Missing[] => {
      if (!isRequired(required, origin, clause)) return []
      const cell = cells[origin]
      if (cell?.verdict !== 'not shown') return []
      const { because, finding } = cell
      return [{ clause, ...(about === undefined ? {} : { about }), origin, because, finding }]
    }),
  )
}

/** A clause that was required by name is missing even where the design has nothing that owes it: then nothing shows it. */
function unowedOf(rows: readonly Row[], required: readonly Requirement[]): Missing[] {
  return required.flatMap((text): Missing[] => {
    const [origin, clause] = text.split(':') as [Origin, ClauseId?]
    if (clause === undefined || hasCell(rows, clause, origin)) return []
    const finding = PROOF_FINDINGS.find('not-owed', {})
    return [{ clause, origin, because: finding.sentence, finding }]
  })
}

export function hasCell(rows: readonly Row[], clause: ClauseId, origin: Origin): boolean {
  return rows.some((row) => row.clause === clause && row.cells[origin] !== undefined)
}

/** What speaks for the station: nothing is broken, nothing required is missing, and nothing got worse since it was accepted. */
export function proofHolds({ verdict, required, since }: Proof): boolean {
  return verdict !== 'broken' && (required?.missing.length ?? 0) === 0 && (since?.worse.length ?? 0) === 0
}

/** A statement that can be relied on: figures that are none decide nothing. */
function sound(e: Statement, profile: Profile): Statement {
  const clause = Object.hasOwn(profile.clauses, e.clause) ? profile.clauses[e.clause] : undefined
  if (!clause) throw new RangeError(`evidence for "${e.clause}", which is no clause`)
  if (!isShown(e)) return e
  const { low, high } = e.value
  if (Number.isFinite(e.margin) && !Number.isNaN(low) && !Number.isNaN(high)) return e
  const because = `${e.because}; the figures of this statement could not be computed`
  return { ...e, verdict: e.verdict === 'broken' ? 'broken' : 'undecided', margin: 0, because }
}

function rowOf(
  clause: Clause,
  statements: readonly Statement[],
  part: Part | undefined,
  reason: NonNullable<ProveOptions['reason']>,
): Row {
  const cells: Row['cells'] = {}
  const { shownBy } = CLAUSE_FACTS[clause.id]
  for (const origin of ORIGINS) {
    const list = statements.filter((e) => e.origin === origin)
    if (list.length > 0) cells[origin] = cellOf(list, clause)
    else if (shownBy.includes(origin)) {
      const finding = reason(clause.id, origin, part?.name)
      cells[origin] = { verdict: 'not shown', because: finding.sentence, finding }
    }
  }
  const mode = part?.mode ?? 'operations'
  const own = statements.filter(isShown).find((e) => e.limits)?.limits
  const { min, max } = own ?? senderLimits(clause, mode)
  const row: Row = {
    clause: clause.id,
    title: clause.title,
    demand: clause.demand,
    limits: own ? limitsText(own, clause.unit) : limitsInWords(clause, mode),
    window: { ...(min === undefined ? {} : { min }), ...(max === undefined ? {} : { max }) },
    source: sourceInWords(clause.source),
    cells,
    verdict: worstOf(Object.values(cells)),
  }
  if (part !== undefined) row.about = part.name
  return row
}

export function worstOf(list: readonly { verdict: CellVerdict }[]): CellVerdict {
  return list.reduce<CellVerdict>(
    (worst, { verdict }) => (RANK[verdict] > RANK[worst] ? verdict : worst),
    'not shown',
  )
}

/** @param list at least one statement, all of one origin. */
function cellOf(list: readonly Statement[], clause: Clause): Cell {
  const unshown = list.filter((e): e is NotShown => !isShown(e))
  const evidence = list.filter(isShown).map((e) => withDecoders(e, clause))
  if (evidence.length === 0) {
    const [first, ...more] = unshown
    const { because, finding = PROOF_FINDINGS.find('remark', { text: because }) } = first!
    return { verdict: 'not shown', because, finding, ...(more.length > 0 ? { unshown: more } : {}) }
  }
  evidence.sort((a, b) => RANK[b.verdict] - RANK[a.verdict] || a.margin - b.margin)
  const cell: ShownCell = {
    verdict: evidence[0]!.verdict,
    margin: Math.min(...evidence.map((e) => e.margin)),
    evidence,
  }
  if (unshown.length > 0) cell.unshown = unshown
  const decoders = evidence.filter((e) => e.verdict === 'broken').map((e) => decodersOf(e, clause))
  if (decoders.includes('need not accept it')) cell.decoders = 'need not accept it'
  else if (decoders.includes('must accept it')) cell.decoders = 'must accept it'
  return cell
}

/** What a broken clause means for the decoders, where the standard gives limits for both ends. */
function decodersOf(e: Evidence, { receiver, unit }: Clause): ShownCell['decoders'] {
  if (!receiver || e.value.unit !== unit) return undefined
  const { min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = receiver
  return e.value.low >= min && e.value.high <= max ? 'must accept it' : 'need not accept it'
}

/** The sentence says so too, unless its room already did. */
function withDecoders(e: Evidence, clause: Clause): Evidence {
  const decoders = e.verdict === 'broken' ? decodersOf(e, clause) : undefined
  if (decoders === undefined || /\bdecoders\b/.test(e.because)) return e
  const { min, max } = clause.receiver ?? {}
  const range = [min, max].filter((limit) => limit !== undefined).join(' to ')
  const more = max === undefined ? ' or more' : min === undefined ? ' or less' : ''
  const accept = `${range} ${clause.unit}${more}`
  const says =
    decoders === 'must accept it'
      ? `decoders should still read it, as they must accept ${accept}`
      : `decoders need not read it, as they must accept only ${accept}`
  return { ...e, because: `${e.because.replace(/\.$/, '')}; ${says}` }
}

function limitsInWords(clause: Clause, mode: OutputMode): string {
  const limits = senderLimits(clause, mode)
  return limits.max === 0 ? 'none' : limitsText(limits, clause.unit)
}
