/**
 * A packet taken apart: each byte with the pattern the standards print for it and what its bits say here. Letters
 * follow the standards: A address, C, G, K instruction field, D data or direction, S speed or sub-field, V CV, X aspect,
 * E error byte, U unused or update. Sources: as in `decode.ts`.
 */

import { formatByte } from '../units/index.js'
import { errorByte } from './bits.js'
import { daysInMonth } from './calendar.js'
import { cvName, cvNameAnywhere } from './cv-names.data.js'
import { decodePacket } from './decode.js'
import type { CvAccess, Packet, PacketOptions, Target } from './packet.js'
import {
  bitsOf,
  cvWords,
  flagWords,
  functionWords,
  groupRange,
  registerWords,
  WEEKDAYS,
  way,
} from './words.js'

export interface ByteReading {
  byte: number
  /** Eight digits. */
  bits: string
  /** Eight characters: 0 and 1 are fixed for the instruction, a letter is a field. */
  pattern: string
  /** What the fields say. */
  says: string
}

type Part = [pattern: string, says: string]

/** The bytes of a packet one by one, its error byte last; bytes without a meaning say so. */
export function explainBytes(bytes: ArrayLike<number>, options: PacketOptions = {}): ByteReading[] {
  const list = Array.from(bytes, (b) => b & 0xff)
  const { packet } = decodePacket(list, options)
  const body = list.slice(0, -1)
  const parts = packet ? partsOf(packet, body) : (wrongTime(body) ?? body.map((byte, i) => unknown(byte, i)))
  return list.map((byte, i) => {
    const last = i > 0 && i === list.length - 1
    const [pattern, says] = last ? check(list) : (parts[i] ?? unknown(byte, i))
    return { byte, bits: bits(byte), pattern, says }
  })
}

function check(list: number[]): Part {
  const wanted = errorByte(list, list.length - 1)
  const fits = wanted === list.at(-1) ? 'fits' : `does not fit: ${formatByte(wanted)} belongs here`
  return ['EEEEEEEE', `error byte: exclusive-or of the bytes before it; ${fits}`]
}

/** Bytes of a time or date of the layout that there is not: what each says, and which is out of range. */
function wrongTime(body: number[]): Part[] | undefined {
  const [first, code, x = 0, y = 0, z = 0] = body
  if (body.length !== 5 || first !== 0 || code !== 0xc1) return undefined
  const begin: Part[] = [unknown(0, 0), ['11000001', 'time or date of the layout']]
  const within = (value: number, low: number, high: number) =>
    value >= low && value <= high ? String(value) : `${value}, which is not ${low} to ${high}`
  if (x >> 6 === 0) {
    const weekday = y >> 5
    return [
      ...begin,
      ['00MMMMMM', `00: time; minute ${within(x, 0, 59)}`],
      ['WWWHHHHH', `WWW = ${weekday} ${WEEKDAYS[weekday]}; hour ${within(y & 31, 0, 23)}`],
      ['U0BBBBBB', `${z & 0x40 ? 'bit 6 is set, which must be 0; ' : ''}clock factor ${z & 63}`],
    ]
  }
  if (x >> 5 !== 2) return undefined
  const month = y >> 4
  const year = ((y & 15) << 8) | z
  const days = month >= 1 && month <= 12 ? daysInMonth(year, month) : 31
  return [
    ...begin,
    ['010TTTTT', `010: date; day ${within(x & 31, 1, days)}`],
    ['MMMMYYYY', `month ${within(month, 1, 12)}; high four bits of the year: ${year >> 8}`],
    ['YYYYYYYY', `low eight bits: ${year & 255}; year ${year}`],
  ]
}

