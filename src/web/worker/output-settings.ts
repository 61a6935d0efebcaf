import { type LoadedDesign, profileOfDesign } from '../../design/index.js'
import type { BitLimits } from '../../signal/index.js'
import { senderLimits } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import type { CaptureSettings } from './calls.js'

export type OutputSettings = ReturnType<typeof settingsOf>

/** How the signal of an output is read and judged. @param other what is said otherwise of one capture of it. */
export function settingsOf(
  loaded: LoadedDesign,
  name: string,
  other: Pick<CaptureSettings, 'cutout' | 'mode'> = {},
) {
  const output = loaded.design.signal.outputs[name]
  if (!output) throw new InputError(`the design has no output ${name}`)
  const cutout = other.cutout ?? output.cutout
  const mode = other.mode ?? output.mode
  const profile = profileOfDesign(loaded, cutout)
  const { clauses } = profile
  const { min } = senderLimits(clauses.preamble, mode)
  const reader = { mode, cutout, ...(min === undefined ? {} : { preambleMin: min }) }
  const limits: BitLimits = {
    one: clauses['one-half'],
    zero: clauses['zero-half'],
    preamble: clauses.preamble,
    mode,
  }
  return { output, profile, reader, limits }
}
