/**
 * Bytes → packets. Never throws: whatever no standard defines becomes a finding. A packet is read by its first
 * byte (S-9.2.1:2012 A), then by its instruction (C, D).
 */

import { formatByte } from '../units/index.js'
import { crc8, errorByte } from './bits.js'
import { daysInMonth } from './calendar.js'
import { EXPANSION, LONGEST } from './encode.js'
import {
  type CvAccess,
  FUNCTION_GROUPS,
  type FunctionGroup,
  type Packet,
  type PacketOptions,
  type Target,
} from './packet.js'
import { describe } from './words.js'

/** `undefined`, `reserved`: bytes without a meaning; `note`: worth knowing, no fault. */
export type PacketFindingKind = 'undefined' | 'reserved' | 'error-byte' | 'length' | 'note'

export interface PacketFinding {
  kind: PacketFindingKind
  says: string
}

export interface Decoded {
  /** Absent when the bytes have no meaning. */
  packet?: Packet
  /** The meaning in words. */
  says: string
  findings: PacketFinding[]
}

/** The standards' limit, error byte included (S-9.2.1:2012); longer ones are named in {@link LONG_KINDS}. */
const MOST_BYTES = 6
/** Kinds that may have more than six bytes, all from memory or a draft. */
const LONG_KINDS: ReadonlySet<string> = new Set<Packet['kind']>([
  'cv-extended',
  'speed-and-functions',
  'advanced-extended',
  'automatic-logon',
])

/** Read a packet with its error byte. Never throws; bounded time for any bytes. */
export function decodePacket(bytes: ArrayLike<number>, options: PacketOptions = {}): Decoded {
  const findings: PacketFinding[] = []
  const find = (kind: PacketFindingKind, says: string) => {
    findings.push({ kind, says })
  }
  if (bytes.length < 3) find('length', `${count(bytes.length)}; a packet has at least 3`)
  if (bytes.length > LONGEST) find('length', `${bytes.length} bytes; no packet has more than ${LONGEST}`)
  if (bytes.length < 2 || bytes.length > LONGEST) return { says: 'no packet', findings }
  const check = errorByte(bytes) & 0xff
  if (check !== 0) {
    const last = bytes[bytes.length - 1]! & 0xff
    find('error-byte', `the error byte is ${formatByte(last)}; ${formatByte(last ^ check)} belongs there`)
  }
  const body = Array.from({ length: bytes.length - 1 }, (_, i) => bytes[i]! & 0xff)
  const packet = read(body, options, find)
  if (bytes.length > MOST_BYTES) {
    if (packet === undefined || !LONG_KINDS.has(packet.kind)) {
      find(
        'length',
        `${bytes.length} bytes; packets to first byte ${formatByte(body[0]!)} have at most ${MOST_BYTES}`,
      )
    } else if (body[0]! < 253) {
      const says = `${bytes.length} bytes; S-9.2.1:2012 has at most ${MOST_BYTES}, this instruction of later texts is longer`
      find('note', says)
    }
  }
  if (packet === undefined) {
    if (!findings.some((f) => f.kind === 'undefined' || f.kind === 'reserved' || f.kind === 'length')) {
      find('undefined', 'no standard defines these bytes')
    }
    const what = findings.find((f) => f.kind !== 'error-byte' && f.kind !== 'note')
    return { says: what?.says ?? 'undefined', findings }
  }
  return { packet, says: describe(packet, options), findings }
}

function count(bytes: number): string {
  return bytes === 1 ? '1 byte' : `${bytes} bytes`
}

