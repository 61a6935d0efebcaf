/** Changes of the design that are proposed on screen, each judged with the whole design before it can be applied. */
import { powerCandidates, powerReport } from '../../power/index.js'
import { powerInput, railroadOf, safeProposals, withAdvice, withProposal } from '../../proof/index.js'
import { adviseTrack } from '../../track/index.js'
import type { ProposedChange } from './calls.js'
import { loadOnce } from './loaded.js'

const FILE = 'halfbit.yaml'

/** What mends a clause of the power stage and gives no other a worse verdict, with the text it makes. */
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

/**
 * A proposal for the railroad as a change of the text, or why it is not one.
 * @param index in the list of proposals, from 0
 */
export function trackChange(text: string, index: number): { text: string } | { refused: string } {
  const loaded = loadOnce(text)
  const railroad = railroadOf(loaded)
  const advice = railroad && adviseTrack(railroad.model, railroad.input).list[index]
  if (!railroad || !advice) return { refused: 'there is no such proposal for this text' }
  const made = withAdvice(loaded, text, FILE, railroad.model, advice)
  if ('text' in made) return made
  if ('worse' in made) return { refused: `it would make ${made.worse.clause} worse: ${made.worse.because}` }
  return made.refused === 'decisions'
    ? { refused: 'it needs decisions that only you can make, such as driver and supply' }
    : { refused: 'it would lose a comment of the file' }
}
