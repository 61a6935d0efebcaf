import { type AnalogReading, CsvWriter, judgeAnalog, VcdWriter } from '../../capture/index.js'
import type { Design, LoadedDesign } from '../../design/index.js'
import { judgeSignal, type PacketJson, packetJson, signalJson } from '../../signal/index.js'
import {
  type Evidence,
  PROFILES,
  type Profile,
  type ProfileId,
  profileOf,
  SCALES,
  type Scale,
  senderLimits,
  type TrackMode,
} from '../../standard/index.js'
import { formatNumber, formatTimeUs, InputError, nearest } from '../../units/index.js'
import { readCapture } from '../capturing.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { WholeFile } from '../files.js'
import { quantityOption } from '../quantity-option.js'
import { evidenceText, findingsText, readingText } from '../signal-text.js'

/** Packets listed at most: a list of millions is no list. */
const LISTED = 1_000_000

export const command: Command = {
  usage: ['capture FILE [options]'],
  about: `Reads a capture of a track signal and judges it: VCD, CSV (digital or analog), raw samples, each plain or gzip.
What the file does not tell is said with options; what is taken for granted is noted.`,
  options: {
    channel: {
      type: 'string',
      value: 'NAME',
      multiple: true,
      help: 'channel by name or number; twice, or "A-B": subtracted',
    },
    invert: { type: 'boolean', help: 'turn the levels round' },
    rate: {
      type: 'string',
      value: 'RATE',
      help: 'sampling rate: of raw samples or sample numbers, or how finely changes were seen',
    },
    unit: { type: 'string', value: 'UNIT', help: 's, ms, us or ns, where a CSV file does not tell it' },
    format: {
      type: 'string',
      value: 'FORMAT',
      help: 'vcd, csv or raw; found from the file when absent (raw must be said)',
    },
    bits: { type: 'string', value: 'N', help: 'bits of a raw sample: 1, 2, 4, 8 or 16 (1)' },
    signed: { type: 'boolean', help: 'raw samples are signed' },
    'big-endian': {
      type: 'boolean',
      help: 'raw samples of 16 bits have their high byte first; fewer bits: first sample highest',
    },
    step: { type: 'string', value: 'VOLT', help: 'volts of one count of a raw analog sample' },
    skip: { type: 'string', value: 'TIME', help: 'time left out at the start' },
    from: { type: 'string', value: 'TIME', help: 'begin at this time of the file' },
    to: { type: 'string', value: 'TIME', help: 'end at this time of the file' },
    probe: { type: 'string', value: 'WHERE', help: 'rails or logic: where the probe was (rails)' },
    mode: { type: 'string', value: 'MODE', help: 'operations or service (operations)' },
    cutout: { type: 'boolean', help: 'the station makes bidirectional cut-outs' },
    design: {
      type: 'string',
      value: 'DESIGN',
      help: 'take profile, scale and outputs from this design file',
    },
    track: { type: 'string', value: 'NAME', help: 'output of the design that the capture shows' },
    profile: { type: 'string', value: 'NAME', help: 'nmra or rcn (nmra)' },
    edition: { type: 'string', value: 'YEAR', help: 'edition of the profile' },
    scale: { type: 'string', value: 'SCALE', help: `${Object.keys(SCALES).join(', ')} (H0)` },
    packets: { type: 'boolean', help: 'list every packet' },
    export: { type: 'string', value: 'FILE', help: 'write the edges as .vcd or .csv' },
  },
  takes: { min: 1, max: 1, what: 'one capture file' },
  examples: [
    'halfbit capture main.vcd --channel rail_a',
    'halfbit capture scope.csv --channel CH1-CH2 --packets',
  ],
  run,
}

interface Setting {
  profile: Profile
  mode: TrackMode
  cutout: boolean
  about: string | undefined
  probe: 'rails' | 'logic'
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const setting = await settingOf(args)
  const fromUs = quantityOption(args, 'from', 'time')
  const toUs = quantityOption(args, 'to', 'time')
  if (fromUs !== undefined && toUs !== undefined && fromUs >= toUs)
    throw new InputError('--from is not before --to')
  const packets: PacketJson[] = []
  const exported = exporter(args.text('export'))
  try {
    const { reading, summary, interrupted } = await readCapture({
      path: file,
      capture: {
        format: oneOf(args, 'format', ['vcd', 'csv', 'raw'] as const),
        channel: args.texts('channel').length > 0 ? args.texts('channel') : undefined,
        invert: args.on('invert'),
        rateHz: quantityOption(args, 'rate', 'frequency', { min: 1, max: 1e12, says: '1 Hz to 1000 GHz' }),
        unitUs: unitOption(args),
        bits: args.text('bits') === undefined ? undefined : Number(args.text('bits')),
        signed: args.on('signed'),
        bigEndian: args.on('big-endian'),
        stepVolt: quantityOption(args, 'step', 'voltage'),
        skipUs: quantityOption(args, 'skip', 'time', { min: 0, max: 1e12, says: 'a time from the start' }),
        fromUs,
        toUs,
      },
      reader: {
        mode: setting.mode,
        cutout: setting.cutout,
        ...preambleMin(setting),
        ...(args.on('packets')
          ? {
              onPacket: (p) =>
                void (packets.length < LISTED && packets.push(packetJson(p, { mode: setting.mode }))),
            }
          : {}),
      },
      signal: io.signal,
      onProgress: (bytes, of) => io.progress(`read ${Math.round((100 * bytes) / of)} % of ${file}`),
      ...(exported ? { copyTo: exported } : {}),
    })
    io.progress('')
    exported?.commit()
    if (reading.edges < 2) {
      throw new InputError(
        `${reading.edges} edges on ${summary.channels.join(' and ')}; expected a signal (the file has ${summary.available.slice(0, 12).join(', ')})`,
        { file },
      )
    }
    const { about, probe, profile } = setting
    const origin = { source: `capture ${file}`, probe, ...(about === undefined ? {} : { about }) }
    const evidence = judgeSignal(reading, profile, {
      ...origin,
      origin: 'measured',
      place: { file, channel: summary.channels.join('-') },
    })
    if (summary.analog) evidence.push(...judgeAnalog(summary.analog, profile, { ...origin, file }))
    if (args.on('json')) {
      const list = args.on('packets') ? packets : undefined
      io.out(
        JSON.stringify({ ...signalJson(reading, evidence, list), capture: summary, interrupted }, null, 2),
      )
    } else {
      io.out(`${file}: ${summary.dialect}; ${summary.channels.join(' minus ')}`)
      io.out(
        `Time      ${formatTimeUs(summary.startUs)} to ${formatTimeUs(summary.endUs)}, ${reading.edges} edges, each known to ${formatTimeUs(reading.resolutionUs, 3)} (${summary.resolutionFrom})`,
      )
      for (const note of summary.notes) io.out(`Note      ${note}`)
      if (interrupted) io.out('Note      interrupted: this is what was seen until then')
      io.out(readingText(reading).join('\n'))
      if (summary.analog) io.out(analogText(summary.analog).join('\n'))
      io.out(['', ...evidenceText(evidence)].join('\n'))
      io.out(findingsText(reading).join('\n'))
      for (const p of packets)
        io.out(
          `${formatTimeUs(p.tUs, 8).padStart(12)}  ${String(p.preamble).padStart(3)}  ${p.hex.padEnd(17)}  ${p.valid ? '' : 'NOT VALID: '}${p.says}`,
        )
    }
    return statusOf(evidence)
  } finally {
    exported?.discard()
  }
}