/** First bytes 253 and 254: framed, checked and named; their content is not read. */
function readPartition(b: number[], find: Find): Packet | undefined {
  const crc = b.length + 1 > MOST_BYTES
  const source =
    'S-9.2.1:2012 reserves this first byte; its use is from the S-9.2.1.1 draft of 2021 and RCN-218'
  find('note', `${source}, and its content is not read here`)
  if (b.length < 2) return undefined
  if (crc) {
    const found = b[b.length - 1]!
    const wanted = crc8(b, b.length - 1)
    if (found !== wanted) {
      find(
        'error-byte',
        `the CRC-8 is ${formatByte(found)}; ${formatByte(wanted)} belongs there (polynomial from memory)`,
      )
    } else find('note', `the CRC-8 ${formatByte(found)} fits (polynomial from memory)`)
  }
  const kind = b[0] === 253 ? 'advanced-extended' : 'automatic-logon'
  return { kind, data: b.slice(1, crc ? -1 : undefined), crc }
}

type Find = (kind: PacketFindingKind, says: string) => void

function read(b: number[], options: PacketOptions, find: Find): Packet | undefined {
  const first = b[0]!
  if (options.mode === 'service' && first >= 112 && first < 128) return readService(b, find)
  if (first >= 112 && first < 128) {
    const other = readService(b, () => {})
    if (other) find('note', `on a service-mode track these bytes mean: ${describe(other, options)}`)
  }
  if (first < 128)
    return readMultiFunction(
      b,
      1,
      first === 0 ? { kind: 'all' } : { kind: 'short', address: first },
      options,
      find,
    )
  if (first < 192) return readAccessory(b, find)
  if (first < 232) {
    if (b.length < 2) return undefined
    return readMultiFunction(b, 2, { kind: 'long', address: ((first & 0x3f) << 8) | b[1]! }, options, find)
  }
  if (first === 255) {
    if (b.length === 2 && b[1] === 0) return { kind: 'idle' }
    find('undefined', 'first byte FF is for idle alone, FF 00')
    return undefined
  }
  if (first >= 253) return readPartition(b, find)
  find('reserved', `first byte ${formatByte(first)} is reserved`)
  return undefined
}

function readMultiFunction(
  b: number[],
  at: number,
  target: Target,
  options: PacketOptions,
  find: Find,
): Packet | undefined {
  const code = b[at]
  if (code === undefined) return undefined
  const rest = b.slice(at + 1)
  const n = rest.length
  const only = (length: number, packet: Packet): Packet | undefined => {
    if (n === length) return packet
    find('undefined', `instruction ${formatByte(code)} takes ${length} more bytes; found ${n}`)
    return undefined
  }
  const x = rest[0] ?? 0
  switch (code >> 5) {
    case 0:
      return readControl(code, rest, target, only, find)
    case 1:
      return readAdvanced(code, rest, target, only, find)
    case 2:
    case 3:
      return only(0, readSpeed(code, target, options, find))
    case 4:
      return only(0, { kind: 'functions', target, group: 0, on: functionsOn(0, code & 0x1f) })
    case 5: {
      const group = code & 0x10 ? 5 : 9
      return only(0, { kind: 'functions', target, group, on: functionsOn(group, code & 0x0f) })
    }
    case 6:
      return readExpansion(code, rest, target, only, find)
    default:
  }
  // 111: CV access.
  if (code === 0xf9) {
    if (n === 0 && target.kind === 'short' && target.address <= 111)
      return { kind: 'service-address-query', address: target.address }
    if (n === 1 && target.kind === 'all' && x < 128) return { kind: 'service-lock', address: x }
    find('reserved', 'instruction F9 is reserved for the service-mode lock (S-9.2.3:2012 App. B)')
    return undefined
  }
  if (code & 0x10) {
    const short = ({ 242: 'CV23', 243: 'CV24', 244: 'CV17+18', 245: 'CV31+32' } as const)[code]
    if (short === undefined) {
      find('reserved', `short form of CV access ${formatByte(code)} is reserved`)
      return undefined
    }
    if (code >= 0xf4) find('note', 'this short form is from memory (RCN-214)')
    return only(code >= 0xf4 ? 2 : 1, { kind: 'cv-short', target, which: short, values: rest })
  }
  if (n === 2) {
    const access = readCv(code, rest, find)
    return access && { kind: 'cv', target, access }
  }
  if (n >= 3 && n <= 7) {
    const op = (['', 'read', 'bit', 'write'] as const)[(code >> 2) & 3]
    if (op && !(op !== 'read' && n === 3)) {
      find('note', 'extended CV access is from memory (RCN-214)')
      const cv = ((rest[0]! << 16) | (rest[1]! << 8) | rest[2]!) + 1
      return { kind: 'cv-extended', target, op, sequence: code & 3, cv, data: rest.slice(3) }
    }
  }
  find('undefined', `CV access ${formatByte(code)} with ${n} more bytes`)
  return undefined
}

