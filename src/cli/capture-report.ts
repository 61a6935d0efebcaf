/** What `halfbit capture` does once the file is known: options, reading, verdict, report. */

import { CAPTURE_FORMAT_IDS } from '../capture/formats.data.js'
import type { CsvWriter, CurrentChannel, MadeBy, VcdWriter } from '../capture/index.js'
import type { Design, LoadedDesign } from '../design/index.js'
import { SERVICE_MODES } from '../packet/sequence.data.js'
import type { RunEvidence } from '../proof/evidence-set.js'
import { type OutputSetting, readerOptions } from '../proof/reader-options.js'
import type { EdgeBlock, EdgeClock, PacketJson, PacketRecord } from '../signal/index.js'
import {
  type OutputMode,
  PROFILES,
  type ProfileId,
  profileOf,
  SCALES,
  type Scale,
} from '../standard/index.js'
import { InputError, nearest } from '../units/index.js'
import { type CaptureResult, readCapture } from './capturing.js'
import type { Arguments, ExitStatus, Io } from './command.js'
import { quantityOption } from './quantity-option.js'
import type { ReadingThread } from './reading-thread.js'

/** Packets listed at most: a list of millions is no list. */
const LISTED = 1_000_000

interface Setting extends OutputSetting {
  probe: 'rails' | 'logic'
}

/** Reads one capture and prints the verdict on it. @param thread started for a large file. */
export async function captureReport(
  args: Arguments,
  io: Io,
  thread: ReadingThread | undefined,
): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const setting = await settingOf(args, io)
  const fromUs = quantityOption(args, 'from', 'time')
  const toUs = quantityOption(args, 'to', 'time')
  if (fromUs !== undefined && toUs !== undefined && fromUs >= toUs)
    throw new InputError('--from is not before --to')
  const packets: PacketJson[] = []
  const exported = await exporter(args.text('export'))
  try {
    const result = await readCapture({
      path: file,
      capture: {
        format: oneOf(args, 'format', CAPTURE_FORMAT_IDS),
        channel: args.texts('channel').length > 0 ? args.texts('channel') : undefined,
        invert: args.on('invert'),
        rateHz: quantityOption(args, 'rate', 'frequency', { min: 1, max: 1e12, says: '1 Hz to 1000 GHz' }),
        unitUs: unitOption(args),
        as: oneOf(args, 'as', ['digital', 'analog'] as const),
        bits: bitsOption(args),
        signed: args.on('signed'),
        bigEndian: args.on('big-endian'),
        stepVolt: quantityOption(args, 'step', 'voltage', {
          min: 1e-9,
          max: 1000,
          says: 'more than 0 V, up to 1000 V',
        }),
        zeroCount: countOption(args, 'zero-count'),
        probeFactor: factorOption(args),
        reference: oneOf(args, 'reference', ['zero', 'middle'] as const),
        thresholdVolt: quantityOption(args, 'threshold', 'voltage', {
          min: -1000,
          max: 1000,
          says: '-1000 V to 1000 V',
        }),
        hysteresisVolt: quantityOption(args, 'hysteresis', 'voltage', {
          min: 1e-6,
          max: 100,
          says: 'more than 0 V, up to 100 V',
        }),
        current: currentOption(args),
        skipUs: quantityOption(args, 'skip', 'time', { min: 0, max: 1e12, says: 'a time from the start' }),
        fromUs,
        toUs,
      },
      reader: {
        ...readerOptions(setting),
        ...(args.on('packets') ? { onPacket: await packetLister(packets, setting.mode) } : {}),
      },
      profile: setting.profile,
      thread,
      signal: io.signal,
      onProgress: (bytes, of) => io.progress(`read ${Math.round((100 * bytes) / of)} % of ${file}`),
      ...(exported ? { copyTo: exported } : {}),
    })
    io.progress('')
    if (!result.interrupted) exported?.commit()
    else if (exported) io.note(`interrupted: ${args.text('export')} was not written`)
    const evidence = await judge(file, result, setting)
    if (args.on('json')) await printJson(result, evidence, args.on('packets') ? packets : undefined, io)
    else await print(file, result, evidence, packets, setting, io)
    return evidence.statements.some((e) => e.verdict === 'broken') ? 1 : 0
  } finally {
    exported?.discard()
  }
}

