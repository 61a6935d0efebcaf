/**
 * Changes of the design file that are safe to make: each was judged with the whole design, mends the clause it is
 * meant for, and makes no other clause worse.
 */
import {
  changeDesign,
  dataOf,
  type LoadedDesign,
  loadDesign,
  losesComment,
  setInDesign,
} from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { type Candidate, tripReach } from '../power/index.js'
import { type ClauseId, type Statement, worsened } from '../standard/index.js'
import { type Advice, adviceEdit, type RawFile, type TrackModel } from '../track/index.js'
import { InputError } from '../units/index.js'
import { evidenceOfDesign } from './design-evidence.js'

export interface Proposal {
  path: (string | number)[]
  value: string | number
  finding: Finding
  clause: ClauseId
  about: string
  before: Statement['verdict']
  after: Statement['verdict']
}

const RANK: Readonly<Record<Statement['verdict'], number>> = {
  met: 2,
  'not shown': 1,
  undecided: 1,
  broken: 0,
}

/** Each clause and what it is about with its worst verdict. */
function verdictsOf(loaded: LoadedDesign, file: string): Map<string, Statement['verdict']> {
  const worst = new Map<string, Statement['verdict']>()
  for (const e of evidenceOfDesign(loaded, { file }, { pace: 'soon' }).statements) {
    const key = `${e.clause} ${e.about ?? ''}`
    const before = worst.get(key)
    if (before === undefined || RANK[e.verdict] < RANK[before]) worst.set(key, e.verdict)
  }
  return worst
}

/** The design file with a proposal made; comments and layout stay. */
export function withProposal(text: string, { path, value }: Pick<Proposal, 'path' | 'value'>): string {
  return setInDesign(text, path, value)
}

/**
 * A design file with a proposal for the railroad made, or why it is not: it takes decisions that are the builder's, it
 * would lose a comment, or it would make another clause worse.
 */
export function withAdvice(
  loaded: LoadedDesign,
  text: string,
  file: string,
  model: TrackModel,
  advice: Advice,
): { text: string } | { refused: 'decisions' | 'comment' } | { worse: Statement } {
  const edit = adviceEdit(model, dataOf(text) as RawFile, advice)
  if (!edit) return { refused: 'decisions' }
  const changed = changeDesign(text, edit.changes)
  if (losesComment(text, changed)) return { refused: 'comment' }
  const [worse] = worsened(
    evidenceOfDesign(loaded, { file }).statements,
    evidenceOfDesign(loadDesign(changed, file), { file }).statements,
  )
  return worse ? { worse } : { text: changed }
}

/**
 * The candidates that are safe, of each family the first that is.
 * @param most proposals at most; each takes the whole design to judge
 */
export function safeProposals(
  text: string,
  file: string,
  candidates: readonly Candidate[],
  most = 12,
): Proposal[] {
  const before = verdictsOf(loadDesign(text, file), file)
  const found: Proposal[] = []
  const done = new Set<string>()
  // One change may be meant for several clauses: it is judged once.
  const known = new Map<string, ReturnType<typeof judged>>()
  const judgedOnce = (c: Candidate) => {
    const key = JSON.stringify([c.path, c.value])
    if (!known.has(key)) known.set(key, judged(text, file, c))
    return known.get(key)
  }
  for (const c of candidates) {
    if (found.length >= most) break
    if (done.has(c.family)) continue
    const after = judgedOnce(c)
    if (!after) continue
    const key = `${c.clause} ${c.about}`
    const [was, is] = [before.get(key), after.get(key)]
    if (c.apart ? !partsDistricts(text, file, c) : !was || !is || RANK[is] <= RANK[was]) continue
    // A clause that is no longer shown was not mended, and one that got worse is harm.
    if ([...before].some(([k, verdict]) => RANK[after.get(k) ?? 'broken'] < RANK[verdict])) continue
    if ([...after].some(([k, verdict]) => !before.has(k) && verdict === 'broken')) continue
    done.add(c.family)
    const { path, value, finding, clause, about } = c
    found.push({ path, value, finding, clause, about, before: was ?? 'not shown', after: is ?? 'not shown' })
  }
  return found
}

/** A trip then switches off fewer other districts. */
function partsDistricts(text: string, file: string, candidate: Candidate): boolean {
  const stops = (design: string) => {
    const { power, signal, controller } = loadDesign(design, file).design
    const reach = power ? tripReach(power, signal, controller) : []
    return reach.find((r) => r.district === candidate.about)?.stops.length ?? 0
  }
  return stops(withProposal(text, candidate)) < stops(text)
}

/** The verdicts with a candidate made; `undefined` where the design would not load or not be calculated. */
function judged(
  text: string,
  file: string,
  candidate: Candidate,
): Map<string, Statement['verdict']> | undefined {
  try {
    return verdictsOf(loadDesign(withProposal(text, candidate), file), file)
  } catch (error) {
    if (error instanceof InputError || error instanceof RangeError) return undefined
    throw error
  }
}
