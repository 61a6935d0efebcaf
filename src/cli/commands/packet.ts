/** `halfbit packet explain HEX…`, `halfbit packet make KIND …` and `halfbit packet kinds`. */
import {
  decodePacket,
  encodePacket,
  errorByte,
  explainBytes,
  KINDS,
  type KindInfo,
  type PacketOptions,
  packetBits,
  packetDurationUs,
  packetFromBits,
  packetsFromFields,
} from '../../packet/index.js'
import type { Profile } from '../../standard/index.js'
import { formatByte, formatBytes, InputError, nearest } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { parseHex } from '../hex.js'
import { packetForm, packetProfile } from '../packet-form.js'

/** The fields of all kinds as options; one that differs from kind to kind is explained with the kinds. */
function fieldOptions(): Command['options'] {
  const options: Command['options'] = {}
  for (const { fields } of KINDS) {
    for (const { name, says, flag } of fields) {
      const help = `make: ${says}`
      const known = options[name]
      if (known === undefined) options[name] = { type: flag ? 'boolean' : 'string', help }
      else if (known.help !== help) known.help = 'make: see packet kinds'
    }
  }
  return options
}
const FIELD_OPTIONS = fieldOptions()

/** Names of the kinds in lines of at most `width` columns. */
function kindNames(width: number): string {
  const lines = ['']
  for (const { kind } of KINDS) {
    if (lines.at(-1)!.length + kind.length + 3 > width) lines.push('')
    lines[lines.length - 1] += `  ${kind}`
  }
  return lines.join('\n')
}

interface ReadOptions extends Required<PacketOptions> {
  profile: Profile | undefined
  preamble: number
}

export const command: Command = {
  usage: [
    'packet explain HEX… [--service] [--offset N] [--steps N] [--profile NAME] [--edition YEAR]',
    'packet make KIND [fields] [--profile NAME] [--edition YEAR]',
    'packet kinds [KIND]',
    'packet sequence MODE [--cv N --value N [--bit N] [--write]] [--power-on] [--c | --out FILE]',
  ],
  about: `Explains the bytes of a packet, and makes packets from words. HEX is one packet with its error byte: 37 74 43, 377443 or
0x37,0x74,0x43; or its bits with their preamble, 11111111111111 0 00110111 0 …
A sequence is everything that one service-mode operation sends, in direct, address-only, register or paged mode, or factory-reset.
The kinds to make, with their fields: halfbit packet kinds.
${kindNames(100)}`,
  options: {
    service: { type: 'boolean', help: 'first bytes 112 to 127 are service-mode packets' },
    offset: {
      type: 'string',
      value: 'N',
      help: 'wire addresses before accessory number 1, 0 to 4 (default 4)',
    },
    steps: { type: 'string', value: 'N', help: 'read baseline speed with 14 or 28 steps (default 28)' },
    preamble: { type: 'string', value: 'N', help: 'preamble bits (default 14, in service mode 20)' },
    profile: {
      type: 'string',
      value: 'NAME',
      choices: ['nmra', 'rcn'],
      help: 'say whether nmra or rcn defines it, and its source',
    },
    edition: { type: 'string', value: 'YEAR', help: 'edition of the profile' },
    bits: {
      type: 'boolean',
      help: 'explain: bits are given (long strings of 0 and 1 are read as bits anyway)',
    },
    'no-error-byte': { type: 'boolean', help: 'explain: the error byte is missing; add it' },
    'power-on': { type: 'boolean', help: 'sequence: power has just been applied' },
    c: { type: 'boolean', help: 'sequence: as C arrays' },
    out: { type: 'string', value: 'FILE', help: 'sequence: write its signal as .vcd or .csv' },
    ...FIELD_OPTIONS,
  },
  takes: {
    min: 1,
    max: 4000,
    what: 'explain and bytes, make and a kind, kinds, or sequence and a mode',
    choices: ['explain', 'make', 'kinds', 'sequence'],
  },
  examples: [
    'halfbit packet explain 37 74 43',
    'halfbit packet explain --service 7C 00 03 7F',
    'halfbit packet make speed --address 3 --step 6 --of 28 --forward',
    'halfbit packet kinds accessory',
    'halfbit packet sequence direct --cv 29 --value 6 --write --c',
  ],
  async run(args, io) {
    const [act = '', ...rest] = args.positionals
    if (act === 'explain') return explain(rest, args, io)
    if (act === 'make') return make(rest, args, io)
    if (act === 'kinds') return listKinds(rest, args, io)
    if (act === 'sequence') return (await import('../packet-sequence.js')).sequence(rest, args, io)
    throw new InputError(`packet takes explain, make, kinds or sequence; found ${act}`)
  },
}

