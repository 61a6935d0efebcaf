/** Packets → bytes. */
import { crc8, errorByte } from './bits.js'
import { daysInMonth } from './calendar.js'
import { type Board, type CvAccess, FUNCTION_GROUPS, type Packet, type Target } from './packet.js'

/**
 * The bytes of a packet, its error byte included.
 * @throws RangeError naming the field and its range.
 */
export function encodePacket(packet: Packet): Uint8Array {
  const bytes = body(packet)
  return Uint8Array.of(...bytes, errorByte(bytes))
}

function body(p: Packet): number[] {
  switch (p.kind) {
    case 'idle':
      return [0xff, 0]
    case 'reset':
      return [...target(p.target), 0x00]
    case 'hard-reset':
      return [...target(p.target), 0x01]
    case 'factory-test': {
      const address = target(p.target)
      // Six bytes at most, with this instruction's own and the error byte.
      const data = bytesOf('data', p.data, 0, 4 - address.length)
      return [...address, 0x02 | whole('flag', p.flag, 0, 1), ...data]
    }
    case 'flags':
      return [
        ...target(p.target),
        0x06 | whole('flag', p.flag, 0, 1),
        (whole('code', p.code, 0, 15) << 4) | whole('sub-address', p.sub, 0, 7),
      ]
    case 'extended-addressing':
      return [...target(p.target), 0x0a | bit(p.on)]
    case 'acknowledgement-request':
      return [...target(p.target), 0x0e | bit(p.on)]
    case 'broadcast-stop':
      return [0, 0x40 | (bit(p.forward) << 5) | (bit(p.directionIgnored) << 4) | bit(p.immediate)]
    case 'speed':
      return [...target(p.target), 0x40 | (bit(p.forward) << 5) | speedCode(p)]
    case 'speed-126':
      return [...target(p.target), 0x3f, speed126(p)]
    case 'restricted-speed':
      return [...target(p.target), 0x3e, (bit(!p.enabled) << 7) | whole('code', p.code, 0, 63)]
    case 'analog-function':
      return [...target(p.target), 0x3d, whole('output', p.output, 0, 255), whole('value', p.value, 0, 255)]
    case 'speed-and-functions':
      return [...target(p.target), 0x3c, speed126(p), ...bytesOf('functions', p.functions, 1, 4)]
    case 'functions':
      return [...target(p.target), ...functionBytes(p.group, p.on)]
    case 'binary-state': {
      const most = p.form === 'short' ? 127 : 32767
      const state = whole('state', p.state, 0, most)
      const low = (bit(p.on) << 7) | (state & 0x7f)
      return [...target(p.target), ...(p.form === 'short' ? [0xdd, low] : [0xc0, low, state >> 7])]
    }
    case 'consist':
      return [...target(p.target), p.reversed ? 0x13 : 0x12, whole('consist', p.consist, 0, 127)]
    case 'cv':
      return [...target(p.target), ...cvBytes(0xe0, p.access)]
    case 'cv-short':
      return [...target(p.target), ...cvShort(p.which, p.values)]
    case 'cv-extended': {
      const op = { read: 1, bit: 2, write: 3 }[p.op]
      if (op === undefined) throw new RangeError(`op is ${p.op}; expected read, write or bit`)
      const field = whole('CV', p.cv, 1, 1 << 24) - 1
      // Told apart from the long form by its length alone: without data only reading makes sense.
      const data = bytesOf('data', p.data, p.op === 'read' ? 0 : 1, 4)
      const first = 0xe0 | (op << 2) | whole('sequence', p.sequence, 0, 3)
      return [...target(p.target), first, field >> 16, (field >> 8) & 0xff, field & 0xff, ...data]
    }
    case 'layout-time':
      return [
        0,
        0xc1,
        whole('minute', p.minute, 0, 59),
        (whole('weekday', p.weekday, 0, 7) << 5) | whole('hour', p.hour, 0, 23),
        (bit(p.update) << 7) | whole('factor', p.factor, 0, 63),
      ]
    case 'layout-date': {
      const year = whole('year', p.year, 0, 4095)
      const month = whole('month', p.month, 1, 12)
      const day = whole('day', p.day, 1, 31)
      const days = daysInMonth(year, month)
      if (day > days)
        throw new RangeError(`day is ${day}; expected 1 to ${days} in month ${month} of ${year}`)
      return [0, 0xc1, 0x40 | day, (month << 4) | (year >> 8), year & 0xff]
    }
    case 'system-time': {
      const ms = whole('milliseconds', p.milliseconds, 0, 65535)
      return [0, 0xc2, ms >> 8, ms & 0xff]
    }
    case 'station-capabilities':
      return [0, 0xc3, ...bytesOf('data', p.data, 1, 3)]
    case 'accessory': {
      const low = (bit(p.on) << 3) | (whole('pair', p.pair, 0, 3) << 1) | whole('output', p.output, 0, 1)
      return boardBytes(p.board, 0x80 | low)
    }
    case 'extended-accessory': {
      const aspect = whole('aspect', p.aspect, 0, 255)
      if (p.address === 'all') return [0xbf, 0x07, aspect]
      return [...extendedBytes(p.address), aspect]
    }
    case 'accessory-poll': {
      const last = p.extended && p.pair < 3 ? 511 : 510
      const board = whole('board', p.board, 0, last)
      return boardBytes(
        board === 511 ? 'all' : board,
        0x08 | (whole('pair', p.pair, 0, 3) << 1) | bit(p.extended),
      )
    }
    case 'accessory-cv': {
      const low = p.output === 'whole' ? 0 : 0x08 | whole('output', p.output, 0, 7)
      return [...boardBytes(p.board, 0x80 | low), ...cvBytes(0xe0, p.access)]
    }
    case 'extended-accessory-cv':
      return [...extendedBytes(p.address), ...cvBytes(0xe0, p.access)]
    case 'accessory-cv-legacy': {
      const field = whole('CV', p.cv, 1, 1024) - 1
      return [...boardBytes(p.board, 0x0c | (field >> 8)), field & 0xff, whole('value', p.value, 0, 255)]
    }
    case 'advanced-extended':
    case 'automatic-logon':
      return partition(p.kind === 'advanced-extended' ? 253 : 254, p.data, p.crc)
    case 'service-direct':
      return cvBytes(0x70, p.access)
    case 'service-register': {
      const register = whole('register', p.register, 1, 8) - 1
      return [0x70 | (bit(p.op === 'write') << 3) | register, whole('value', p.value, 0, 255)]
    }
    case 'service-address-query':
      return [whole('address', p.address, 1, 111), 0xf9]
    case 'service-lock':
      return [0, 0xf9, whole('address', p.address, 0, 127)]
    default:
      throw new RangeError(`no packet of kind ${(p as { kind: unknown }).kind}`)
  }
}

