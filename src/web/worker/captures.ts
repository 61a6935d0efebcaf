/** Reads captures for the screen: the whole once, in slices, and stretches of it again where one looks closely. */
import {
  type AcknowledgedSink,
  CaptureImporter,
  CaptureMarks,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  CurrentTap,
  captureOptions,
  formatOf,
  HEAD_BYTES,
  headEnd,
  rawStart,
  recordStart,
  stretchOptions,
} from '../../capture/index.js'
import { loadDesign } from '../../design/index.js'
import {
  bitLimits,
  captureContext,
  evidenceOfCapture,
  type OutputSetting,
  outputOf,
  readerOptions,
} from '../../proof/index.js'
import { currentLimitsOf, type EdgeBlock, type EdgeClock, SignalReader } from '../../signal/index.js'
import { formatNumber, InputError } from '../../units/index.js'
import type { WaveRecord } from '../wave/record.js'
import type { BenchCalls, CaptureLook, CaptureSettings, ReadSignal } from './calls.js'
import type { Tools } from './channel.js'
import { headOf, isPacked, slices, unpacked } from './file-parts.js'
import { sha256Of } from './hash.js'
import { KeptRecord } from './kept-record.js'

/** Lets messages in: a cancel, the next question. */
export const breathe = () => new Promise<void>((done) => setTimeout(done, 0))

/** What can be read again. */
interface Source {
  file: Blob
  options: CaptureOptions
  format: CaptureSummary['format']
  marks: CaptureMarks
  output: OutputSetting
  tickUs: number
}
const sources = new Map<number, Source>()
let lastSource = 0
const MOST_SOURCES = 8
/** More than this is not read for a look: what is kept of the record must do, bytes. */
const MOST_BYTES = 64 << 20
/** Read on both sides of a stretch, so that its packets are whole, us. */
const AROUND_US = 30_000

/** What a file is, from its first bytes: for the form that asks what it does not tell. */
export async function look({ file, settings }: BenchCalls['look']['takes']): Promise<CaptureLook> {
  const head = await headOf(file, HEAD_BYTES)
  let format: CaptureLook['format'] = settings.format
  let says: string | undefined
  if (!format) {
    try {
      format = formatOf(head)
    } catch (error) {
      if (!(error instanceof InputError)) throw error
      says =
        error.place.byte === undefined
          ? error.message
          : 'This is neither VCD nor a text of rows: say how its samples are laid out.'
    }
  }
  if (format === undefined || (format === 'raw' && settings.rateHz === undefined))
    return { format, says, channels: [], isAnalog: false }
  const importer = new CaptureImporter({ ...settings, format, channel: undefined }, NOWHERE)
  try {
    importer.push(head)
    if (head.length < HEAD_BYTES) importer.end()
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    says = onScreen(error.message)
  }
  return { format, says, channels: [...importer.available], isAnalog: importer.isAnalog }
}

/** Options of the command are fields of the form here. */
function onScreen(text: string): string {
  return text
    .replace(/; choose with --channel( \(.*\))?$/, '; choose another in the form')
    .replace(/, say otherwise with --unit$/, '; say otherwise in the form')
    .replace(/a stated --rate$/, 'a stated sampling rate')
    .replace(/, such as --rate "[^"]*"/, '')
    .replace(/stated with --rate it is known/, 'with the sampling rate stated it is known')
}

const NOWHERE: CaptureSink = { begin: () => {}, push: () => {} }

/** Of a large file it takes a while: told, and given up on a cancel. */
async function fileSum(file: Blob, { progress, cancelled }: Tools): Promise<string | undefined> {
  return sha256Of(file, (share) => {
    progress(share, 'its SHA-256 sum')
    return !cancelled()
  })
}

/** Where an importer puts its edges: into a reader, and into what is kept of them for the screen. */
function keeping(output: OutputSetting, hasCurrent = false) {
  const kept = new KeptRecord(bitLimits(output))
  let reader: SignalReader | undefined
  const edges: AcknowledgedSink = {
    begin(clock: EdgeClock) {
      kept.begin(clock)
      reader = new SignalReader(clock, {
        ...readerOptions(output),
        ...(hasCurrent ? { acknowledgementsTold: true } : {}),
        onPacket: (p) => kept.packet(p),
      })
    },
    acknowledge: (us) => reader!.acknowledge(us),
    push(block: EdgeBlock) {
      reader!.push(block)
      kept.push(block)
    },
    sample: (tick, volt) => kept.sample(tick, volt),
  }
  const tap = hasCurrent ? new CurrentTap(currentLimitsOf(output.profile), edges) : undefined
  const sink: CaptureSink = tap ?? edges
  return { kept, sink, tap, reader: () => reader }
}

