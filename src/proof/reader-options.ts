/** How the signal of an output is read and judged: made here once for runs, captures and drawings. */
import type { BitLimits, ReaderOptions } from '../signal/index.js'
import { type OutputMode, type Profile, signalLimitsOf } from '../standard/index.js'

export interface OutputSetting {
  /** Absent for a capture that is judged without a design. */
  name?: string
  mode: OutputMode
  cutout: boolean
  profile: Profile
}

/** What the reader is told of an output. @param fromUs time at the start that is not judged. */
export function readerOptions({ mode, cutout, profile }: OutputSetting, fromUs = 0): ReaderOptions {
  return {
    mode,
    cutout,
    limits: signalLimitsOf(profile),
    ...(fromUs > 0 ? { fromUs } : {}),
  }
}

/** Limits that a drawing of the signal shows. */
export function bitLimits({ mode, profile }: OutputSetting): BitLimits {
  const { clauses } = profile
  return { one: clauses['one-half'], zero: clauses['zero-half'], preamble: clauses.preamble, mode }
}