/** Longer byte strings are no packets and are not looked at. */
export const LONGEST = 256

/** Packets of 253 and 254: more than six bytes carry a CRC-8 (S-9.2.1.1 draft 2021), which is from memory. */
function partition(first: number, data: readonly number[], crc: boolean): number[] {
  const bytes = [first, ...bytesOf('data', data, crc ? 4 : 1, crc ? LONGEST - 3 : 4)]
  return crc ? [...bytes, crc8(bytes)] : bytes
}

function whole(name: string, value: number, min: number, max: number): number {
  if (!Number.isInteger(value) || value < min || value > max) {
    throw new RangeError(`${name} is ${value}; expected a whole number from ${min} to ${max}`)
  }
  return value
}

function bytesOf(name: string, list: readonly number[], min: number, max: number): number[] {
  if (list.length < min || list.length > max) {
    throw new RangeError(`${name} has ${list.length} bytes; expected ${min} to ${max}`)
  }
  return list.map((b) => whole(name, b, 0, 255))
}

function bit(on: boolean): number {
  return on ? 1 : 0
}

function target(t: Target): number[] {
  if (t.kind === 'all') return [0]
  if (t.kind === 'short') return [whole('short address', t.address, 1, 127)]
  if (t.kind !== 'long')
    throw new RangeError(`target is ${(t as { kind: unknown }).kind}; expected short, long or all`)
  const address = whole('long address', t.address, 0, 10239)
  return [0xc0 | (address >> 8), address & 0xff]
}

