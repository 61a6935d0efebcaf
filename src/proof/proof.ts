/** Evidence × clause → the proof. */
import {
  CLAUSE_IDS,
  type Clause,
  type ClauseId,
  type Evidence,
  type Limits,
  type Origin,
  type OutputMode,
  type Profile,
  profileOf,
  senderLimits,
  type Verdict,
} from '../standard/index.js'

export const ORIGINS = ['calculated', 'simulated', 'measured'] as const satisfies readonly Origin[]

/** Clauses about what an output sends; each output has its own rows. */
export const SIGNAL_CLAUSES: ReadonlySet<ClauseId> = new Set([
  'one-half',
  'one-difference',
  'zero-half',
  'zero-total',
  'glitch',
  'edge-rate',
  'crossing-distortion',
  'preamble',
  'packet-length',
  'error-byte',
  'framing',
  'instruction',
  'same-address-gap',
  'packet-interval',
  'service-sequence',
  'cutout-start',
  'cutout-end',
])

/** What was found about one clause from one origin; several statements are joined to the worst. */
export interface Cell {
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
}

export interface Row {
  clause: ClauseId
  /** Output or district it is about; absent when there is only one or none. */
  about?: string
  title: string
  demand: string
  /** Limits in words, `55 to 61 us`. */
  limits: string
  /** The same as figures in the clause's unit. */
  window: Limits
  /** `S-9.1:2020 Table 1 (confirmed)`. */
  source: string
  /** An origin that is not there was not shown. */
  cells: Partial<Record<Origin, Cell>>
  /** The worst of the cells. */
  verdict: Verdict | 'not shown'
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
  outputs: readonly ProofOutput[]
  inputs: readonly ProofInput[]
  /** Version of the program. */
  version: string
  /** What was asked for and could not be done, and what a reader should know; one sentence each. */
  notes?: readonly string[]
  /** What to mind when the design is built; one sentence each. */
  cautions?: readonly string[]
  /** ISO date, when the caller wants one in the report. */
  date?: string
}

export interface Proof {
  halfbit: 1
  kind: 'proof'
  about: ProofAbout
  profile: { id: string; title: string; edition: string; documents: string; scale: string }
  rows: Row[]
  /** Rows by their verdict. */
  counts: Record<Verdict | 'not shown', number>
  verdict: Verdict | 'not shown'
}

const RANK: Record<Verdict | 'not shown', number> = { 'not shown': 0, met: 1, undecided: 2, broken: 3 }

/**
 * Put evidence into the table of clauses. A clause without evidence has a row that says `not shown`.
 * @param profile limits of an output without cut-out; those of an output with one are made from it.
 * @throws RangeError when evidence names no clause of the profile.
 */
export function prove(evidence: readonly Evidence[], profile: Profile, about: ProofAbout): Proof {
  const checked = evidence.map((e) => sound(e, profile))
  const withCutout = profileOf({
    profile: profile.profile,
    edition: profile.edition,
    scale: profile.scale,
    cutout: true,
  })
  const rows: Row[] = []
  for (const id of CLAUSE_IDS) {
    for (const { name, list } of subjects(id, checked, about.outputs)) {
      const output = about.outputs.find((o) => o.name === name)
      const { clauses } = output?.cutout ? withCutout : profile
      rows.push(rowOf(clauses[id], list, output?.mode ?? 'operations', name))
    }
  }
  // One output need not be named in every row.
  if (about.outputs.length === 1) {
    for (const row of rows) {
      if (SIGNAL_CLAUSES.has(row.clause) && rows.filter((r) => r.clause === row.clause).length === 1)
        delete row.about
    }
  }
  const counts = { met: 0, broken: 0, undecided: 0, 'not shown': 0 }
  for (const row of rows) counts[row.verdict]++
  const { profile: id, title, edition, documents, scale } = profile
  return {
    halfbit: 1,
    kind: 'proof',
    about,
    profile: { id, title, edition, documents, scale },
    rows,
    counts,
    verdict: overall(counts),
  }
}

/** Nothing is met as long as something is broken or undecided. */
function overall(counts: Proof['counts']): Proof['verdict'] {
  if (counts.broken > 0) return 'broken'
  if (counts.undecided > 0) return 'undecided'
  return counts.met > 0 ? 'met' : 'not shown'
}

