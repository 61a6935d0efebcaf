/** Captures named in the design file: files, which channel of each, and which output it shows. */
import { shape, type Value } from '../shape/index.js'
import {
  CAPTURE_FORMAT_IDS,
  CAPTURE_FORMAT_NAMES,
  CAPTURE_FORMATS,
  type CaptureFormat,
} from './formats.data.js'
import type { CaptureOptions } from './importer.js'
import { RAW_BITS } from './raw.js'

export const captureShape = shape({
  kind: 'record',
  title: 'capture',
  help: 'A recording of a track signal that `halfbit prove` judges.',
  keys: {
    file: {
      kind: 'text',
      title: 'file',
      help: `${CAPTURE_FORMAT_NAMES}, plain or gzip.`,
      example: 'main.vcd',
    },
    output: {
      kind: 'text',
      title: 'output',
      help: 'Name of the output it shows.',
      optional: true,
      example: 'main',
    },
    channel: {
      kind: 'list',
      title: 'channel',
      help: 'Name or number of the column or signal; two are subtracted.',
      of: { kind: 'text', maxLength: 200 },
      orOne: true,
      minItems: 1,
      maxItems: 2,
      optional: true,
      example: 'rail a',
    },
    format: {
      kind: 'choice',
      title: 'format',
      help: 'Detected from the file when left out; raw samples must be named, or their bits given.',
      choices: Object.fromEntries(CAPTURE_FORMAT_IDS.map((id) => [id, CAPTURE_FORMATS[id].title])) as Record<
        CaptureFormat,
        string
      >,
      optional: true,
    },
    invert: { kind: 'switch', title: 'invert', default: false },
    rate: {
      kind: 'quantity',
      dimension: 'frequency',
      title: 'sampling rate',
      help: 'Where the file does not tell it, or to say how finely a change-only file was sampled.',
      min: 1,
      max: 1e12,
      optional: true,
      example: '4 MHz',
    },
    bits: {
      kind: 'number',
      integer: true,
      min: 1,
      max: 16,
      title: 'bits of a raw sample',
      help: '1, 2, 4, 8 or 16.',
      optional: true,
    },
    signed: { kind: 'switch', title: 'raw samples are signed', default: false },
    step: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'volts of one count of a raw sample',
      min: 1e-9,
      max: 1000,
      optional: true,
      example: '0.2 V',
    },
    zeroCount: {
      kind: 'number',
      integer: true,
      min: 0,
      max: 65_535,
      title: 'count of a raw sample that stands for 0 V',
      help: '128 for unsigned bytes; 0 when left out.',
      optional: true,
    },
    probeFactor: {
      kind: 'number',
      min: 1e-3,
      max: 1e5,
      title: 'probe factor',
      help: 'The probe divides by this; 1 when left out.',
      optional: true,
    },
    current: {
      kind: 'record',
      title: 'current',
      help: 'The channel of a CSV file that holds the current on a service track.',
      optional: true,
      keys: {
        channel: {
          kind: 'text',
          title: 'channel',
          help: 'Name or number of the column.',
          maxLength: 200,
          example: 'current',
        },
        ampPerVolt: {
          kind: 'number',
          min: 1e-6,
          max: 1e6,
          title: 'amperes of one volt',
          help: 'Of the current probe or shunt; left out where the column holds amperes.',
          optional: true,
          example: 1,
        },
      },
    },
    skip: {
      kind: 'quantity',
      dimension: 'time',
      min: 0,
      max: 3600e6,
      title: 'time skipped at the start',
      optional: true,
      example: '2 ms',
    },
    from: {
      kind: 'quantity',
      dimension: 'time',
      min: 0,
      max: 1e14,
      title: 'from',
      optional: true,
      example: '0.5 s',
    },
    to: {
      kind: 'quantity',
      dimension: 'time',
      min: 0,
      max: 1e14,
      title: 'to',
      optional: true,
      example: '2 s',
    },
    probe: {
      kind: 'choice',
      title: 'probe',
      help: 'Where the probe was: at the rails, or on the logic pin of the controller.',
      choices: { rails: 'at the rails', logic: 'on the logic pin' },
      default: 'rails',
    },
    build: {
      kind: 'text',
      title: 'firmware build',
      help: 'Firmware build that it was taken with: the SHA-256 of the firmware file, or its first digits. A capture of another build is no evidence of this one.',
      pattern: '[0-9a-fA-F]{8,64}',
      patternSays: '8 to 64 hexadecimal digits of a SHA-256',
      optional: true,
      example: '71093438e87f',
    },
  },
})

export type CaptureDesign = Value<typeof captureShape>

/** Raw samples are named, or meant where bits are given: nothing else has any. */
function formatOfDesign({ format, bits }: CaptureDesign): CaptureFormat | undefined {
  return format ?? (bits === undefined ? undefined : 'raw')
}

/** What is wrong with a capture's settings beside their single values: the key and a message. */
export function checkCapture(capture: CaptureDesign): { key: string; message: string }[] {
  const problems: { key: string; message: string }[] = []
  const find = (key: string, message: string) => void problems.push({ key, message })
  const { bits = 1, rate, channel = [], current, from, to } = capture
  if (from !== undefined && to !== undefined && from >= to) find('from', 'from is not before to')
  if (current !== undefined && (formatOfDesign(capture) ?? 'csv') !== 'csv')
    find('current', 'a channel of the current is read from CSV files only')
  if (formatOfDesign(capture) !== 'raw') {
    for (const key of ['bits', 'step', 'zeroCount'] as const)
      if (capture[key] !== undefined) find(key, `${key} is for raw samples; expected format: raw`)
    return problems
  }
  if (!RAW_BITS.includes(bits)) find('bits', `${bits} bits; expected one of ${RAW_BITS.join(', ')}`)
  if (rate === undefined)
    find(
      capture.bits === undefined ? 'format' : 'bits',
      'raw samples carry no times; expected rate too, such as 4 MHz',
    )
  const [wanted] = channel
  if (channel.length > 1)
    find('channel', 'two channels of raw samples cannot be subtracted; expected one bit')
  else if (wanted !== undefined && !(/^\d{1,2}$/.test(wanted) && Number(wanted) < bits))
    find('channel', `channel "${wanted}" of raw samples; expected a bit from 0 to ${bits - 1}`)
  return problems
}

/** How a capture that the design lists is read. */
export function captureOptions(capture: CaptureDesign): CaptureOptions {
  const { channel, invert, rate, bits, signed, step, zeroCount, probeFactor, current, skip, from, to } =
    capture
  return {
    format: formatOfDesign(capture),
    channel,
    invert,
    rateHz: rate,
    bits,
    signed,
    stepVolt: step,
    zeroCount,
    probeFactor,
    current,
    skipUs: skip,
    fromUs: from,
    toUs: to,
  }
}
