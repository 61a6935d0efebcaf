/** How the signal of an output is read and judged: made here once for runs, captures and drawings. */
import type { ServiceMode } from '../packet/index.js'
import type { BitLimits, ReaderOptions } from '../signal/index.js'
import { type OutputMode, type Profile, signalLimitsOf } from '../standard/index.js'

export interface OutputSetting {
  /** Absent for a capture that is judged without a design. */
  name?: string
  mode: OutputMode
  cutout: boolean
  profile: Profile
  /** Stated for a capture: power missing for at least this long was switched off on purpose, us. */
  powerOffUs?: number | undefined
  /** The station starts from a saved state. */
  savedState?: boolean | undefined
  /** The service modes that are used, where several fit the same bytes. */
  serviceModes?: readonly ServiceMode[] | undefined
}

/** What the reader is told of an output. @param fromUs time at the start that is not judged. */
export function readerOptions(setting: OutputSetting, fromUs = 0): ReaderOptions {
  const { mode, cutout, profile, powerOffUs, savedState, serviceModes } = setting
  return {
    mode,
    cutout,
    limits: signalLimitsOf(profile),
    ...(fromUs > 0 ? { fromUs } : {}),
    ...(powerOffUs === undefined ? {} : { power: { offFromUs: powerOffUs } }),
    ...(savedState ? { savedState } : {}),
    ...(serviceModes ? { serviceModes } : {}),
  }
}

/** Limits that a drawing of the signal shows. */
export function bitLimits({ mode, profile }: OutputSetting): BitLimits {
  const { clauses } = profile
  return { one: clauses['one-half'], zero: clauses['zero-half'], preamble: clauses.preamble, mode }
}
