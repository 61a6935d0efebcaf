/** Evidence × clause → the proof. */
import {
  CLAUSE_IDS,
  type Clause,
  type ClauseId,
  type Evidence,
  type Origin,
  type Profile,
  senderLimits,
  type TrackMode,
  type Verdict,
} from '../standard/index.js'

export const ORIGINS = ['calculated', 'simulated', 'measured'] as const satisfies readonly Origin[]

/** Clauses about what an output sends; each output has its own rows. */
const SIGNAL_CLAUSES: ReadonlySet<ClauseId> = new Set([
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
  margin: number
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
  mode: TrackMode
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

/** Put evidence into the table of clauses. A clause without evidence has a row that says `not shown`. */
export function prove(evidence: readonly Evidence[], profile: Profile, about: ProofAbout): Proof {
  const rows: Row[] = []
  const outputs = about.outputs.map((o) => o.name)
  for (const id of CLAUSE_IDS) {
    const mine = evidence.filter((e) => e.clause === id)
    if (
      (id === 'cutout-start' || id === 'cutout-end') &&
      mine.length === 0 &&
      !about.outputs.some((o) => o.cutout)
    )
      continue
    const isSignal = SIGNAL_CLAUSES.has(id)
    // Evidence that names no output is about the only one there is.
    const nameOf = (e: Evidence) => e.about ?? (isSignal && outputs.length === 1 ? outputs[0] : undefined)
    const abouts = new Set<string | undefined>(isSignal ? outputs : [])
    for (const e of mine) abouts.add(nameOf(e))
    if (abouts.size === 0) abouts.add(undefined)
    for (const name of abouts) {
      const output = about.outputs.find((o) => o.name === name)
      if (id === 'service-sequence' && output?.mode === 'operations' && !mine.some((e) => nameOf(e) === name))
        continue
      const list = mine.filter((e) => nameOf(e) === name)
      const shown = abouts.size > 1 || (!isSignal && name !== undefined) ? name : undefined
      rows.push(rowOf(profile.clauses[id], list, output?.mode ?? 'operations', shown))
    }
  }
  const counts = { met: 0, broken: 0, undecided: 0, 'not shown': 0 }
  for (const row of rows) counts[row.verdict]++
  const verdict =
    counts.broken > 0 ? 'broken' : counts.undecided > 0 ? 'undecided' : counts.met > 0 ? 'met' : 'not shown'
  const { profile: id, title, edition, documents, scale } = profile
  return {
    halfbit: 1,
    kind: 'proof',
    about,
    profile: { id, title, edition, documents, scale },
    rows,
    counts,
    verdict,
  }
}

function rowOf(clause: Clause, evidence: Evidence[], mode: TrackMode, about: string | undefined): Row {
  const cells: Row['cells'] = {}
  let verdict: Row['verdict'] = 'not shown'
  for (const origin of ORIGINS) {
    const list = evidence.filter((e) => e.origin === origin)
    if (list.length === 0) continue
    list.sort((a, b) => RANK[b.verdict] - RANK[a.verdict] || a.margin - b.margin)
    const [worst] = list
    cells[origin] = {
      verdict: worst!.verdict,
      margin: Math.min(...list.map((e) => e.margin)),
      evidence: list,
    }
    if (RANK[worst!.verdict] > RANK[verdict]) verdict = worst!.verdict
  }
  const { document, edition, section, status } = clause.source
  const row: Row = {
    clause: clause.id,
    title: clause.title,
    demand: clause.demand,
    limits: limitsInWords(clause, mode),
    source: `${document}${edition ? `:${edition}` : ''}${section ? ` ${section}` : ''} (${status})`.replace(
      'common practice no source (common practice)',
      'common practice, no source',
    ),
    cells,
    verdict,
  }
  if (about !== undefined) row.about = about
  return row
}

function limitsInWords(clause: Clause, mode: TrackMode): string {
  const { min, max } = senderLimits(clause, mode)
  const { unit } = clause
  if (max === 0) return 'none'
  if (min !== undefined && max !== undefined) return `${min} to ${max} ${unit}`
  if (min !== undefined) return `at least ${min} ${unit}`
  return max === undefined ? '' : `at most ${max} ${unit}`
}
