/**
 * Changes of the design file that are safe to make: each was judged with the whole design, mends the clause it is
 * meant for, and gives no other clause a worse verdict.
 */
import { changeDesign, dataOf, type LoadedDesign, loadDesign, losesComment } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { type Candidate, type PowerDesign, powerReport, tripReach } from '../power/index.js'
import { type ClauseId, type Evidence, isShown, type Statement, worsened } from '../standard/index.js'
import { type Advice, adviceEdit, type RawFile, type TrackModel } from '../track/index.js'
import { InputError } from '../units/index.js'
import { evidenceOfDesign } from './design-evidence.js'
import { powerInput } from './power-input.js'

export interface Proposal extends Pick<Candidate, 'path' | 'value' | 'also'> {
  finding: Finding
  clause: ClauseId
  about: string
  before: Statement['verdict']
  after: Statement['verdict']
  /** The clause that stays met and loses most of its margin, where that can be seen in two digits. */
  narrows?: { clause: ClauseId; about: string; before: number; after: number }
}

const RANK: Readonly<Record<Statement['verdict'], number>> = {
  met: 2,
  'not shown': 1,
  undecided: 1,
  broken: 0,
}

const keyOf = ({ clause, about }: Statement) => `${clause} ${about ?? ''}`

function statementsOf(loaded: LoadedDesign, file: string): Statement[] {
  return evidenceOfDesign(loaded, { file }, { pace: 'soon' }).statements
}

/** Each clause and what it is about with its worst verdict. */
function verdictsOf(statements: readonly Statement[]): Map<string, Statement['verdict']> {
  const worst = new Map<string, Statement['verdict']>()
  for (const e of statements) {
    const before = worst.get(keyOf(e))
    if (before === undefined || RANK[e.verdict] < RANK[before]) worst.set(keyOf(e), e.verdict)
  }
  return worst
}

/** The design file with a proposal made; comments and layout stay. */
export function withProposal(
  text: string,
  { path, value, also = [] }: Pick<Proposal, 'path' | 'value' | 'also'>,
): string {
  return changeDesign(text, [{ path, value }, ...also])
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
 * The candidates that are safe, of each family the first that is. With one made, its clause has a better verdict, no other
 * clause has a worse one, and none that was not met has visibly less margin; what stays met may have less.
 * @param most proposals at most; each takes the whole design to judge
 */
export function safeProposals(
  text: string,
  file: string,
  candidates: readonly Candidate[],
  most = 12,
): Proposal[] {
  const loaded = loadDesign(text, file)
  const statements = statementsOf(loaded, file)
  const before = verdictsOf(statements)
  const mayMend = quickLook(loaded)
  const found: Proposal[] = []
  const done = new Set<string>()
  // One change may be meant for several clauses: it is judged once.
  const known = new Map<string, Statement[] | undefined>()
  const judgedOnce = (c: Candidate) => {
    const key = JSON.stringify([c.path, c.value, c.also])
    if (!mayMend(text, file, c)) return undefined
    if (!known.has(key)) known.set(key, judged(text, file, c))
    return known.get(key)
  }
  for (const c of candidates) {
    if (found.length >= most) break
    if (done.has(c.family)) continue
    const made = judgedOnce(c)
    if (!made) continue
    const after = verdictsOf(made)
    const key = `${c.clause} ${c.about}`
    const [was, is] = [before.get(key), after.get(key)]
    if (c.apart ? !partsDistricts(text, file, c) : !was || !is || RANK[is] <= RANK[was]) continue
    // A clause that is no longer shown was not mended, and one that got worse is harm.
    if ([...before].some(([k, verdict]) => RANK[after.get(k) ?? 'broken'] < RANK[verdict])) continue
    if ([...after].some(([k, verdict]) => !before.has(k) && verdict === 'broken')) continue
    if (lessHeld(statements, made)) continue
    done.add(c.family)
    const { path, value, also, finding, clause, about } = c
    const narrows = narrowest(statements, made)
    found.push({
      path,
      value,
      ...(also ? { also } : {}),
      finding,
      clause,
      about,
      before: was ?? 'not shown',
      after: is ?? 'not shown',
      ...(narrows ? { narrows } : {}),
    })
  }
  return found
}

/** Margins are printed with two digits: less than half of one cannot be seen. */
const SEEN = 0.005

/** Each clause that is so, with its least margin. */
function margins(list: readonly Statement[], counts: (e: Evidence) => boolean): Map<string, Evidence> {
  const least = new Map<string, Evidence>()
  for (const e of list) {
    if (!isShown(e) || !counts(e)) continue
    const had = least.get(keyOf(e))
    if (!had || e.margin < had.margin) least.set(keyOf(e), e)
  }
  return least
}

/** Whether a clause that is not met has visibly less margin than before. */
function lessHeld(before: readonly Statement[], after: readonly Statement[]): boolean {
  const open = (e: Evidence) => e.verdict !== 'met'
  const now = margins(after, open)
  return [...margins(before, open)].some(([key, { margin }]) => (now.get(key)?.margin ?? 1) < margin - SEEN)
}

/** The clause that is met before and after and loses most of its margin. */
function narrowest(before: readonly Statement[], after: readonly Statement[]): Proposal['narrows'] {
  const met = (e: Evidence) => e.verdict === 'met'
  const now = margins(after, met)
  let found: Proposal['narrows']
  for (const [key, e] of margins(before, met)) {
    const { margin } = e
    const then = now.get(key)?.margin
    if (then === undefined || margin - then < SEEN) continue
    if (found && margin - then <= found.before - found.after) continue
    found = { clause: e.clause, about: e.about ?? '', before: margin, after: then }
  }
  return found
}

/**
 * Whether a candidate changes its clause at all, by the power stage alone with the loads as they are: the whole design takes
 * far longer to judge.
 */
function quickLook(loaded: LoadedDesign): (text: string, file: string, candidate: Candidate) => boolean {
  const stage = powerInput(loaded)
  if (!stage) return () => true
  const worst = (power: PowerDesign, { clause, about }: Candidate) =>
    Math.min(
      2,
      ...powerReport({ ...stage.input, power, conversions: 1 })
        .evidence.filter((e) => e.clause === clause && e.about === about)
        .map((e) => RANK[e.verdict]),
    )
  return (text, file, candidate) => {
    const before = worst(stage.input.power, candidate)
    // The railroad may say more than the power stage, and pins are no figures.
    if (candidate.apart || before === RANK.met) return true
    try {
      const { power } = loadDesign(withProposal(text, candidate), file).design
      return power !== undefined && worst(power, candidate) > before
    } catch (error) {
      if (error instanceof InputError || error instanceof RangeError) return false
      throw error
    }
  }
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

/** The statements with a candidate made; `undefined` where the design would not load or not be calculated. */
function judged(text: string, file: string, candidate: Candidate): Statement[] | undefined {
  try {
    const changed = withProposal(text, candidate)
    return losesComment(text, changed) ? undefined : statementsOf(loadDesign(changed, file), file)
  } catch (error) {
    if (error instanceof InputError || error instanceof RangeError) return undefined
    throw error
  }
}
