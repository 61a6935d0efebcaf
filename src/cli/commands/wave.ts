import { once } from 'node:events'
import { CsvWriter, VcdWriter } from '../../capture/index.js'
import { errorByte } from '../../packet/index.js'
import { ENCODER_CLOCK, encodeBlocks, type SignalTiming, waveSvg } from '../../signal/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, Io } from '../command.js'
import { OutputFile } from '../files/index.js'
import { parseHex } from '../hex.js'
import { quantityOption } from '../quantity-option.js'

const FORMS = ['vcd', 'csv', 'svg'] as const
type Form = (typeof FORMS)[number]
const MOST_PACKETS = 1_000_000
const MOST_DRAWN = 40
const MOST_IN_JSON = 20_000

/** `halfbit wave PACKET…`: the signal that packets make. */
export const command: Command = {
  usage: ['wave PACKET… [--out FILE.vcd|.csv|.svg] [--repeat N] [timing]'],
  about: `Turns packets into a signal, one argument per packet: hexadecimal bytes including the error byte, or idle, or reset.
Without --out the signal goes to stdout in the form that --as names.`,
  options: {
    out: { type: 'string', value: 'FILE', help: 'file to write, .vcd, .csv or .svg' },
    as: {
      type: 'string',
      value: 'FORM',
      choices: ['vcd', 'csv', 'svg'],
      help: 'vcd, csv or svg on stdout (vcd)',
    },
    repeat: { type: 'string', value: 'N', help: 'send the packets N times (1)' },
    preamble: { type: 'string', value: 'N', help: 'ones before each packet (16)' },
    'one-half': { type: 'string', value: 'TIME', help: 'half of a one (58 us)' },
    'zero-half': { type: 'string', value: 'TIME', help: 'half of a zero (100 us)' },
    cutout: { type: 'boolean', help: 'a bidirectional cut-out from 29 to 470 us after each packet' },
    'add-error-byte': { type: 'boolean', help: 'the packets have no error byte; add it' },
    service: { type: 'boolean', help: 'drawing: first bytes 112 to 127 are service-mode packets' },
  },
  takes: { min: 1, max: 10_000, what: 'one or more packets' },
  examples: ['halfbit wave "37 74 43" idle --out signal.vcd', 'halfbit wave "03 3F 80 BC" --out packet.svg'],
  async run(args, io) {
    const packets = args.positionals.map((text) => bytesOf(text, args.on('add-error-byte')))
    const repeat = whole(args, 'repeat', 1, 1, MOST_PACKETS)
    const timing: SignalTiming = {
      oneHalfUs: quantityOption(args, 'one-half', 'time', { min: 1, max: 1e5, says: '1 us to 100 ms' }) ?? 58,
      zeroHalfUs:
        quantityOption(args, 'zero-half', 'time', { min: 1, max: 1e5, says: '1 us to 100 ms' }) ?? 100,
      preamble: whole(args, 'preamble', 16, 0, 1000),
      ...(args.on('cutout') ? { cutout: { startUs: 29, endUs: 470 } } : {}),
    }
    const out = args.text('out') === '-' ? undefined : args.text('out')
    const form = formOf(out, args.text('as'))
    const count = packets.length * repeat
    const most = form === 'svg' ? MOST_DRAWN : MOST_PACKETS
    if (count > most) throw new InputError(`${count} packets; expected at most ${most}`)
    if (args.on('json') && out === undefined && count > MOST_IN_JSON)
      throw new InputError(`${count} packets in one JSON object; expected --out, or at most ${MOST_IN_JSON}`)
    const parts =
      form === 'svg' ? drawing(packets, repeat, timing, args) : texts(form, packets, repeat, timing)
    if (args.on('json')) {
      const bytes = packets.map((p) => Buffer.from(p).toString('hex'))
      const object = { halfbit: 1, form, file: out ?? null, packets: bytes, repeat, timing }
      if (out !== undefined && !(await toFile(out, parts, io))) return 3
      io.out(JSON.stringify(out === undefined ? { ...object, text: [...parts].join('') } : object, null, 2))
    } else if (out === undefined) {
      for (const text of parts) {
        if (io.signal.aborted) return 3
        io.out(text.replace(/\n$/, ''))
        // A slow reader must not make us hold what it has not taken yet.
        if (process.stdout.writableNeedDrain) await once(process.stdout, 'drain')
      }
    } else {
      if (!(await toFile(out, parts, io))) return 3
      io.note(`wrote ${out}: ${count} packets`)
    }
    return 0
  },
}

function* repeated<T>(list: readonly T[], times: number): Generator<T> {
  for (let i = 0; i < times; i++) yield* list
}

function* drawing(packets: number[][], repeat: number, timing: SignalTiming, args: Arguments) {
  const mode = args.on('service') ? 'service' : 'operations'
  yield waveSvg([...repeated(packets, repeat)], timing, { mode })
}

function* texts(form: 'vcd' | 'csv', packets: number[][], repeat: number, timing: SignalTiming) {
  const Writer = form === 'vcd' ? VcdWriter : CsvWriter
  const writer = new Writer(ENCODER_CLOCK, { command: 'wave' })
  for (const block of encodeBlocks(repeated(packets, repeat), timing)) yield writer.write(block)
}

/** @returns whether the file was written; not when it was interrupted. */
async function toFile(path: string, parts: Iterable<string>, io: Io): Promise<boolean> {
  const file = new OutputFile(path)
  try {
    for (const text of parts) {
      file.write(text)
      // Lets Ctrl-C through.
      await new Promise((resolve) => setImmediate(resolve))
      if (io.signal.aborted) return false
    }
    file.commit()
    return true
  } finally {
    file.discard()
  }
}

function bytesOf(text: string, addErrorByte: boolean): number[] {
  if (text === 'idle') return [0xff, 0, 0xff]
  if (text === 'reset') return [0, 0, 0]
  const bytes = parseHex(text)
  if (bytes.length === 0)
    throw new InputError('an empty packet; expected bytes in hexadecimal, idle or reset')
  return addErrorByte ? [...bytes, errorByte(bytes)] : bytes
}

function whole(args: Arguments, name: string, otherwise: number, min: number, max: number): number {
  const text = args.text(name)
  if (text === undefined) return otherwise
  const value = /^\d{1,7}$/.test(text) ? Number(text) : Number.NaN
  if (!(value >= min && value <= max))
    throw new InputError(`--${name} ${text}; expected a whole number from ${min} to ${max}`)
  return value
}

function formOf(out: string | undefined, as: string | undefined): Form {
  const wanted = (out === undefined ? (as ?? 'vcd') : out.slice(out.lastIndexOf('.') + 1)).toLowerCase()
  const form = FORMS.find((f) => f === wanted)
  if (form) return form
  throw new InputError(
    out === undefined
      ? `--as ${as}; expected vcd, csv or svg`
      : `--out ${out}; expected a name that ends in .vcd, .csv or .svg`,
  )
}
