/** Captures named in the design file: files, which channel of each, and which output it shows. */
import { shape, type Value } from '../shape/index.js'
import type { CaptureOptions } from './importer.js'

export const captureShape = shape({
  kind: 'record',
  title: 'capture',
  help: 'A recording of a track signal that `halfbit prove` judges.',
  keys: {
    file: {
      kind: 'text',
      title: 'file',
      help: 'VCD, CSV or raw samples, plain or gzip.',
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
    bits: { kind: 'number', integer: true, min: 1, max: 32, title: 'bits of a raw sample', optional: true },
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
      example: '5fa9e49cac86',
    },
  },
})

export type CaptureDesign = Value<typeof captureShape>

/** How a capture that the design lists is read. */
export function captureOptions({
  channel,
  invert,
  rate,
  bits,
  skip,
  from,
  to,
}: CaptureDesign): CaptureOptions {
  return {
    // Only raw samples have bits to be told.
    format: bits === undefined ? undefined : 'raw',
    channel,
    invert,
    rateHz: rate,
    bits,
    skipUs: skip,
    fromUs: from,
    toUs: to,
  }
}