type Only = (length: number, packet: Packet) => Packet | undefined

function readControl(
  code: number,
  rest: number[],
  target: Target,
  only: Only,
  find: Find,
): Packet | undefined {
  const flag = code & 1
  if (code === 0) return only(0, { kind: 'reset', target })
  if (code === 1) return only(0, { kind: 'hard-reset', target })
  if (code === 0x12 || code === 0x13) {
    const consist = rest[0] ?? 0
    if (consist > 127) {
      find('undefined', `consist address byte ${formatByte(consist)} has bit 7 set`)
      return undefined
    }
    return only(1, { kind: 'consist', target, consist, reversed: code === 0x13 })
  }
  switch (code >> 1) {
    case 1:
      find('note', 'factory test: never in normal operation')
      return { kind: 'factory-test', target, flag, data: rest }
    case 3: {
      const x = rest[0] ?? 0
      if (x & 8) {
        find('undefined', `decoder flags ${formatByte(x)} have bit 3 set`)
        return undefined
      }
      if (![0, 4, 5, 8, 9, 15].includes(x >> 4)) find('reserved', `decoder flag code ${x >> 4} is reserved`)
      return only(1, { kind: 'flags', target, flag, code: x >> 4, sub: x & 7 })
    }
    case 5:
      return only(0, { kind: 'extended-addressing', target, on: flag === 1 })
    case 7:
      return only(0, { kind: 'acknowledgement-request', target, on: flag === 1 })
    default:
      find('reserved', `decoder and consist control ${formatByte(code)} is reserved`)
      return undefined
  }
}

function speed126(x: number): { step: number; forward: boolean; emergency: boolean } {
  const code = x & 0x7f
  return { step: code < 2 ? 0 : code - 1, forward: x >= 128, emergency: code === 1 }
}

function readAdvanced(
  code: number,
  rest: number[],
  target: Target,
  only: Only,
  find: Find,
): Packet | undefined {
  const x = rest[0] ?? 0
  switch (code) {
    case 0x3f:
      return only(1, { kind: 'speed-126', target, ...speed126(x) })
    case 0x3e:
      if (x & 0x40) find('note', `restricted speed byte ${formatByte(x)} has the unused bit 6 set`)
      find('note', 'RCN-212 gives this code to special operating modes instead (from memory)')
      return only(1, { kind: 'restricted-speed', target, enabled: x < 128, code: x & 0x3f })
    case 0x3d:
      if (x !== 1) find('reserved', `analog function ${x} is reserved; 1 is volume`)
      return only(2, { kind: 'analog-function', target, output: x, value: rest[1] ?? 0 })
    case 0x3c:
      if (rest.length < 2 || rest.length > 5) {
        find('undefined', `speed with functions takes 2 to 5 more bytes; found ${rest.length}`)
        return undefined
      }
      find('note', 'speed with functions is from memory (RCN-212)')
      return { kind: 'speed-and-functions', target, ...speed126(x), functions: rest.slice(1) }
    default:
      find('reserved', `advanced operation ${formatByte(code)} is reserved`)
      return undefined
  }
}

