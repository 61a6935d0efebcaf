/** What a C header is written from, and what all its parts ask of that. */
import type { Clause, ClauseId } from '../../standard/index.js'
import { CHIPS, type ChipId } from '../chips/index.js'
import type { RegisterLoad } from './mode.js'
import type { TimerOption } from './option.js'

export interface HeaderInput {
  chip: ChipId
  /** System clock of the design, Hz. */
  clockHz: number
  option: TimerOption
  /** Name of the output in the design, for the comments. */
  track: string
  /** Prefix of every name: `halfbit` makes `halfbit_start` and `HALFBIT_ONE_US`. A C identifier in lower case. */
  prefix: string
  /** Ones before a packet, where the design says. */
  preamble?: number
  clauses: Readonly<Record<ClauseId, Clause>>
  /** Who wrote it and what to do instead of editing it; that of the header alone when left out. */
  writtenBy?: string
  /** Write what makes the bidirectional cut-out, too; {@link makesCutout} says whether the option can. */
  cutout?: CutoutTimes
}

/** From the last edge of the end bit until both outputs are at one level, and until they differ again, us. */
export interface CutoutTimes {
  startUs: number
  endUs: number
}

/** Prefix of constants. */
export const upper = (i: HeaderInput) => i.prefix.toUpperCase()

/** `OCR1A = one ? X : Y;` for each register, in the order in which they must be written. */
export function writes(i: HeaderInput, loads: readonly RegisterLoad[], which: string): string[] {
  const p = upper(i)
  return loads.map((l) => `  ${l.register} = ${which} ? ${p}_${l.register}_ONE : ${p}_${l.register}_ZERO;`)
}

/** Channels that drive the pins of the signal. */
export function channelsOf(i: HeaderInput): string[] {
  const { timer, channel, inverted } = i.option
  const outputs = CHIPS[i.chip].timers.find(
    (t) => t.kind === timer.kind && t.number === timer.number,
  )!.outputs
  const twin = inverted === undefined ? undefined : outputs.find((x) => x.pin === inverted)!.channel
  return twin === undefined ? [channel] : [channel, twin]
}