function readOptions(args: Arguments, service: boolean, preamble?: number): ReadOptions {
  const whole = (name: string, otherwise: number, min: number, max: number): number => {
    const given = args.text(name)
    if (given === undefined) return otherwise
    const value = /^\d{1,4}$/.test(given) ? Number(given) : Number.NaN
    if (!(value >= min && value <= max)) {
      throw new InputError(`--${name} ${given}; expected a whole number from ${min} to ${max}`)
    }
    return value
  }
  const steps = whole('steps', 28, 14, 28)
  if (steps !== 14 && steps !== 28) throw new InputError(`--steps ${steps}; expected 14 or 28`)
  return {
    mode: service ? 'service' : 'operations',
    profile: packetProfile(args),
    steps,
    accessoryOffset: whole('offset', 4, 0, 4),
    preamble: whole('preamble', preamble ?? (service ? 20 : 14), 0, 200),
  }
}

/** Only zeros and ones, and more of them than the bytes of any packet have digits: a written bit stream. */
const LOOKS_LIKE_BITS = /^[01\s]+$/
const FEWEST_BITS = 28

function explain(words: string[], args: Arguments, io: Io): ExitStatus {
  const text = words.join(' ')
  const refuse = Object.keys(FIELD_OPTIONS).find((name) => args.on(name) || args.text(name) !== undefined)
  if (refuse) throw new InputError(`--${refuse} is for packet make`)
  const asBits =
    args.on('bits') || (LOOKS_LIKE_BITS.test(text) && text.replace(/\s+/g, '').length >= FEWEST_BITS)
  if (asBits && args.on('no-error-byte')) throw new InputError('--no-error-byte is for bytes, not for bits')
  const service = args.on('service')
  if (asBits) {
    const { bytes, preamble } = asInput('packet explain', () => packetFromBits(text))
    return show(bytes, readOptions(args, service, preamble), args, io)
  }
  const bytes = parseHex(text)
  if (bytes.length === 0) throw new InputError('packet explain takes bytes in hexadecimal, such as 37 74 43')
  if (args.on('no-error-byte')) bytes.push(errorByte(bytes))
  return show(bytes, readOptions(args, service), args, io)
}

function make(words: string[], args: Arguments, io: Io): ExitStatus {
  if (words.length !== 1) {
    throw new InputError(
      `make takes one kind; found ${words.join(' ') || 'none'}. halfbit packet kinds lists them`,
    )
  }
  const kind = kindNamed(words[0]!)
  const fields: Record<string, string | boolean | undefined> = {}
  for (const name of Object.keys(FIELD_OPTIONS)) fields[name] = args.text(name) ?? args.on(name)
  const options = readOptions(args, kind.about === 'service mode')
  const made = asInput('packet make', () =>
    packetsFromFields(kind.kind, fields, options).map((packet) => ({
      bytes: [...encodePacket(packet)],
      of: packet.kind === 'speed' ? packet.of : options.steps,
    })),
  )
  if (made.length === 1) return show(made[0]!.bytes, { ...options, steps: made[0]!.of }, args, io)
  if (args.on('json')) {
    const packets = made.map(({ bytes }) => objectOf(bytes, options).object)
    io.out(JSON.stringify({ halfbit: 1, packets }, null, 2))
    return 0
  }
  made.forEach(({ bytes }, i) => {
    if (i > 0) io.out('')
    show(bytes, options, args, io)
  })
  return 0
}

/** What a wrong field or bit causes is a fault of the input. */
function asInput<T>(what: string, make: () => T): T {
  try {
    return make()
  } catch (error) {
    if (error instanceof RangeError) throw new InputError(`${what}: ${asOptions(error.message)}`)
    throw error
  }
}

