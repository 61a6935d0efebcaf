/** How the signal of an output is read and judged: made here once for runs, captures and drawings. */
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { BitLimits, ReaderOptions } from '../signal/index.js'
import { type Profile, senderLimits, type OutputMode } from '../standard/index.js'
import { InputError } from '../units/index.js'

export interface OutputSetting {
  /** Absent for a capture that is judged without a design. */
  name?: string
  mode: OutputMode
  cutout: boolean
  profile: Profile
}

/** An output with the pins that it leaves the controller by. */
export interface PinnedOutput extends OutputSetting {
  name: string
  /** Port pin, `PB1`. */
  pin: string
  /** Port pin with the opposite level: both together are then read as the two rails. */
  inverted?: string | undefined
}

/** What the outputs of a design are read as. */
export function outputsOf(loaded: LoadedDesign): PinnedOutput[] {
  return Object.keys(loaded.design.signal.outputs).map((name) => outputOf(loaded, name))
}

/**
 * @param other what is said otherwise of one capture of it.
 * @throws InputError when the design has no such output.
 */
export function outputOf(
  loaded: LoadedDesign,
  name: string,
  other: { cutout?: boolean | undefined; mode?: OutputMode | undefined } = {},
): PinnedOutput {
  const { outputs } = loaded.design.signal
  const output = Object.hasOwn(outputs, name) ? outputs[name] : undefined
  if (!output) throw new InputError(`the design has no output ${name}`)
  const { pin, inverted } = output
  const cutout = other.cutout ?? output.cutout
  const mode = other.mode ?? output.mode
  return { name, pin, inverted, mode, cutout, profile: profileOfDesign(loaded, cutout) }
}

/** What the reader is told of an output. @param fromUs time at the start that is not judged. */
export function readerOptions({ mode, cutout, profile }: OutputSetting, fromUs = 0): ReaderOptions {
  const { min } = senderLimits(profile.clauses.preamble, mode)
  return {
    mode,
    cutout,
    ...(min === undefined ? {} : { preambleMin: min }),
    ...(fromUs > 0 ? { fromUs } : {}),
  }
}

/** Limits that a drawing of the signal shows. */
export function bitLimits({ mode, profile }: OutputSetting): BitLimits {
  const { clauses } = profile
  return { one: clauses['one-half'], zero: clauses['zero-half'], preamble: clauses.preamble, mode }
}