/** What a first byte is for (S-9.2.1:2012 A, confirmed). */
function unknown(byte: number, index: number): Part {
  if (index > 0) return ['UUUUUUUU', 'no meaning here']
  if (byte === 0) return ['00000000', 'to all multi-function decoders']
  if (byte < 128) return ['0AAAAAAA', `multi-function decoder, short address ${byte}`]
  if (byte < 192) return ['10AAAAAA', 'accessory decoder']
  if (byte < 232) return ['11AAAAAA', 'multi-function decoder, long address, its high bits']
  if (byte === 255) return ['11111111', 'idle']
  return ['UUUUUUUU', byte >= 253 ? 'newer packets' : 'reserved first byte']
}

function partsOf(p: Packet, b: number[]): Part[] {
  switch (p.kind) {
    case 'idle':
      return [
        ['11111111', 'idle: for no decoder'],
        ['00000000', 'nothing to do'],
      ]
    case 'reset':
      return [
        ...to(p.target),
        ['00000000', 'decoder reset: forget speed, functions and all else that is not stored'],
      ]
    case 'hard-reset':
      return [...to(p.target), ['00000001', 'hard reset: CV29, 31, 32 to default, CV19 = 0, then reset']]
    case 'factory-test':
      return [...to(p.target), ['0000001D', `factory test, D = ${p.flag}`], ...p.data.map(plainData)]
    case 'flags':
      return [
        ...to(p.target),
        ['0000011D', `set a decoder flag to D = ${p.flag}`],
        [
          'CCCC0SSS',
          `CCCC = ${p.code}: ${flagWords(p.code)}; SSS = ${p.sub}: ${p.sub ? 'sub-address' : 'all sub-addresses'}`,
        ],
      ]
    case 'extended-addressing':
      return [
        ...to(p.target),
        ['0000101D', `D = ${bit(p.on)} goes into CV29 bit 5: ${p.on ? 'long' : 'short'} address`],
      ]
    case 'acknowledgement-request':
      return [...to(p.target), ['0000111D', `acknowledgement request, D = ${bit(p.on)}`]]
    case 'broadcast-stop':
      return [
        ...to({ kind: 'all' }),
        [
          '01DC000S',
          `speed to all: D = ${bit(p.forward)} ${way(p.forward)}; C = ${bit(p.directionIgnored)} the direction ${p.directionIgnored ? 'may be ignored' : 'counts'}; S = ${bit(p.immediate)} ${p.immediate ? 'cut motor power' : 'stop'}`,
        ],
      ]
    case 'speed':
      return [...to(p.target), speed(p, b)]
    case 'speed-126':
      return [
        ...to(p.target),
        ['00111111', 'speed with 126 steps; the next byte has it'],
        speed126(p, b.at(-1)!),
      ]
    case 'restricted-speed':
      return [
        ...to(p.target),
        ['00111110', 'restricted speed'],
        [
          'DUSSSSSS',
          `D = ${bit(!p.enabled)} ${p.enabled ? 'restricts' : 'lifts the restriction'}; U unused; SSSSSS = ${p.code}: speed as in a baseline packet`,
        ],
      ]
    case 'analog-function':
      return [
        ...to(p.target),
        ['00111101', 'analog function'],
        ['VVVVVVVV', p.output === 1 ? 'output 1: volume' : `output ${p.output}: reserved`],
        ['DDDDDDDD', `value ${p.value}`],
      ]
    case 'speed-and-functions':
      return [
        ...to(p.target),
        ['00111100', 'speed with 126 steps, and functions'],
        speed126(p, b.at(-1 - p.functions.length)!),
        ...p.functions.map((byte, i): Part => {
          const on = bitsOf(byte).map((f) => 8 * i + f)
          return ['DDDDDDDD', `F${8 * i} in bit 0 to F${8 * i + 7} in bit 7: ${functionWords(on)}`]
        }),
      ]
    case 'functions':
      return [...to(p.target), ...functions(p)]
    case 'binary-state': {
      const low = p.state & 127
      const on = `D = ${bit(p.on)} ${p.on ? 'on' : 'off'}`
      if (p.form === 'short') {
        return [
          ...to(p.target),
          ['11011101', 'binary state, short form'],
          ['DLLLLLLL', `${on}; state ${low}${low ? '' : ': all of them'}`],
        ]
      }
      return [
        ...to(p.target),
        ['11000000', 'binary state, long form'],
        ['DLLLLLLL', `${on}; low seven bits of the state: ${low}`],
        [
          'HHHHHHHH',
          `high eight bits: ${p.state >> 7}; ${p.state >> 7} · 128 + ${low} = ${p.state}${p.state ? '' : ': all of them'}`,
        ],
      ]
    }
    case 'consist':
      return [
        ...to(p.target),
        [
          '0001001D',
          `consist control, D = ${bit(p.reversed)}: runs ${p.reversed ? 'reversed' : 'normal'} in it`,
        ],
        ['0AAAAAAA', p.consist ? `consist address ${p.consist}, goes into CV19` : '0 leaves the consist'],
      ]
    case 'cv':
      return [...to(p.target), ...cv('1110', p.access, cvName(p.access.cv, 'multi-function'))]
    case 'cv-short':
      return [
        ...to(p.target),
        [
          '1111GGGG',
          `CV access, short form GGGG = ${b[b.length - 1 - p.values.length]! & 15}: write ${p.which}`,
        ],
        ...p.values.map(
          (value, i): Part => ['DDDDDDDD', `value ${value} for CV${p.which.slice(2).split('+')[i]}`],
        ),
      ]
    case 'cv-extended':
      return [
        ...to(p.target),
        [
          '1110GGSS',
          `CV access, extended form: GG = ${two((b[b.length - p.data.length - 4]! >> 2) & 3)} ${p.op}, SS = ${p.sequence} sequence number`,
        ],
        ['VVVVVVVV', 'high bits of the CV number less 1'],
        ['VVVVVVVV', 'its middle bits'],
        ['VVVVVVVV', `its low bits: CV${p.cv}`],
        ...p.data.map(plainData),
      ]
    case 'layout-time':
      return [
        ...to({ kind: 'all' }),
        ['11000001', 'time or date of the layout'],
        ['00MMMMMM', `00: time; minute ${p.minute}`],
        ['WWWHHHHH', `WWW = ${p.weekday} ${WEEKDAYS[p.weekday]}; hour ${p.hour}`],
        [
          'U0BBBBBB',
          `U = ${bit(p.update)} ${p.update ? 'the time jumps' : 'the time goes on'}; clock factor ${p.factor}`,
        ],
      ]
    case 'layout-date':
      return [
        ...to({ kind: 'all' }),
        ['11000001', 'time or date of the layout'],
        ['010TTTTT', `010: date; day ${p.day}`],
        ['MMMMYYYY', `month ${p.month}; high four bits of the year: ${p.year >> 8}`],
        ['YYYYYYYY', `low eight bits: ${p.year & 255}; year ${p.year}`],
      ]
    case 'system-time':
      return [
        ...to({ kind: 'all' }),
        ['11000010', 'system time of the station'],
        ['MMMMMMMM', 'high eight bits'],
        ['MMMMMMMM', `low eight bits: ${p.milliseconds} ms`],
      ]
    case 'station-capabilities':
      return [...to({ kind: 'all' }), ['11000011', 'what the station can do'], ...p.data.map(plainData)]
    case 'accessory': {
      const board = boardParts(b)
      return [
        board.first,
        [
          '1aaaCDDD',
          `${board.second}; C = ${bit(p.on)} ${p.on ? 'on' : 'off'}; DDD = ${three(b[1]! & 7)}: pair ${p.pair}, output ${p.output} of it`,
        ],
      ]
    }
    case 'extended-accessory':
      return [
        ...extended(b),
        [
          'XXXXXXXX',
          `aspect ${p.aspect}${p.aspect === 0 ? ': stop' : ''} (S-9.2.1:2012 fixes the top three bits to 0)`,
        ],
      ]
    case 'accessory-poll': {
      const board = boardParts(b)
      return [
        board.first,
        [
          '0aaa1AAT',
          `${board.second}; no operation; AA = ${p.pair} pair; T = ${bit(p.extended)} ${p.extended ? 'extended' : 'basic'}`,
        ],
      ]
    }
    case 'accessory-cv': {
      const board = boardParts(b)
      const output =
        p.output === 'whole' ? 'CDDD = 0000: the whole decoder' : `C = 1, DDD = ${p.output}: this output`
      return [
        board.first,
        ['1aaaCDDD', `${board.second}; ${output}`],
        ...cv('1110', p.access, cvName(p.access.cv, 'accessory')),
      ]
    }
    case 'extended-accessory-cv':
      return [...extended(b), ...cv('1110', p.access, cvName(p.access.cv, 'accessory'))]
    case 'accessory-cv-legacy': {
      const board = boardParts(b)
      return [
        board.first,
        ['0aaa11VV', `${board.second}; CV write, old form; VV high bits of the CV number less 1`],
        ['VVVVVVVV', `its low bits: CV${p.cv}`],
        ['DDDDDDDD', `value ${p.value}`],
      ]
    }
    case 'advanced-extended':
    case 'automatic-logon': {
      const first: Part =
        p.kind === 'advanced-extended'
          ? ['11111101', 'advanced extended packet, to a decoder that was addressed before']
          : ['11111110', 'automatic logon by unique ID']
      const tail: Part[] = p.crc
        ? [['EEEEEEEE', 'CRC-8 of the bytes before it (polynomial from memory)']]
        : []
      return [first, ...p.data.map(plainData), ...tail]
    }
    case 'service-direct':
      return cv('0111', p.access, cvNameAnywhere(p.access.cv))
    case 'service-register':
      return [
        [
          '0111CRRR',
          `service mode; C = ${bit(p.op === 'write')} ${p.op}; RRR = ${p.register - 1}: register ${p.register}`,
        ],
        ['DDDDDDDD', `value ${p.value}: ${registerWords(p)}`],
      ]
    case 'service-address-query':
      return [
        ...to({ kind: 'short', address: p.address }),
        ['11111001', 'is this your address? (old decoders)'],
      ]
    case 'service-lock':
      return [
        ...to({ kind: 'all' }),
        ['11111001', 'service-mode lock'],
        ['0AAAAAAA', `only address ${p.address} stays open for service mode`],
      ]
  }
}