/** A message about fields, with the options they are on the command line. */
function asOptions(message: string): string {
  const option = (name: string) => (Object.hasOwn(FIELD_OPTIONS, name) ? `--${name}` : name)
  return message
    .replace(/^(\S+) is (.+?); /s, (_, name, value) => `${option(name)} ${value}; `)
    .replace(/^(\S+) needs ([\w-]+): /, (_, kind, name) => `${kind} needs ${option(name)}: `)
}

function kindNamed(name: string): KindInfo {
  const found = KINDS.find((k) => k.kind === name)
  if (found) return found
  const close = nearest(
    name,
    KINDS.map((k) => k.kind),
  )
  const hint = close ? `; the nearest is ${close}` : ''
  throw new InputError(`no kind of packet is called ${name}${hint}. halfbit packet kinds lists them`)
}

function listKinds(words: string[], args: Arguments, io: Io): ExitStatus {
  if (words.length > 1) throw new InputError(`kinds takes one kind or none; found ${words.join(' ')}`)
  const wanted = words[0]
  const kinds = wanted === undefined ? KINDS : [kindNamed(wanted)]
  if (args.on('json')) {
    const list = kinds.map(({ kind, says, about, fields }) => ({ kind, says, about, fields }))
    io.out(JSON.stringify({ halfbit: 1, kinds: list }, null, 2))
    return 0
  }
  const lines: string[] = []
  let about = ''
  for (const k of kinds) {
    if (k.about !== about) lines.push(`${lines.length > 0 ? '\n' : ''}${HEADINGS[k.about]}`)
    about = k.about
    lines.push(`  ${k.kind.padEnd(17)} ${k.says}`)
    if (wanted === undefined) {
      const names = k.fields.map((f) => (f.optional || f.flag ? `[--${f.name}]` : `--${f.name}`))
      if (names.length > 0) lines.push(`  ${' '.repeat(17)} ${names.join(' ')}`)
      continue
    }
    for (const f of k.fields) {
      lines.push(`    --${f.name.padEnd(12)} ${f.says}${f.optional && !f.flag ? ' (may be left out)' : ''}`)
    }
  }
  io.out(lines.join('\n'))
  return 0
}

const HEADINGS: Record<KindInfo['about'], string> = {
  all: 'To every decoder',
  locomotive: 'To multi-function decoders (locomotives)',
  accessory: 'To accessory decoders',
  station: 'About the station and the layout (from memory, see docs/method/packets.md)',
  'service mode': 'Service mode: on the programming track, in sequences only',
}

function objectOf(bytes: number[], options: ReadOptions) {
  const { packet, says, findings } = decodePacket(bytes, options)
  const parts = explainBytes(bytes, options)
  const { preamble, mode, steps, accessoryOffset, profile } = options
  const form = profile && packetForm(bytes, profile, options)
  const object = {
    hex: formatBytes(bytes),
    says,
    packet: packet ?? null,
    bytes: parts.map(({ byte, ...rest }) => ({ hex: formatByte(byte), ...rest })),
    findings,
    read: { mode, steps, accessoryOffset },
    preamble,
    bits: packetBits(bytes, preamble),
    durationUs: packetDurationUs(bytes, preamble),
    ...(form ? { form } : {}),
  }
  return { object, parts }
}

function show(bytes: number[], options: ReadOptions, args: Arguments, io: Io): ExitStatus {
  const { object, parts } = objectOf(bytes, options)
  const { hex, says, bits, durationUs, findings, form } = object
  const status = findings.some((f) => f.kind !== 'note') || form?.verdict === 'broken' ? 1 : 0
  if (args.on('json')) {
    io.out(JSON.stringify({ halfbit: 1, ...object }, null, 2))
    return status
  }
  const lines = [`${hex}  ${says}`, '']
  for (const p of parts) {
    lines.push(`  ${formatByte(p.byte)}  ${p.bits}  ${p.says}`)
    lines.push(`      ${p.pattern}`)
  }
  lines.push('', `bits      ${bits}`)
  lines.push(`duration  ${durationUs} us with ${options.preamble} preamble bits, at 58 and 100 us a half`)
  if (form) {
    lines.push(`under     ${form.profile} ${form.edition}: ${form.verdict}, ${form.says}`)
    if (form.source) lines.push(`source    ${form.source}`)
  }
  for (const f of findings) lines.push(`${f.kind === 'note' ? 'note ' : 'FAULT'}     ${f.says}`)
  io.out(lines.join('\n'))
  return status
}
