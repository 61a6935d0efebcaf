/** The outputs of a design, as their signal is read and judged. */
import { pinName } from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { OutputMode } from '../standard/index.js'
import { InputError } from '../units/index.js'
import type { OutputSetting } from './reader-options.js'

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
  const pin = pinName(output.pin)
  const inverted = output.inverted === undefined ? undefined : pinName(output.inverted)
  const cutout = other.cutout ?? output.cutout
  const mode = other.mode ?? output.mode
  return { name, pin, inverted, mode, cutout, profile: profileOfDesign(loaded, cutout) }
}