function to(t: Target): Part[] {
  if (t.kind === 'all') return [['00000000', 'to all multi-function decoders']]
  if (t.kind === 'short') return [['0AAAAAAA', `multi-function decoder, short address ${t.address}`]]
  const [high, low] = [t.address >> 8, t.address & 255]
  return [
    ['11AAAAAA', `multi-function decoder, long address, high six bits: ${high}`],
    ['AAAAAAAA', `low eight bits: ${low}; ${high} · 256 + ${low} = ${t.address}`],
  ]
}

/** The four low bits are the speed; bit 4 is its lowest bit with 28 steps, the headlight with 14 (S-9.2:2004 B). */
function speed(p: Extract<Packet, { kind: 'speed' }>, b: number[]): Part {
  const byte = b.at(-1)!
  const low = byte & 15
  const direction = `D = ${bit(p.forward)} ${way(p.forward)}`
  const stop = p.emergency ? 'emergency stop' : 'stop'
  if (p.of === 14) {
    const what = p.step === 0 ? stop : `step ${p.step} = SSSS - 1`
    return [
      '01DCSSSS',
      `speed of 14: ${direction}; C = ${bit(p.headlight)} headlight; SSSS = ${low}: ${what}`,
    ]
  }
  const code = (low << 1) | ((byte >> 4) & 1)
  const what =
    p.step === 0
      ? `${stop}${p.directionIgnored ? ', direction may be ignored' : ''}`
      : `step ${p.step} = ${code} - 3`
  return ['01DCSSSS', `speed of 28: ${direction}; C is the lowest bit: SSSSC = ${code}: ${what}`]
}