export async function capture(
  { file, name, text, output: chosen, listed, settings: wanted }: BenchCalls['capture']['takes'],
  tools: Tools,
): Promise<BenchCalls['capture']['gives']> {
  const loaded = loadDesign(text)
  const { design } = loaded
  const named = listed === undefined ? undefined : design.captures?.[listed]
  const output = outputOf(loaded, chosen ?? named?.output ?? Object.keys(design.signal.outputs)[0]!, wanted)
  const options = { ...(named ? captureOptions(named) : {}), ...stated(wanted) }
  const { kept, sink, tap, reader } = keeping(output, options.current !== undefined)
  try {
    const importer = new CaptureImporter(options, sink)
    const { interrupted, marks } = await feed(file, importer, tools)
    const summary = importer.end()
    const current = tap?.finish()
    const signal = reader()
    if (!signal) throw new InputError('no signal in the file')
    const { tickUs: tick, resolutionUs, roundingUs = 0 } = summary.clock
    const end = Math.min(summary.endUs, options.toUs ?? Number.POSITIVE_INFINITY) / tick
    const cut = (options.skipUs ?? 0) > 0 || (options.fromUs ?? Number.NEGATIVE_INFINITY) > summary.startUs
    const reading = signal.finish(end, cut ? Number.NaN : summary.startUs / tick)
    reading.resolutionUs = Math.max(reading.resolutionUs, resolutionUs)
    reading.roundingUs = Math.max(reading.roundingUs, roundingUs)
    // Who stops the reading waits for no sum.
    const sha256 = interrupted ? undefined : await fileSum(file, tools)
    const evidence = evidenceOfCapture(
      { reading, summary, current, interrupted },
      {
        file: name,
        sha256,
        output,
        probe: wanted?.probe ?? named?.probe ?? 'rails',
        build: wanted?.build ?? named?.build,
        context: captureContext(loaded, output.name),
      },
    )
    const read: ReadSignal = {
      output: output.name,
      reading,
      record: kept.record(reading.findings, summary.analog, unitOf(options)),
    }
    if (marks) {
      read.source = ++lastSource
      const { tickUs } = summary.clock
      sources.set(lastSource, { file, options, format: summary.format, marks, output, tickUs })
      if (sources.size > MOST_SOURCES) sources.delete(sources.keys().next().value!)
    }
    if (summary.analog) read.analog = summary.analog
    return {
      read,
      evidence,
      dialect: summary.dialect,
      channels: summary.channels,
      look: { format: summary.format, channels: summary.available, isAnalog: importer.isAnalog },
      notes: summary.notes.map(onScreen),
      interrupted,
    }
  } catch (error) {
    throw withFile(
      error instanceof InputError ? new InputError(onScreen(error.message), error.place) : error,
      name,
    )
  }
}

/** The part of a capture that is in view, edge by edge; undefined when that would be too much to read. */
export async function stretch(
  { source, fromUs, toUs }: BenchCalls['stretch']['takes'],
  { cancelled }: Tools,
): Promise<WaveRecord | undefined> {
  const known = sources.get(source)
  if (!known) return undefined
  const { file, options, format, marks, output, tickUs } = known
  const [from, to] = [fromUs - AROUND_US, toUs + AROUND_US]
  const plan = marks.plan(from, to, file.size)
  if (plan.to - plan.from > MOST_BYTES) return undefined
  const { kept, sink, reader } = keeping(output)
  // Only of what was asked for, as there may be many.
  sink.sample = (tick, volt) => {
    if (tick * tickUs >= fromUs && tick * tickUs <= toUs) kept.sample(tick, volt)
  }
  const wanted = stretchOptions(options, format, from, to)
  let begin = plan.from
  if (format === 'raw') {
    const start = rawStart(plan.from, options.bits ?? 1)
    begin = start.byte
    wanted.firstSample = start.firstSample
  }
  const importer = new CaptureImporter(wanted, sink)
  if (format !== 'raw' && plan.needsHead) {
    const head = await headOf(file, HEAD_BYTES)
    importer.push(head.subarray(0, headEnd(format, head)))
    const cut = new Uint8Array(await file.slice(plan.from, plan.from + (1 << 17)).arrayBuffer())
    begin += Math.max(0, recordStart(format, cut))
  }
  for await (const bytes of slices(file, begin, plan.to)) {
    importer.push(bytes)
    await breathe()
    if (importer.done || cancelled()) break
  }
  const summary = importer.end()
  reader()?.finish(summary.endUs / summary.clock.tickUs)
  return kept.record([], summary.analog, unitOf(options))
}

const unitOf = ({ format, stepVolt }: CaptureOptions) =>
  format === 'raw' && stepVolt === undefined ? 'counts' : 'V'

export function withFile(error: unknown, file: string): unknown {
  if (!(error instanceof InputError)) return error
  error.place.file ??= file
  return Object.assign(new Error(error.describe()), { place: error.place })
}

/** @returns marks to read parts again by, of a file that is not packed. */
async function feed(
  file: Blob,
  importer: CaptureImporter,
  { progress, cancelled }: Tools,
): Promise<{ interrupted: boolean; marks?: CaptureMarks }> {
  const packed = await isPacked(file)
  const marks = new CaptureMarks()
  const parts = packed ? unpacked(file) : counted(file)
  let told = performance.now()
  let at = 0
  for await (const { bytes, read } of parts) {
    if (!packed) marks.note(at, importer.reachedUs)
    importer.push(bytes)
    at += bytes.length
    if (importer.done) break
    if (performance.now() - told < 60) continue
    progress(
      read / Math.max(1, file.size),
      `${formatNumber(read / 1e6, 3)} of ${formatNumber(file.size / 1e6, 3)} MB read`,
    )
    await breathe()
    told = performance.now()
    if (cancelled()) return { interrupted: true, ...(packed ? {} : { marks }) }
  }
  return { interrupted: false, ...(packed ? {} : { marks }) }
}

async function* counted(file: Blob): AsyncGenerator<{ bytes: Uint8Array; read: number }> {
  let read = 0
  for await (const bytes of slices(file, 0, file.size)) {
    read += bytes.length
    yield { bytes, read }
  }
}

/** Only what was said: the rest stays as the design has it, or as it is found. */
function stated(settings: CaptureSettings | undefined): CaptureOptions {
  const { probe: _, cutout: _c, mode: _m, build: _b, ...options } = settings ?? {}
  return Object.fromEntries(Object.entries(options).filter(([, value]) => value !== undefined))
}