// What follows is loaded while another thread still reads the last edges of a large file.

async function judge(file: string, read: CaptureResult, setting: Setting): Promise<RunEvidence> {
  const { evidenceOfCapture } = await import('../proof/capture-evidence.js')
  return evidenceOfCapture(read, { file, output: setting, probe: setting.probe })
}

async function packetLister(list: PacketJson[], mode: OutputMode): Promise<(packet: PacketRecord) => void> {
  const { packetJson } = await import('../signal/index.js')
  return (packet) => void (list.length < LISTED && list.push(packetJson(packet, { mode })))
}

async function printJson(
  { reading, summary, current, interrupted }: CaptureResult,
  { statements, notes }: RunEvidence,
  packets: PacketJson[] | undefined,
  io: Io,
): Promise<void> {
  const { signalJson } = await import('../signal/index.js')
  const json = { ...signalJson(reading, statements, packets), notes, capture: summary, current, interrupted }
  io.out(JSON.stringify(json, null, 2))
}

async function print(
  file: string,
  { reading, summary }: CaptureResult,
  { statements, notes }: RunEvidence,
  packets: PacketJson[],
  setting: Setting,
  io: Io,
): Promise<void> {
  const [
    { findingsText, readingText },
    { verdictSentence, verdictTable },
    { oneLine },
    { analogText, packetText, recordText },
  ] = await Promise.all([
    import('./signal-text.js'),
    import('./print.js'),
    import('../proof/words.js'),
    import('./capture-text.js'),
  ])
  io.out(
    [
      ...recordText(file, reading, summary, setting.profile).map(oneLine),
      ...notes.map(({ sentence }) => oneLine(`Note      ${sentence}`)),
      '',
      ...verdictTable(statements, setting.profile, setting.mode, io),
      '',
      ...readingText(reading),
      ...(summary.analog ? analogText(summary.analog) : []),
      ...findingsText(reading),
      ...(packets.length > 0 ? ['', 'Packets:', ...packets.map(packetText)] : []),
      '',
      verdictSentence(statements, setting),
    ].join('\n'),
  )
}