function speed126(p: { step: number; forward: boolean; emergency: boolean }, byte: number): Part {
  const code = byte & 127
  const what = p.step > 0 ? `step ${p.step} = ${code} - 1` : p.emergency ? 'emergency stop' : 'stop'
  return ['DSSSSSSS', `D = ${bit(p.forward)} ${way(p.forward)}; SSSSSSS = ${code}: ${what}`]
}

function functions(p: Extract<Packet, { kind: 'functions' }>): Part[] {
  const on = `${groupRange(p.group)}: ${functionWords(p.on)}`
  if (p.group === 0) return [['100DDDDD', `bit 4 FL, bits 0 to 3 F1 to F4: ${functionWords(p.on)}`]]
  if (p.group === 5) return [['1011DDDD', `bits 0 to 3 are ${on}`]]
  if (p.group === 9) return [['1010DDDD', `bits 0 to 3 are ${on}`]]
  return [
    ['110CCCCC', `feature expansion: functions ${groupRange(p.group)}`],
    ['DDDDDDDD', `bits 0 to 7 are ${on}`],
  ]
}

/** `XXXXCCVV VVVVVVVV DDDDDDDD`, the same on the main (1110) and in service mode (0111). */
function cv(front: string, a: CvAccess, name: string | undefined): Part[] {
  const code = { verify: '01', write: '11', 'verify-bit': '10', 'write-bit': '10' }[a.op]
  const what = {
    verify: 'verify a byte',
    write: 'write a byte',
    'verify-bit': 'one bit',
    'write-bit': 'one bit',
  }[a.op]
  const where = front === '0111' ? 'service mode, direct' : 'CV access'
  const head: Part[] = [
    [`${front}CCVV`, `${where}; CC = ${code} ${what}; VV high bits of the CV number less 1`],
    ['VVVVVVVV', `its low bits: CV${a.cv}${name ? ` (${name})` : ''} travels as ${a.cv - 1}`],
  ]
  if (a.op === 'verify' || a.op === 'write') return [...head, ['DDDDDDDD', `value ${a.value}`]]
  const write = a.op === 'write-bit'
  return [
    ...head,
    [
      '111KDBBB',
      `K = ${bit(write)} ${write ? 'write' : 'verify'}; D = ${a.value} its value; BBB = ${a.bit} its position: ${cvWords(a)}`,
    ],
  ]
}

