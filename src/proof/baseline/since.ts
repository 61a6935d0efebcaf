/** What got better or worse since a proof that was accepted before. */
import type { Origin } from '../../standard/index.js'
import { compareProofs } from '../compare.js'
import { type CellVerdict, isShownCell, ORIGINS, type Proof, type Row } from '../proof.js'
import { marginText, rowName, verdictWord } from '../words.js'
import type { Since, SinceChange } from './changes.js'

/** Reports give a margin to two digits; what differs by no more than the last of them may be rounding. */
const ROUNDING = 0.01

export interface BaselineSource {
  file: string
  sha256?: string
}

/**
 * Each clause is compared for each origin by itself, so that a simulation that got worse is not hidden by a calculation
 * that was worse all along. What is no longer shown is worse, whatever it showed.
 * @param accepted of the same design, standard and program.
 */
export function sinceBaseline(accepted: Proof, proof: Proof, source: BaselineSource): Since {
  const worse: SinceChange[] = []
  const better: SinceChange[] = []
  const others: SinceChange[] = []
  const told = new Set<string>()
  for (const origin of ORIGINS) {
    const side = (of: Proof) => ({ label: '', proof: onlyOf(of, origin) })
    for (const { clause, about, a, b, change } of compareProofs(side(accepted), side(proof)).rows) {
      const name = rowName({ clause, ...(about === undefined ? {} : { about }) } as Row)
      const tell = (list: SinceChange[], kind: SinceChange['kind']) => {
        told.add(name)
        list.push({ clause: name, origin, kind, before: words(a), now: words(b) })
      }
      if (change === 'only A') tell(worse, 'no longer shown')
      else if (change === 'only B') {
        if (b!.verdict === 'broken') tell(worse, 'newly shown')
        else if (b!.verdict === 'met') tell(better, 'newly shown')
      } else if (change === 'worse') tell(worse, 'verdict')
      else if (change === 'better') tell(better, 'verdict')
      else if (a && b && a.margin - b.margin > ROUNDING) tell(worse, 'margin')
      else if (a && b && b.margin - a.margin > ROUNDING) tell(better, 'margin')
    }
  }
  for (const { clause, about, verdictA, verdictB } of compareProofs(
    { label: '', proof: accepted },
    { label: '', proof },
  ).rows) {
    const name = rowName({ clause, ...(about === undefined ? {} : { about }) } as Row)
    if (verdictA === undefined || verdictB === undefined) {
      if (told.has(name)) continue
      const [before, now] = [verdictA, verdictB].map((v) => (v === undefined ? NOT_OWED : verdictWord(v)))
      const kind = verdictA === undefined ? 'newly owed' : 'no longer owed'
      const list = verdictB === 'undecided' ? worse : others
      list.push({ clause: name, kind, before: before!, now: now! })
      continue
    }
    if (verdictA === verdictB) continue
    const list = isWorse(verdictA, verdictB) ? worse : better
    // What an origin has told already is not told again, unless it was good news only.
    if (told.has(name) && (list === better || worse.some((w) => w.clause === name))) continue
    list.push({
      clause: name,
      kind: verdictB === 'not shown' ? 'no longer shown' : 'verdict',
      before: verdictWord(verdictA),
      now: verdictWord(verdictB),
    })
  }
  const { date } = accepted.about
  return { baseline: { ...source, ...(date === undefined ? {} : { date }) }, worse, better, others }
}

/** The other proof has no row of it. */
const NOT_OWED = 'not owed'

/** From best to worst: what is not shown is no better than what is met, and nothing is worse than broken. */
const ORDER: readonly CellVerdict[] = ['met', 'not shown', 'undecided', 'broken']

function isWorse(before: CellVerdict, now: CellVerdict): boolean {
  return ORDER.indexOf(now) > ORDER.indexOf(before) || (now === 'not shown' && before !== now)
}

function onlyOf(proof: Proof, origin: Origin): Proof {
  const rows = proof.rows.map((row): Row => {
    const cell = row.cells[origin]
    return { ...row, cells: isShownCell(cell) ? { [origin]: cell } : {} }
  })
  return { ...proof, rows }
}

function words(side: { verdict: CellVerdict; margin: number } | undefined): string {
  return side === undefined ? 'not shown' : `${verdictWord(side.verdict)} ${marginText(side.margin)}`
}
