/** Writes a proposal for the railroad into the design file, where the whole design is none the worse for it. */
import { withAdvice } from '../proof/index.js'
import type { Advised, TrackModel } from '../track/index.js'
import { InputError } from '../units/index.js'
import type { Io } from './command.js'
import { writeWhole } from './files/index.js'
import type { DesignFile } from './read-design.js'

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
  const { file } = loaded
  const made = withAdvice(loaded, text, file, model, advice)
  if ('worse' in made)
    throw new InputError(
      `--apply ${number}: it would make ${made.worse.clause} worse: ${made.worse.because}`,
      { file },
    )
  if ('refused' in made && made.refused === 'comment')
    throw new InputError(`--apply ${number}: that would lose a comment of the file; do it in the text`)
  if ('refused' in made)
    throw new InputError(
      `--apply ${number}: "${advice.what}" needs decisions that only you can make, such as driver and supply; write it into the file yourself`,
    )
  writeWhole(file, made.text)
  io.note(`Wrote into ${file}: ${advice.what}`)
}
