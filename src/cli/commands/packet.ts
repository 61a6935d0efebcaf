/** `halfbit packet explain HEX…` and `halfbit packet make KIND …`. */
import {
  decodePacket,
  encodePacket,
  errorByte,
  KINDS,
  type PacketOptions,
  packetBits,
  packetDurationUs,
  packetFromFields,
} from '../../packet/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { parseHex } from '../hex.js'

const fieldOptions: Command['options'] = {}
for (const { fields } of KINDS) {
  for (const { name, says, flag } of fields) {
    fieldOptions[name] ??= { type: flag ? 'boolean' : 'string', help: `make: ${says}` }
  }
}
Object.assign(fieldOptions, {
  address: {
    type: 'string',
    help: 'make: decoder address (0: all), or wire address of an extended accessory',
  },
  value: { type: 'string', help: 'make: 0 to 255, or with --bit 0 or 1' },
  output: { type: 'string', help: 'make: output of an accessory' },
})

interface ReadOptions extends Required<PacketOptions> {
  preamble: number
}

const kinds = KINDS.map(({ kind, says, fields }) => {
  const names = fields.map((f) => `--${f.name}`).join(' ')
  return `  ${kind.padEnd(13)} ${says}${names ? ` (${names})` : ''}`
})

export const command: Command = {
  usage: ['packet explain HEX… [--service] [--offset N] [--steps N]', 'packet make KIND [fields]'],
  about: `Bytes to words and words to bytes. HEX is one packet: 37 74 43, 377443 or 0x37,0x74,0x43.

Kinds to make, with their fields:
${kinds.join('\n')}`,
  options: {
    service: { type: 'boolean', help: 'first bytes 112 to 127 are service-mode packets' },
    offset: { type: 'string', value: 'N', help: 'accessory numbering offset, 0 to 4 (default 4)' },
    steps: { type: 'string', value: 'N', help: 'read baseline speed with 14 or 28 steps (default 28)' },
    preamble: { type: 'string', value: 'N', help: 'preamble bits (default 14, in service mode 20)' },
    'no-error-byte': { type: 'boolean', help: 'explain: the error byte is left out; add it' },
    ...fieldOptions,
  },
  takes: { min: 2, max: 300, what: 'explain and bytes, or make and a kind' },
  examples: ['halfbit packet explain 37 74 43', 'halfbit packet make speed --address 3 --step 6 --of 28'],
  async run(args, io) {
    const [act, ...rest] = args.positionals
    if (act === 'explain') return explain(rest, args, io)
    if (act === 'make') return make(rest, args, io)
    throw new InputError(`packet takes explain or make; found ${act}`)
  },
}

function readOptions(args: Arguments, service: boolean): ReadOptions {
  const whole = (name: string, otherwise: number, min: number, max: number): number => {
    const given = args.text(name)
    if (given === undefined) return otherwise
    const value = /^\d{1,4}$/.test(given) ? Number(given) : Number.NaN
    if (!(value >= min && value <= max))
      throw new InputError(`--${name} is ${given}; expected ${min} to ${max}`)
    return value
  }
  const steps = whole('steps', 28, 14, 28)
  if (steps !== 14 && steps !== 28) throw new InputError(`--steps is ${steps}; expected 14 or 28`)
  return {
    mode: service ? 'service' : 'operations',
    steps,
    accessoryOffset: whole('offset', 4, 0, 4),
    preamble: whole('preamble', service ? 20 : 14, 0, 200),
  }
}

function explain(words: string[], args: Arguments, io: Io): ExitStatus {
  const bytes = parseHex(words.join(' '))
  if (args.on('no-error-byte')) bytes.push(errorByte(bytes))
  return show(bytes, readOptions(args, args.on('service')), args, io)
}

function make(words: string[], args: Arguments, io: Io): ExitStatus {
  if (words.length !== 1) throw new InputError(`make takes one kind; found ${words.join(' ') || 'none'}`)
  const fields: Record<string, string | boolean | undefined> = {}
  for (const name of Object.keys(fieldOptions)) fields[name] = args.text(name) ?? args.on(name)
  try {
    const packet = packetFromFields(words[0]!, fields)
    const service = packet.kind.startsWith('service-')
    return show([...encodePacket(packet)], readOptions(args, service), args, io)
  } catch (error) {
    if (error instanceof RangeError) throw new InputError(`packet make: ${error.message}`)
    throw error
  }
}

function show(bytes: number[], options: ReadOptions, args: Arguments, io: Io): ExitStatus {
  const { packet, says, findings } = decodePacket(bytes, options)
  const hex = bytes.map(hexByte).join(' ')
  const bits = packetBits(bytes, options.preamble)
  const durationUs = packetDurationUs(bytes, options.preamble)
  const status = findings.some((f) => f.kind !== 'note') ? 1 : 0
  if (args.on('json')) {
    const { preamble } = options
    const object = { halfbit: 1, hex, says, packet: packet ?? null, findings, preamble, bits, durationUs }
    io.out(JSON.stringify(object, null, 2))
    return status
  }
  io.out(`${hex}  ${says}`)
  bytes.forEach((b, i) => {
    const role = i === bytes.length - 1 ? 'error byte' : `byte ${i + 1}`
    io.out(`  ${hexByte(b)}  ${b.toString(2).padStart(8, '0')}  ${role}`)
  })
  io.out(`bits      ${bits}`)
  io.out(`duration  ${durationUs} us with ${options.preamble} preamble bits, at 58 and 100 us a half`)
  for (const f of findings) io.out(`${f.kind === 'note' ? 'note ' : 'FAULT'}     ${f.says}`)
  return status
}

function hexByte(byte: number): string {
  return byte.toString(16).padStart(2, '0').toUpperCase()
}
