/** Writes a proposal for the railroad into the design file, where the whole design is none the worse for it. */
import { parse } from 'yaml'
import { loadDesign, removeFromDesign, setInDesign } from '../design/index.js'
import { evidenceOfDesign } from '../proof/index.js'
import { worsened } from '../standard/index.js'
import { type Advised, adviceEdit, type RawFile, type TrackModel } from '../track/index.js'
import { InputError } from '../units/index.js'
import type { Io } from './command.js'
import { writeWhole } from './files/index.js'
import type { DesignFile } from './read-design.js'

const commentsOf = (text: string) => [...text.matchAll(/(?:^|\s)#[^\n]*/g)].length

/**
 * @param number as the proposals are counted, from 1
 * @throws InputError where there is no such proposal, it cannot be written, or it would break another clause
 */
export function applyAdvice(
  number: string,
  advised: Advised,
  model: TrackModel,
  loaded: DesignFile,
  io: Pick<Io, 'note'>,
): void {
  const { list } = advised
  const advice = /^[1-9]\d*$/.test(number) ? list[Number(number) - 1] : undefined
  if (!advice)
    throw new InputError(
      `--apply ${number}; expected ${list.length === 0 ? 'nothing: no change was found that helps' : `the number of a proposal, 1 to ${list.length}`}`,
    )
  const text = new TextDecoder().decode(loaded.bytes)
  const edit = adviceEdit(model, parse(text) as RawFile, advice)
  if (!edit)
    throw new InputError(
      `--apply ${number}: "${advice.what}" takes decisions that only you can make, such as driver and supply; write it into the file yourself`,
    )
  let changed = text
  for (const { path, value } of edit.changes)
    changed =
      value === undefined ? removeFromDesign(changed, [...path]) : setInDesign(changed, [...path], value)
  if (commentsOf(changed) < commentsOf(text))
    throw new InputError(`--apply ${number}: that would lose a comment of the file; do it in the text`)
  const { file } = loaded
  const worse = worsened(
    evidenceOfDesign(loaded, { file }).statements,
    evidenceOfDesign(loadDesign(changed, file), { file }).statements,
  )[0]
  if (worse)
    throw new InputError(`--apply ${number}: it would make ${worse.clause} worse: ${worse.because}`, { file })
  writeWhole(file, changed)
  io.note(`Wrote into ${file}: ${advice.what}`)
}
