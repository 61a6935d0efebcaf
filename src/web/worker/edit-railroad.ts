/** Edits of the railroad, cut into the text and read again. */
import { parse } from 'yaml'
import { addToDesign, changeDesign, DesignError, followRenamed, losesComment } from '../../design/index.js'
import { beginTrack, editTrack, type RawFile, type TrackAction } from '../../track/index.js'
import { InputError } from '../../units/index.js'
import type { DeskCalls } from './calls.js'
import { loadOnce } from './loaded.js'
import { soundRailroad } from './railroad.js'

/** One edit, read again: the new text, or why it cannot be. */
export function editRailroad(text: string, action: TrackAction): DeskCalls['edit']['gives'] {
  try {
    const loaded = loadOnce(text)
    const before = soundRailroad(loaded)
    if (!before && !loaded.design.track) return begunRailroad(text, action)
    if (!before) return { refused: 'The track needs its power districts first: describe the power stage.' }
    const data = parse(text) as RawFile
    const { changes, says, renamed } = editTrack(before.model, data, action)
    const next = changeDesign(text, [
      ...changes,
      ...(renamed ?? []).flatMap((one) => followRenamed(data, one)),
    ])
    const after = loadOnce(next)
    if (action.do !== 'remove section' && action.do !== 'remove feeder' && losesComment(text, next))
      return { refused: 'That would lose a comment of the file: do it in the text.' }
    soundRailroad(after)
    return { text: next, says }
  } catch (error) {
    if (error instanceof DesignError) return { refused: error.problems.map((p) => p.message).join('; ') }
    if (error instanceof InputError || error instanceof RangeError) return { refused: error.message }
    throw error
  }
}

/** The first section of a design without a railroad, and a power stage where there is none either. */
function begunRailroad(text: string, action: TrackAction): DeskCalls['edit']['gives'] {
  if (action.do !== 'add section') return { refused: 'Draw a section or a curve first.' }
  let from = text
  if (!loadOnce(text).design.power) {
    const added = addToDesign(text, ['power'])
    if ('refused' in added) return added
    from = added.text
  }
  const { changes, says } = beginTrack(action, Object.keys(loadOnce(from).design.power?.districts ?? {})[0])
  const next = changeDesign(from, changes)
  soundRailroad(loadOnce(next))
  return { text: next, says }
}