function statusOf(evidence: readonly Evidence[]): ExitStatus {
  return evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

function preambleMin({ profile, mode }: Setting): { preambleMin?: number } {
  const { min } = senderLimits(profile.clauses.preamble, mode)
  return min === undefined ? {} : { preambleMin: min }
}

function analogText(a: AnalogReading): string[] {
  const lines = [
    `Levels    ${formatNumber(a.lowVolt, 4)} V and ${formatNumber(a.highVolt, 4)} V, from ${formatNumber(a.minVolt, 4)} to ${formatNumber(a.maxVolt, 4)} V, RMS ${formatNumber(a.rmsVolt, 4)} V`,
  ]
  if (a.slope)
    lines.push(
      `Slope     ${formatNumber(a.slope.slowest, 3)} V/us at the slowest, ${formatNumber(a.slope.mean, 3)} V/us in the mean, over -4 to +4 V`,
    )
  lines.push(`Crossing  goes back by ${formatNumber(a.distortion.worstVolt, 3)} V at worst`)
  if (!a.bipolar)
    lines.push(
      '          one polarity only, so voltage and slope are not judged; subtract both rails with --channel A-B',
    )
  return lines
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

async function settingOf(args: Arguments): Promise<Setting> {
  const file = args.text('design')
  const probe = oneOf(args, 'probe', ['rails', 'logic'] as const) ?? 'rails'
  const asked = oneOf(args, 'mode', ['operations', 'service'] as const)
  if (file === undefined) {
    const cutout = args.on('cutout')
    const profile = oneOf(args, 'profile', Object.keys(PROFILES) as ProfileId[]) ?? 'nmra'
    const scale = oneOf(args, 'scale', Object.keys(SCALES) as Scale[]) ?? 'H0'
    const edition = oneOf(args, 'edition', Object.keys(PROFILES[profile].editions))
    return {
      profile: profileOf({ profile, scale, cutout, ...(edition ? { edition } : {}) }),
      mode: asked ?? 'operations',
      cutout,
      about: undefined,
      probe,
    }
  }
  // Loaded only here: a capture alone needs no design file, and starts quicker without.
  const { profileOfDesign, readDesign } = await import('../read-design.js')
  const loaded = readDesign(file)
  const [name, output] = outputOf(loaded, args.text('track'))
  return {
    profile: profileOfDesign(loaded, output.cutout),
    mode: asked ?? output.mode,
    cutout: output.cutout,
    about: name,
    probe,
  }
}

function unitOption(args: Arguments): number | undefined {
  const unit = oneOf(args, 'unit', ['s', 'ms', 'us', 'ns'] as const)
  return unit && { s: 1e6, ms: 1e3, us: 1, ns: 1e-3 }[unit]
}

function outputOf(
  { design }: LoadedDesign,
  wanted: string | undefined,
): [string, Design['signal']['tracks'][string]] {
  const outputs = Object.entries(design.signal.tracks)
  if (wanted === undefined) return outputs[0]!
  const found = outputs.find(([name]) => name === wanted)
  if (found) return found
  throw new InputError(`--track ${wanted}; expected one of ${outputs.map(([name]) => name).join(', ')}`)
}

/** A sink that writes what it gets as a file, whole or not at all. */
function exporter(path: string | undefined) {
  if (path === undefined) return undefined
  const kind = /\.(vcd|csv)$/i.exec(path)?.[1]?.toLowerCase()
  if (kind === undefined) throw new InputError(`--export ${path}; expected a name that ends in .vcd or .csv`)
  const file = new WholeFile(path)
  let writer: VcdWriter | CsvWriter | undefined
  return {
    begin(clock: { tickUs: number; resolutionUs: number }) {
      writer = kind === 'vcd' ? new VcdWriter(clock) : new CsvWriter(clock)
    },
    push(block: { ticks: Float64Array; levels: Uint8Array; count: number }) {
      file.write(writer!.write(block))
    },
    commit: () => file.commit(),
    discard: () => file.discard(),
  }
}