function readSpeed(code: number, target: Target, options: PacketOptions, find: Find): Packet {
  const forward = (code & 0x20) !== 0
  if (target.kind === 'all') {
    if (code & 0x0e) {
      find('undefined', `a speed ${formatByte(code)} to all decoders; only stopping is defined`)
    }
    return {
      kind: 'broadcast-stop',
      forward,
      directionIgnored: (code & 0x10) !== 0,
      immediate: (code & 1) !== 0,
    }
  }
  const low = code & 0x0f
  if (options.steps === 14) {
    const step = low < 2 ? 0 : low - 1
    const headlight = (code & 0x10) !== 0
    return {
      kind: 'speed',
      target,
      of: 14,
      step,
      forward,
      emergency: low === 1,
      directionIgnored: false,
      headlight,
    }
  }
  const sssc = (low << 1) | ((code >> 4) & 1)
  return {
    kind: 'speed',
    target,
    of: 28,
    step: sssc < 4 ? 0 : sssc - 3,
    forward,
    emergency: sssc === 2 || sssc === 3,
    directionIgnored: sssc === 1 || sssc === 3,
    headlight: false,
  }
}

function functionsOn(group: number, bits: number): number[] {
  const on: number[] = []
  if (group === 0) {
    if (bits & 0x10) on.push(0)
    for (let i = 0; i < 4; i++) if (bits & (1 << i)) on.push(i + 1)
    return on
  }
  for (let i = 0; i < 8; i++) if (bits & (1 << i)) on.push(group + i)
  return on
}

const GROUP_OF = new Map(
  Object.entries(EXPANSION).map(([group, code]) => [code, Number(group) as FunctionGroup]),
)

function readExpansion(
  code: number,
  rest: number[],
  target: Target,
  only: Only,
  find: Find,
): Packet | undefined {
  const [x = 0, y = 0, z = 0] = rest
  const n = rest.length
  const group = GROUP_OF.get(code)
  if (group !== undefined && FUNCTION_GROUPS.includes(group)) {
    if (group >= 29) find('note', 'functions from F29 on are from memory (RCN-212)')
    return only(1, { kind: 'functions', target, group, on: functionsOn(group, x) })
  }
  if (code === 0xc0) {
    const state = (y << 7) | (x & 0x7f)
    if (state > 0 && state < 128) find('note', 'states 1 to 127 should use the short form (S-9.2.1:2012)')
    return only(2, { kind: 'binary-state', target, state, on: x >= 128, form: 'long' })
  }
  if (code === 0xdd)
    return only(1, { kind: 'binary-state', target, state: x & 0x7f, on: x >= 128, form: 'short' })
  if (code >= 0xc1 && code <= 0xc3) {
    if (target.kind !== 'all') {
      find('reserved', `instruction ${formatByte(code)} is for all decoders (RCN-211, from memory)`)
      return undefined
    }
    find('note', 'this instruction is from memory (RCN-211)')
    if (code === 0xc2) return only(2, { kind: 'system-time', milliseconds: (x << 8) | y })
    if (code === 0xc3)
      return rest.length >= 1 && rest.length <= 3 ? { kind: 'station-capabilities', data: rest } : undefined
    if (x >> 6 === 0) {
      const hour = y & 31
      if (x > 59 || hour > 23 || z & 0x40) {
        const unused = z & 0x40 ? ', with the unused bit 6 of its last byte set' : ''
        find(
          'undefined',
          `the layout time says ${hour}:${String(x).padStart(2, '0')}${unused}; expected 0:00 to 23:59`,
        )
        return undefined
      }
      return only(3, {
        kind: 'layout-time',
        minute: x,
        weekday: y >> 5,
        hour,
        update: z >= 128,
        factor: z & 63,
      })
    }
    if (x >> 5 === 2) {
      const day = x & 31
      const month = y >> 4
      const year = ((y & 15) << 8) | z
      if (n === 3 && (day < 1 || month < 1 || month > 12 || day > daysInMonth(year, month))) {
        find('undefined', `the layout date says day ${day} of month ${month} in ${year}, which there is not`)
        return undefined
      }
      return only(3, { kind: 'layout-date', day, month, year })
    }
  }
  find('reserved', `feature expansion ${formatByte(code)} is reserved`)
  return undefined
}