function speedCode(p: Extract<Packet, { kind: 'speed' }>): number {
  if (p.of !== 14 && p.of !== 28) throw new RangeError(`of is ${p.of}; expected 14 or 28`)
  const step = whole('step', p.step, 0, p.of)
  if (p.emergency && step !== 0) throw new RangeError(`step is ${step}; an emergency stop has step 0`)
  if (p.of === 14) {
    if (p.directionIgnored) throw new RangeError('14 steps cannot say that the direction is ignored')
    return (bit(p.headlight) << 4) | (p.emergency ? 1 : step === 0 ? 0 : step + 1)
  }
  if (p.headlight) throw new RangeError('28 steps carry no headlight')
  if (p.directionIgnored && step !== 0) throw new RangeError('the direction is ignored only when stopping')
  const code = step === 0 ? (p.emergency ? 2 : 0) | bit(p.directionIgnored) : step + 3
  return ((code & 1) << 4) | (code >> 1)
}

function speed126(p: { step: number; forward: boolean; emergency: boolean }): number {
  const step = whole('step', p.step, 0, 126)
  if (p.emergency && step !== 0) throw new RangeError(`step is ${step}; an emergency stop has step 0`)
  return (bit(p.forward) << 7) | (p.emergency ? 1 : step === 0 ? 0 : step + 1)
}

/** Instruction byte of the groups from F13 on. */
export const EXPANSION: Readonly<Record<number, number>> = {
  13: 0xde,
  21: 0xdf,
  29: 0xd8,
  37: 0xd9,
  45: 0xda,
  53: 0xdb,
  61: 0xdc,
}

function functionBytes(group: number, on: readonly number[]): number[] {
  const index = FUNCTION_GROUPS.indexOf(group as 0)
  if (index < 0)
    throw new RangeError(`function group is ${group}; expected one of ${FUNCTION_GROUPS.join(', ')}`)
  const last = group === 0 ? 4 : (FUNCTION_GROUPS[index + 1] ?? 69) - 1
  let bits = 0
  for (const f of on) {
    whole('function', f, group, last)
    bits |= group === 0 ? (f === 0 ? 0x10 : 1 << (f - 1)) : 1 << (f - group)
  }
  if (group === 0) return [0x80 | bits]
  if (group === 5) return [0xb0 | bits]
  if (group === 9) return [0xa0 | bits]
  return [EXPANSION[group]!, bits]
}

/** Long form of CV access: `1110CCVV VVVVVVVV DDDDDDDD`, or with 0111 in front the same in service mode. */
function cvBytes(base: number, access: CvAccess): number[] {
  const field = whole('CV', access.cv, 1, 1024) - 1
  const low = [field >> 8, field & 0xff] as const
  if (access.op === 'verify' || access.op === 'write') {
    const op = access.op === 'verify' ? 0x04 : 0x0c
    return [base | op | low[0], low[1], whole('value', access.value, 0, 255)]
  }
  if (access.op !== 'verify-bit' && access.op !== 'write-bit') {
    throw new RangeError(
      `op is ${(access as { op: unknown }).op}; expected verify, write, verify-bit or write-bit`,
    )
  }
  const data = 0xe0 | (bit(access.op === 'write-bit') << 4) | (whole('value', access.value, 0, 1) << 3)
  return [base | 0x08 | low[0], low[1], data | whole('bit', access.bit, 0, 7)]
}

function cvShort(which: string, values: readonly number[]): number[] {
  const codes: Record<string, [number, number]> = {
    CV23: [0xf2, 1],
    CV24: [0xf3, 1],
    'CV17+18': [0xf4, 2],
    'CV31+32': [0xf5, 2],
  }
  const code = codes[which]
  if (!code) throw new RangeError(`short form is ${which}; expected one of ${Object.keys(codes).join(', ')}`)
  return [code[0], ...bytesOf('values', values, code[1], code[1])]
}

/** `10AAAAAA xaaaDDDD`: the three high bits of the board travel complemented. */
function boardBytes(board: Board, low: number): number[] {
  const wire = board === 'all' ? 511 : whole('board', board, 0, 510)
  return [0x80 | (wire & 0x3f), ((~wire >> 2) & 0x70) | low]
}

/** `10AAAAAA 0aaa0AA1`: eleven bits, the pair in bits 1–2 of the second byte. */
function extendedBytes(address: number): number[] {
  const wire = whole('address', address, 0, 2046)
  const board = wire >> 2
  return [0x80 | (board & 0x3f), ((~board >> 2) & 0x70) | ((wire & 3) << 1) | 1]
}