/** What a clause is about in this design, each with its evidence: every output, or whatever the evidence names. */
function subjects(
  id: ClauseId,
  evidence: readonly Evidence[],
  outputs: readonly ProofOutput[],
): { name: string | undefined; list: Evidence[] }[] {
  const isSignal = SIGNAL_CLAUSES.has(id)
  // Evidence that names no output is about the only one there is.
  const only = isSignal && outputs.length === 1 ? outputs[0]!.name : undefined
  const lists = new Map<string | undefined, Evidence[]>()
  if (isSignal) for (const o of outputs) if (demanded(id, o)) lists.set(o.name, [])
  for (const e of evidence) {
    if (e.clause !== id) continue
    const name = e.about ?? only
    const list = lists.get(name) ?? []
    lists.set(name, list)
    list.push(e)
  }
  if (lists.size === 0 && !isSignal) lists.set(undefined, [])
  return [...lists].map(([name, list]) => ({ name, list }))
}

/** Some clauses are about what only some outputs do. */
function demanded(id: ClauseId, output: ProofOutput): boolean {
  if (id === 'cutout-start' || id === 'cutout-end') return output.cutout
  if (id === 'service-sequence') return output.mode === 'service'
  // In service mode all packets are for the one decoder on the track and follow each other at once.
  return id !== 'same-address-gap' || output.mode === 'operations'
}

/** Evidence that can be relied on: figures that are none decide nothing. */
function sound(e: Evidence, profile: Profile): Evidence {
  const clause = Object.hasOwn(profile.clauses, e.clause) ? profile.clauses[e.clause] : undefined
  if (!clause) throw new RangeError(`evidence for "${e.clause}", which is no clause`)
  const { low, high } = e.value
  if (Number.isFinite(e.margin) && !Number.isNaN(low) && !Number.isNaN(high)) return e
  const because = `${e.because}; the figures of this statement could not be computed`
  return { ...e, verdict: e.verdict === 'broken' ? 'broken' : 'undecided', margin: 0, because }
}

function rowOf(clause: Clause, evidence: Evidence[], mode: OutputMode, about: string | undefined): Row {
  const cells: Row['cells'] = {}
  let verdict: Row['verdict'] = 'not shown'
  for (const origin of ORIGINS) {
    const list = evidence.filter((e) => e.origin === origin).map((e) => withDecoders(e, clause))
    if (list.length === 0) continue
    list.sort((a, b) => RANK[b.verdict] - RANK[a.verdict] || a.margin - b.margin)
    const [worst] = list
    const cell: Cell = {
      verdict: worst!.verdict,
      margin: Math.min(...list.map((e) => e.margin)),
      evidence: list,
    }
    const decoders = list.filter((e) => e.verdict === 'broken').map((e) => decodersOf(e, clause))
    if (decoders.includes('need not accept it')) cell.decoders = 'need not accept it'
    else if (decoders.includes('must accept it')) cell.decoders = 'must accept it'
    cells[origin] = cell
    if (RANK[worst!.verdict] > RANK[verdict]) verdict = worst!.verdict
  }
  const own = evidence.find((e) => e.limits)?.limits
  const { min, max } = own ?? senderLimits(clause, mode)
  const row: Row = {
    clause: clause.id,
    title: clause.title,
    demand: clause.demand,
    limits: own ? windowInWords(own, clause.unit) : limitsInWords(clause, mode),
    window: { ...(min === undefined ? {} : { min }), ...(max === undefined ? {} : { max }) },
    source: sourceInWords(clause.source),
    cells,
    verdict,
  }
  if (about !== undefined) row.about = about
  return row
}

/** What a broken clause means for the decoders, where the standard gives limits for both ends. */
function decodersOf(e: Evidence, { receiver, unit }: Clause): Cell['decoders'] {
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
      ? `decoders should still read it, they must accept ${accept}`
      : `decoders need not read it, they must accept only ${accept}`
  return { ...e, because: `${e.because.replace(/\.$/, '')}; ${says}` }
}

function sourceInWords({ document, edition, section, status }: Clause['source']): string {
  if (status === 'common practice') return 'common practice, no source'
  return `${document}${edition ? `:${edition}` : ''}${section ? ` ${section}` : ''} (${status})`
}

function limitsInWords(clause: Clause, mode: OutputMode): string {
  const limits = senderLimits(clause, mode)
  return limits.max === 0 ? 'none' : windowInWords(limits, clause.unit)
}

function windowInWords(limits: Limits, clauseUnit: string): string {
  // People read shares as percent.
  const share = clauseUnit === 'share'
  const unit = share ? '%' : clauseUnit
  const [min, max] = [limits.min, limits.max].map((x) => (x === undefined || !share ? x : 100 * x))
  if (min !== undefined && max !== undefined) return `${min} to ${max} ${unit}`
  if (min !== undefined) return `at least ${min} ${unit}`
  return max === undefined ? '' : `at most ${max} ${unit}`
}
