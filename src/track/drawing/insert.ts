/** A turnout, crossing or slip put into a section that is there: the section is cut in two around it. */
import { InputError } from '../../units/index.js'
import type { TrackModel } from '../model.js'
import { crossWay } from './build.js'
import { cutSection } from './cut.js'
import { checkName, type FileChange, length, namesOf, type RawFile, type TrackEdit } from './file-change.js'

interface Insert {
  name: string
  lengthMm: number
  /** The section, one of a row by its own name: `south.3`. */
  track: string
  /** Middle of the part, from the section's start. Moved where it would reach beyond an end. */
  atMm: number
}

export interface InsertTurnout extends Insert {
  do: 'insert turnout'
  hand: 'left' | 'right'
  /** The end of the section that its diverging way leads towards. */
  towards: 'from' | 'to'
}

export interface InsertCrossing extends Insert {
  do: 'insert crossing'
  isSlip: boolean
  /** A section that it crosses there; absent where the other way is still to be drawn. */
  across?: { track: string; atMm: number } | undefined
  /** The bus run that feeds a first section on the other way, which a plain crossing without `across` needs. */
  bus?: string | undefined
}

export function insertPart(
  model: TrackModel,
  raw: RawFile,
  action: InsertTurnout | InsertCrossing,
): TrackEdit {
  return action.do === 'insert turnout'
    ? insertTurnout(model, raw, action)
    : insertCrossing(model, raw, action)
}

/** @throws InputError when the section is shorter than the turnout, or is none. */
function insertTurnout(model: TrackModel, raw: RawFile, action: InsertTurnout): TrackEdit {
  const { name, hand } = action
  checkName(name, namesOf(model.plan.design), 'turnout')
  const ends = action.towards === 'to' ? (['points', 'straight'] as const) : (['straight', 'points'] as const)
  const cut = cutSection(model, raw, 'turnout', action, [`${name}.${ends[0]}`, `${name}.${ends[1]}`])
  const value = {
    length: length(action.lengthMm),
    ...(cut.at ? { at: cut.at.map(Math.round) } : {}),
    ...(hand === 'left' ? { hand } : {}),
  }
  return {
    changes: [{ path: ['track', 'turnouts', name], value }, ...cut.changes],
    renamed: [cut.renamed],
    says: `Turnout ${name} in ${cut.section}, diverging to the ${hand} towards its ${action.towards === 'to' ? 'end' : 'start'}`,
  }
}

/** @throws InputError when a section is shorter than the crossing, is none, or is crossed by itself. */
function insertCrossing(model: TrackModel, raw: RawFile, action: InsertCrossing): TrackEdit {
  const { name, lengthMm, isSlip, across, bus } = action
  const { design, tracks } = model.plan
  checkName(name, namesOf(design), 'crossing')
  const what = isSlip ? 'slip' : 'crossing'
  const groupOf = (track: string) => tracks.find((t) => t.name === track)?.group
  if (across && groupOf(across.track) === groupOf(action.track))
    throw new InputError(
      `${action.track} and ${across.track} are of one row, which can be cut at one place at a time`,
    )
  const first = cutSection(model, raw, what, action, [`${name}.a1`, `${name}.a2`])
  const second =
    across && cutSection(model, raw, what, { ...across, lengthMm }, [`${name}.b1`, `${name}.b2`], first.names)
  if (!isSlip && !second && bus === undefined)
    throw new InputError(
      'the ways of a crossing do not join: name the bus run that feeds the section on the other way',
    )
  const value = {
    length: length(lengthMm),
    ...(isSlip ? { slip: true } : {}),
    ...(first.at ? { at: first.at.map(Math.round) } : {}),
  }
  const changes: FileChange[] = [{ path: ['track', 'crossings', name], value }, ...first.changes]
  if (second) changes.push(...second.changes)
  else if (!isSlip) changes.push(crossWay(design, name, 'b', lengthMm, bus, first.at, first.along))
  return {
    changes,
    renamed: [first.renamed, ...(second ? [second.renamed] : [])],
    says: `${isSlip ? 'Slip' : 'Crossing'} ${name} in ${first.section}${second ? `, across ${second.section}` : ''}`,
  }
}
