/** Changes of the design that are proposed on screen, each judged with the whole design before it can be applied. */
import { parse } from 'yaml'
import { loadDesign, removeFromDesign, setInDesign } from '../../design/index.js'
import { powerCandidates, powerReport } from '../../power/index.js'
import { evidenceOfDesign, powerInput, railroadOf, safeProposals, withProposal } from '../../proof/index.js'
import { worsened } from '../../standard/index.js'
import { adviceEdit, adviseTrack, type RawFile } from '../../track/index.js'
import type { ProposedChange } from './calls.js'
import { loadOnce } from './loaded.js'

const FILE = 'halfbit.yaml'

/** What mends a clause of the power stage and makes no other worse, with the text it makes. */
export function powerChanges(text: string): ProposedChange[] {
  const stage = powerInput(loadOnce(text))
  if (!stage) return []
  const { input } = stage
  const found = safeProposals(text, FILE, powerCandidates(powerReport(input), input.power), 8)
  return found.map((p) => ({
    says: `${p.finding.sentence} (${p.clause}, ${p.about}: ${p.before}, then ${p.after})`,
    text: withProposal(text, p),
  }))
}

const commentsOf = (text: string) => [...text.matchAll(/(?:^|\s)#[^\n]*/g)].length

/**
 * A proposal for the railroad as a change of the text, or why it is not one.
 * @param index in the list of proposals, from 0
 */
export function trackChange(text: string, index: number): { text: string } | { refused: string } {
  const loaded = loadOnce(text)
  const railroad = railroadOf(loaded)
  const advice = railroad && adviseTrack(railroad.model, railroad.input).list[index]
  if (!railroad || !advice) return { refused: 'there is no such proposal for this text' }
  const edit = adviceEdit(railroad.model, parse(text) as RawFile, advice)
  if (!edit) return { refused: 'it takes decisions that only you can make, such as driver and supply' }
  let changed = text
  for (const { path, value } of edit.changes)
    changed =
      value === undefined ? removeFromDesign(changed, [...path]) : setInDesign(changed, [...path], value)
  if (commentsOf(changed) < commentsOf(text)) return { refused: 'it would lose a comment of the file' }
  const [worse] = worsened(
    evidenceOfDesign(loaded, { file: FILE }).statements,
    evidenceOfDesign(loadDesign(changed, FILE), { file: FILE }).statements,
  )
  return worse ? { refused: `it would make ${worse.clause} worse: ${worse.because}` } : { text: changed }
}
