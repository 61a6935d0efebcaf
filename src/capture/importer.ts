/** What every importer is: bytes go in by chunks of any size, edges come out to a sink, memory stays constant. */
import type { EdgeClock, EdgeSink } from '../signal/edges.js'
import { InputError } from '../units/index.js'
import type { AnalogReading, AnalogSettings, Reference } from './analog/index.js'
import type { CaptureFormat } from './formats.data.js'
import type { MadeBy } from './provenance.js'

/** A channel that holds the current on the track, in amperes or as the voltage of a probe or shunt. */
export interface CurrentChannel {
  /** Name or number. */
  channel: string
  /** Amperes of one volt, where the unit of the channel is not the ampere. */
  ampPerVolt?: number | undefined
}

export interface CaptureOptions {
  /** Format of the file; found from its first bytes when absent. `raw` must be said. */
  format?: CaptureFormat | undefined
  /** Channel by name or number; two are subtracted. A single `A-B` is split when no channel has that name. */
  channel?: readonly string[] | undefined
  /** The level is turned round. */
  invert?: boolean | undefined
  /** Sampling rate, Hz: of a sample index or a raw dump; or how finely a change-only file was sampled. */
  rateHz?: number | undefined
  /** Length of one unit of the time column, us, where a CSV file does not tell it. */
  unitUs?: number | undefined
  /** Whether a CSV file holds levels or voltages; found from its first rows when absent. */
  as?: 'digital' | 'analog' | undefined
  /** Bits of a raw sample: 1, 2, 4, 8, 16. More than one bit is analog unless a channel names a bit. */
  bits?: number | undefined
  /** Raw samples of 16 bits are signed, or high byte first. */
  signed?: boolean | undefined
  bigEndian?: boolean | undefined
  /** Volts of one count of a raw analog sample, and the count that stands for 0 V (128 of unsigned bytes; default 0). */
  stepVolt?: number | undefined
  zeroCount?: number | undefined
  /** The probe divides by this: volts of an analog record are multiplied by it. Default 1. */
  probeFactor?: number | undefined
  /** Which voltage of an analog record is zero; found when absent. */
  reference?: Reference | undefined
  /** Where the level of an analog record changes, V, and how far beyond it must go; found from its plateaus. */
  thresholdVolt?: number | undefined
  hysteresisVolt?: number | undefined
  /** The channel of a CSV file that holds the current on a service track. */
  current?: CurrentChannel | undefined
  /** Number of the first sample of a raw dump, where only its later part is read. */
  firstSample?: number | undefined
  /** Times after the first record that are left out, us. */
  skipUs?: number | undefined
  /** Window on the time of the file itself, us. */
  fromUs?: number | undefined
  toUs?: number | undefined
}

/** Told the clock once, before the first edge. */
export interface CaptureSink extends EdgeSink {
  /** @param madeBy what wrote the file, where its head tells. */
  begin(clock: EdgeClock, madeBy?: MadeBy): void
  /** Every sample of an analog record, in ticks; those from before `begin` come first. */
  sample?(tick: number, volt: number): void
  /** Every sample of the current channel, in time order; those from before `begin` come first. */
  current?(timeUs: number, amp: number): void
}

/** What was read, beside the edges. */
export interface CaptureSummary {
  format: CaptureFormat
  /** The dialect in words: delimiter, unit, columns. */
  dialect: string
  /** Names of the channels used: one, or two when subtracted. */
  channels: string[]
  /** The channel that holds the current. */
  currentChannel?: string
  /** Names of all channels there are. */
  available: string[]
  clock: EdgeClock
  /** How the resolution is known. */
  resolutionFrom: string
  /** First and last instant of the record, us; 0 in a record without any. */
  startUs: number
  endUs: number
  /** Edges handed to the sink. */
  edges: number
  /** Things a person should know: assumed units, a last line cut off. */
  notes: string[]
  /** What wrote the file, where it is an export of ours. */
  madeBy?: MadeBy
  /** Voltages or counts of a converter, not levels. */
  isAnalog: boolean
  /** Absent of counts whose volts nobody said. */
  analog?: AnalogReading
}

export interface Importer {
  /** Everything up to `toUs` has been read: no need to push more. */
  readonly done: boolean
  /** Time of the last record that was read, us; everything still to come is not earlier. */
  readonly reachedUs: number
  /** Names of the channels, as far as they have been read. */
  readonly available: readonly string[]
  /** The record holds voltages. */
  readonly isAnalog: boolean
  /** What wrote the file, as far as its head tells; known before the sink is told the clock. */
  readonly madeBy: MadeBy | undefined
  /** @throws InputError with line and column when the bytes are no such capture. */
  push(chunk: Uint8Array): void
  /** @throws InputError when nothing could be read. */
  end(): CaptureSummary
}

/** Longest line or token that is taken, bytes: bounds the memory. */
export const LINE_LIMIT = 65_536

/** Said of the other formats. */
export const CURRENT_IN_CSV = 'a channel of the current is read from CSV files only'

/** A time stamp is lower than the one before it. */
export function backwards(line: number, column: number, found: string, before: string): InputError {
  return new InputError(`time goes backwards: found ${found} after ${before}`, { line, column })
}

/** What the options and the sink say to the analog tracker. */
export function analogSettings(
  { thresholdVolt, hysteresisVolt, reference }: CaptureOptions,
  sink: CaptureSink,
  subtracted: boolean,
  changesOnly = false,
): AnalogSettings {
  if (hysteresisVolt !== undefined && !(hysteresisVolt > 0))
    throw new InputError(`hysteresis ${hysteresisVolt} V; expected more than 0 V`)
  return {
    thresholdVolt,
    hysteresisVolt,
    reference,
    subtracted,
    changesOnly,
    onSample: sink.sample && ((tick, volt) => sink.sample!(tick, volt)),
  }
}

/** First and last tick that are looked at, by the options, for a record that begins at tick `first`. */
export function openWindow(options: CaptureOptions, first: number, tickUs: number): [number, number] {
  const { skipUs = 0, fromUs = Number.NEGATIVE_INFINITY, toUs = Number.POSITIVE_INFINITY } = options
  const after = skipUs > 0 ? first + skipUs / tickUs : Number.NEGATIVE_INFINITY
  return [Math.max(after, fromUs / tickUs), toUs / tickUs]
}