/** Bytes of the long form: operation and CV, then a value or a bit. */
function readCv(code: number, [low = 0, data = 0]: number[], find: Find): CvAccess | undefined {
  const cv = (((code & 3) << 8) | low) + 1
  switch ((code >> 2) & 3) {
    case 1:
      return { op: 'verify', cv, value: data }
    case 3:
      return { op: 'write', cv, value: data }
    case 2:
      if (data >> 5 !== 7) {
        find('undefined', `bit data ${formatByte(data)} does not begin with 111`)
        return undefined
      }
      return { op: data & 0x10 ? 'write-bit' : 'verify-bit', cv, bit: data & 7, value: (data >> 3) & 1 }
    default:
      find('reserved', 'CV access 00 is reserved')
      return undefined
  }
}

function readAccessory(b: number[], find: Find): Packet | undefined {
  const [first = 0, second] = b
  if (second === undefined) return undefined
  const wire = (first & 0x3f) | (((~second >> 4) & 7) << 6)
  const board = wire === 511 ? ('all' as const) : wire
  const pair = (second >> 1) & 3
  if (second & 0x80) {
    if (b.length === 2) {
      return { kind: 'accessory', board, pair, output: second & 1, on: (second & 8) !== 0 }
    }
    if (b.length === 5 && b[2]! >> 4 === 14 && board !== 'all') {
      const low = second & 0x0f
      if (low > 0 && low < 8) {
        find(
          'undefined',
          `output field ${low.toString(2).padStart(4, '0')} names neither the whole decoder nor an output`,
        )
        return undefined
      }
      const access = readCv(b[2]!, b.slice(3), find)
      return access && { kind: 'accessory-cv', board, output: low === 0 ? 'whole' : low & 7, access }
    }
    find('undefined', `a basic accessory packet of ${b.length + 1} bytes`)
    return undefined
  }
  if ((second & 0x0c) === 0x0c && b.length === 4 && board !== 'all') {
    find('note', 'the old form of CV access is discouraged (S-9.2.1:2012 App. A)')
    return { kind: 'accessory-cv-legacy', board, cv: (((second & 3) << 8) | b[2]!) + 1, value: b[3]! }
  }
  if (second & 8) {
    const extended = (second & 1) !== 0
    // Board 511 is for all basic decoders; of the extended ones only its last address is.
    if (b.length === 2 && (board !== 'all' || (extended && pair < 3))) {
      find('note', 'accessory NOP is from memory (RCN-213)')
      return { kind: 'accessory-poll', board: wire, pair, extended }
    }
    find('undefined', `accessory bytes ${formatByte(first)} ${formatByte(second)} with ${b.length - 2} more`)
    return undefined
  }
  if ((second & 1) === 0) {
    find('undefined', `second accessory byte ${formatByte(second)} has bits 7, 3 and 0 clear`)
    return undefined
  }
  const address = (wire << 2) | pair
  if (b.length === 3) {
    const aspect = b[2]!
    if (aspect > 31) find('note', 'S-9.2.1:2012 has aspects to 31; NEM 672:2015 uses all eight bits')
    return { kind: 'extended-accessory', address: address === 2047 ? 'all' : address, aspect }
  }
  if (b.length === 5 && b[2]! >> 4 === 14 && address !== 2047) {
    const access = readCv(b[2]!, b.slice(3), find)
    return access && { kind: 'extended-accessory-cv', address, access }
  }
  find('undefined', `an extended accessory packet of ${b.length + 1} bytes`)
  return undefined
}

function readService(b: number[], find: Find): Packet | undefined {
  const [code = 0, ...rest] = b
  if (b.length === 2) {
    const op = code & 8 ? ('write' as const) : ('verify' as const)
    return { kind: 'service-register', op, register: (code & 7) + 1, value: rest[0]! }
  }
  if (b.length === 3) {
    const access = readCv(code, rest, find)
    return access && { kind: 'service-direct', access }
  }
  find('undefined', `a service-mode packet of ${b.length + 1} bytes`)
  return undefined
}