function oneOf<const T extends string>(args: Arguments, name: string, choices: readonly T[]): T | undefined {
  const text = args.text(name)
  if (text === undefined) return undefined
  const found = choices.find((c) => c.toLowerCase() === text.toLowerCase())
  if (found !== undefined) return found
  const close = nearest(text, choices)
  throw new InputError(
    `--${name} ${text}; expected one of ${choices.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
  )
}

async function settingOf(args: Arguments, io: Io): Promise<Setting> {
  const file = args.text('design')
  const probe = oneOf(args, 'probe', ['rails', 'logic'] as const) ?? 'rails'
  const serviceMode = oneOf(args, 'service-mode', SERVICE_MODES)
  const stated = {
    probe,
    powerOffUs: quantityOption(args, 'power-off', 'time', { min: 1, max: 1e9, says: '1 us to 1000 s' }),
    savedState: args.on('saved-state'),
    ...(serviceMode ? { serviceModes: [serviceMode] } : {}),
  }
  const asked = oneOf(args, 'mode', ['operations', 'service'] as const)
  if (file === undefined) {
    const variant = args.text('variant')
    if (variant !== undefined)
      throw new InputError(`--variant ${variant}; expected --design beside it, whose variant it names`)
    if (args.text('output') !== undefined)
      throw new InputError('--output needs --design, whose outputs it names')
    const cutout = args.on('cutout')
    const profile = oneOf(args, 'profile', Object.keys(PROFILES) as ProfileId[]) ?? 'nmra'
    const scale = oneOf(args, 'scale', Object.keys(SCALES) as Scale[]) ?? 'H0'
    const edition = oneOf(args, 'edition', Object.keys(PROFILES[profile].editions))
    return {
      profile: profileOf({ profile, scale, cutout, ...(edition ? { edition } : {}) }),
      mode: asked ?? 'operations',
      cutout,
      ...stated,
    }
  }
  // Loaded only here: a capture alone needs no design file, and starts quicker without.
  const { profileOfDesign, readDesign } = await import('./read-design.js')
  const loaded = readDesign(file, io, args.text('variant'))
  const [name, output] = outputOf(loaded, args.text('output'))
  return {
    profile: profileOfDesign(loaded, output.cutout),
    mode: asked ?? output.mode,
    cutout: output.cutout,
    name,
    ...stated,
  }
}

function bitsOption(args: Arguments): number | undefined {
  const bits = oneOf(args, 'bits', ['1', '2', '4', '8', '16'] as const)
  return bits === undefined ? undefined : Number(bits)
}

/** @throws InputError for anything but a whole number of counts. */
function countOption(args: Arguments, name: string): number | undefined {
  const text = args.text(name)
  if (text === undefined) return undefined
  const value = /^\d{1,5}$/.test(text) ? Number(text) : Number.NaN
  if (!(value <= 65_535)) throw new InputError(`--${name} ${text}; expected a whole number from 0 to 65535`)
  return value
}

function factorOption(args: Arguments): number | undefined {
  const text = args.text('probe-factor')
  if (text === undefined) return undefined
  const value = /^\d{1,5}(\.\d{1,6})?$/.test(text) ? Number(text) : Number.NaN
  if (!(value > 0)) throw new InputError(`--probe-factor ${text}; expected a number above 0, such as 10`)
  return value
}

function currentOption(args: Arguments): CurrentChannel | undefined {
  const channel = args.text('current')
  const text = args.text('amp-per-volt')
  const ampPerVolt = text !== undefined && /^\d{1,6}(\.\d{1,6})?$/.test(text) ? Number(text) : 0
  if (text !== undefined && !(ampPerVolt > 0))
    throw new InputError(
      `--amp-per-volt ${text}; expected a number above 0, such as 10 of a shunt of 0.1 ohm`,
    )
  if (channel === undefined) {
    if (text !== undefined) throw new InputError('--amp-per-volt needs --current, the channel it is of')
    return undefined
  }
  return text === undefined ? { channel } : { channel, ampPerVolt }
}

function unitOption(args: Arguments): number | undefined {
  const unit = oneOf(args, 'unit', ['s', 'ms', 'us', 'ns'] as const)
  return unit && { s: 1e6, ms: 1e3, us: 1, ns: 1e-3 }[unit]
}

function outputOf(
  { design }: LoadedDesign,
  wanted: string | undefined,
): [string, Design['signal']['outputs'][string]] {
  const outputs = Object.entries(design.signal.outputs)
  if (wanted === undefined && outputs.length === 1) return outputs[0]!
  if (wanted === undefined) {
    throw new InputError(
      `the design has several outputs; say with --output which one the capture shows: ${outputs.map(([name]) => name).join(', ')}`,
    )
  }
  const found = outputs.find(([name]) => name === wanted)
  if (found) return found
  throw new InputError(`--output ${wanted}; expected one of ${outputs.map(([name]) => name).join(', ')}`)
}

/** A sink that writes what it gets as a file, whole or not at all. */
async function exporter(path: string | undefined) {
  if (path === undefined) return undefined
  const kind = path === '-' ? 'vcd' : /\.(vcd|csv)$/i.exec(path)?.[1]?.toLowerCase()
  if (kind === undefined) throw new InputError(`--export ${path}; expected a name that ends in .vcd or .csv`)
  const [{ CsvWriter, VcdWriter }, { OutputFile }] = await Promise.all([
    import('../capture/index.js'),
    import('./files/index.js'),
  ])
  const file = new OutputFile(path)
  let writer: VcdWriter | CsvWriter | undefined
  return {
    begin(clock: EdgeClock, madeBy: MadeBy = { command: 'capture' }) {
      writer = kind === 'vcd' ? new VcdWriter(clock, madeBy) : new CsvWriter(clock, madeBy)
    },
    push(block: EdgeBlock) {
      file.write(writer!.write(block))
    },
    commit: () => file.commit(),
    discard: () => file.discard(),
  }
}