/** The board's six low bits ride in the first byte, its three high bits complemented in the second. */
function boardParts(b: number[]): { first: Part; second: string } {
  const low = b[0]! & 63
  const raw = (b[1]! >> 4) & 7
  const high = ~raw & 7
  const board = (high << 6) | low
  return {
    first: ['10AAAAAA', `accessory decoder, low six bits of the board: ${low}`],
    second: `aaa = ${three(raw)} complemented is ${high}: board ${high} · 64 + ${low} = ${board}${board === 511 ? ', all boards' : ''}`,
  }
}

function extended(b: number[]): Part[] {
  const { first, second } = boardParts(b)
  const pair = (b[1]! >> 1) & 3
  const board = ((~(b[1]! >> 4) & 7) << 6) | (b[0]! & 63)
  return [
    first,
    [
      '0aaa0AA1',
      `extended; ${second}; AA = ${pair}: wire address ${board} · 4 + ${pair} = ${4 * board + pair}`,
    ],
  ]
}

function plainData(byte: number): Part {
  return ['DDDDDDDD', `data ${byte}`]
}

function bit(on: boolean): number {
  return on ? 1 : 0
}

function bits(byte: number): string {
  return byte.toString(2).padStart(8, '0')
}

function two(n: number): string {
  return n.toString(2).padStart(2, '0')
}

function three(n: number): string {
  return n.toString(2).padStart(3, '0')
}
