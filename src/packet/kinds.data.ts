/** The kinds of packets that can be made from named fields, for help and forms. */
import type { FieldInfo, FieldReader } from './fields.js'
import { FUNCTION_GROUPS, type Packet } from './packet.js'

export interface KindInfo {
  kind: string
  says: string
  /** The field it belongs to in an overview. */
  about: 'all' | 'locomotive' | 'accessory' | 'station' | 'service mode'
  fields: FieldInfo[]
  /** @throws RangeError naming the field that is missing or wrong. */
  make(read: FieldReader): Packet
}

const TARGET: FieldInfo[] = [
  { name: 'address', says: 'short 1 to 127, or with --long 0 to 10239; 0 without it: all decoders' },
  { name: 'long', says: 'the address is a long one', flag: true },
]
const DIRECTION: FieldInfo[] = [
  { name: 'forward', says: 'forward (as without it)', flag: true },
  { name: 'reverse', says: 'reverse', flag: true },
]
const MOTION: FieldInfo[] = [
  ...DIRECTION,
  { name: 'emergency', says: 'emergency stop instead of a step', flag: true },
]
const CV: FieldInfo[] = [
  { name: 'cv', says: '1 to 1024' },
  { name: 'write', says: 'write instead of verify', flag: true },
  { name: 'value', says: '0 to 255, or with --bit 0 or 1' },
  { name: 'bit', says: 'one bit only, 0 to 7', optional: true },
]
const NUMBER: FieldInfo = { name: 'number', says: 'accessory number by --offset', optional: true }
const PAIR: FieldInfo[] = [
  { name: 'board', says: 'board on the wire, 0 to 510 (where all may be meant: all); or give --number' },
  { name: 'pair', says: 'output pair 0 to 3', optional: true },
  NUMBER,
]
const EXTENDED: FieldInfo[] = [
  { name: 'address', says: 'wire address of an extended accessory, 0 to 2046; or give --number' },
  NUMBER,
]
const OFF: FieldInfo = { name: 'off', says: 'off instead of on', flag: true }
const DATA: FieldInfo = { name: 'data', says: 'bytes, 1,2,3', optional: true }
const WRITE: FieldInfo = { name: 'write', says: 'write instead of verify', flag: true }
const VALUE: FieldInfo = { name: 'value', says: '0 to 255' }
const IN_GROUP: FieldInfo = { name: 'on', says: 'functions that are on, 0,1,4 (0 is FL)', optional: true }

export const KINDS: readonly KindInfo[] = [
  { kind: 'idle', says: 'nothing to say', about: 'all', fields: [], make: () => ({ kind: 'idle' }) },
  {
    kind: 'reset',
    says: 'decoder reset',
    about: 'all',
    fields: TARGET,
    make: (r) => ({ kind: 'reset', target: r.target() }),
  },
  {
    kind: 'stop',
    says: 'stop every locomotive',
    about: 'all',
    fields: [
      { name: 'forward', says: 'direction forward; without a direction it may be ignored', flag: true },
      { name: 'reverse', says: 'direction reverse', flag: true },
      { name: 'immediate', says: 'cut the motors', flag: true },
    ],
    make: (r) => {
      const directionIgnored = !r.on('forward') && !r.on('reverse')
      return { kind: 'broadcast-stop', forward: r.forward(), directionIgnored, immediate: r.on('immediate') }
    },
  },
  {
    kind: 'speed',
    says: 'speed and direction',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'step', says: 'speed step, 0 stops' },
      { name: 'of', says: 'number of speed steps: 14, 28 or 126' },
      ...MOTION,
      { name: 'headlight', says: '14 steps: headlight on', flag: true },
    ],
    make: (r) => {
      const of = r.number('of')
      const motion = r.motion()
      if (of === 126 || of === 128) {
        if (r.on('headlight')) throw new RangeError('126 steps carry no headlight')
        return { kind: 'speed-126', target: r.target(), ...motion }
      }
      if (of !== 14 && of !== 28) throw new RangeError(`of is ${of}; expected 14, 28 or 126`)
      const headlight = r.on('headlight')
      return { kind: 'speed', target: r.target(), of, ...motion, directionIgnored: false, headlight }
    },
  },
  {
    kind: 'functions',
    says: 'one function group',
    about: 'locomotive',
    fields: [
      ...TARGET,
      {
        name: 'group',
        says: `first function of the group: ${FUNCTION_GROUPS.join(', ')}; or the one of the first in --on`,
        optional: true,
      },
      IN_GROUP,
    ],
    make: (r) => {
      const on = r.list('on')
      return { kind: 'functions', target: r.target(), group: r.group(on), on }
    },
  },
  {
    kind: 'speed-functions',
    says: 'speed of 126 steps with functions',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'step', says: 'speed step, 0 stops' },
      ...MOTION,
      IN_GROUP,
      { name: 'up-to', says: 'last function carried: 7, 15, 23 or 31', optional: true },
    ],
    make: (r) => {
      const on = r.list('on')
      const upTo = r.number('up-to', Math.max(7, ...on))
      if (upTo > 31 || on.some((f) => f > upTo)) {
        throw new RangeError(`on is ${r.text('on')}; expected functions up to ${Math.min(upTo, 31)}`)
      }
      const functions = Array.from({ length: Math.ceil((upTo + 1) / 8) }, () => 0)
      for (const f of on) functions[f >> 3]! |= 1 << (f & 7)
      return { kind: 'speed-and-functions', target: r.target(), ...r.motion(), functions }
    },
  },
  {
    kind: 'restrict',
    says: 'highest speed',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'step', says: 'speed step of 28, 1 to 28', optional: true },
      { name: 'lift', says: 'lift the restriction', flag: true },
    ],
    make: (r) => {
      const enabled = !r.on('lift')
      const step = r.number('step', enabled ? undefined : 0)
      if (step > 28 || (enabled && step < 1)) throw new RangeError(`step is ${step}; expected 1 to 28`)
      const code = step === 0 ? 0 : (((step + 3) & 1) << 4) | ((step + 3) >> 1)
      return { kind: 'restricted-speed', target: r.target(), enabled, code }
    },
  },
  {
    kind: 'state',
    says: 'binary state',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'state', says: '0 to 32767; 0 is all' },
      { name: 'long-form', says: 'the long form though the short one would do', flag: true },
      OFF,
    ],
    make: (r) => {
      const state = r.number('state')
      const form = state < 128 && !r.on('long-form') ? 'short' : 'long'
      return { kind: 'binary-state', target: r.target(), state, on: !r.on('off'), form }
    },
  },
  {
    kind: 'analog',
    says: 'analog function',
    about: 'locomotive',
    fields: [
      ...TARGET,
      {
        name: 'output',
        says: 'which one: 1 is volume (as without it), the others are reserved',
        optional: true,
      },
      VALUE,
    ],
    make: (r) => ({
      kind: 'analog-function',
      target: r.target(),
      output: r.number('output', 1),
      value: r.number('value'),
    }),
  },
  {
    kind: 'consist',
    says: 'join or leave a consist',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'consist', says: 'consist address 0 to 127; 0 leaves' },
      { name: 'reversed', says: 'runs reversed', flag: true },
    ],
    make: (r) => ({
      kind: 'consist',
      target: r.target(),
      consist: r.number('consist'),
      reversed: r.on('reversed'),
    }),
  },
  {
    kind: 'cv',
    says: 'CV access on the main',
    about: 'locomotive',
    fields: [...TARGET, ...CV],
    make: (r) => ({ kind: 'cv', target: r.target(), access: r.access() }),
  },
  {
    kind: 'cv-short',
    says: 'CV write on the main, short form',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'which', says: 'CV23, CV24, CV17+18 or CV31+32' },
      { name: 'data', says: 'bytes for those CVs, 1,2' },
    ],
    make: (r) => ({
      kind: 'cv-short',
      target: r.target(),
      which: r.choice('which', ['CV23', 'CV24', 'CV17+18', 'CV31+32'] as const),
      values: r.list('data'),
    }),
  },
  {
    kind: 'cv-extended',
    says: 'CV access on the main, 24-bit number',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'op', says: 'read, write or bit' },
      { name: 'cv', says: '1 to 16777216' },
      { name: 'sequence', says: 'sequence number 0 to 3', optional: true },
      DATA,
    ],
    make: (r) => ({
      kind: 'cv-extended',
      target: r.target(),
      op: r.choice('op', ['read', 'write', 'bit'] as const),
      sequence: r.number('sequence', 0),
      cv: r.number('cv'),
      data: r.list('data'),
    }),
  },
  {
    kind: 'hard-reset',
    says: 'reset with CV19, 29, 31, 32 to default',
    about: 'locomotive',
    fields: TARGET,
    make: (r) => ({ kind: 'hard-reset', target: r.target() }),
  },
  {
    kind: 'flags',
    says: 'decoder flags',
    about: 'locomotive',
    fields: [
      ...TARGET,
      { name: 'code', says: 'which flag: 0, 4, 5, 8, 9 or 15' },
      { name: 'sub', says: 'sub-address 0 to 7, 0 is all', optional: true },
      OFF,
    ],
    make: (r) => ({
      kind: 'flags',
      target: r.target(),
      flag: r.on('off') ? 0 : 1,
      code: r.number('code'),
      sub: r.number('sub', 0),
    }),
  },
  {
    kind: 'long-address',
    says: 'listen to the long address (CV29 bit 5)',
    about: 'locomotive',
    fields: [...TARGET, OFF],
    make: (r) => ({ kind: 'extended-addressing', target: r.target(), on: !r.on('off') }),
  },
  {
    kind: 'acknowledge',
    says: 'acknowledgement request',
    about: 'locomotive',
    fields: [...TARGET, OFF],
    make: (r) => ({ kind: 'acknowledgement-request', target: r.target(), on: !r.on('off') }),
  },
  {
    kind: 'factory-test',
    says: 'factory test; never in normal operation',
    about: 'locomotive',
    fields: [...TARGET, OFF, DATA],
    make: (r) => ({
      kind: 'factory-test',
      target: r.target(),
      flag: r.on('off') ? 0 : 1,
      data: r.list('data'),
    }),
  },
  {
    kind: 'accessory',
    says: 'output of a basic accessory',
    about: 'accessory',
    fields: [...PAIR, { name: 'output', says: 'output of the pair, 0 or 1' }, OFF],
    make: (r) => ({ kind: 'accessory', ...r.pairOrAll(), output: r.number('output'), on: !r.on('off') }),
  },
  {
    kind: 'aspect',
    says: 'aspect of an extended accessory',
    about: 'accessory',
    fields: [
      { name: 'address', says: 'wire address of an extended accessory, 0 to 2046, or all; or give --number' },
      NUMBER,
      { name: 'aspect', says: '0 to 255; 0 is stop' },
    ],
    make: (r) => ({
      kind: 'extended-accessory',
      address: r.text('address') === 'all' ? 'all' : r.extendedAddress(),
      aspect: r.number('aspect'),
    }),
  },
  {
    kind: 'emergency-off',
    says: 'all accessories off',
    about: 'accessory',
    fields: [{ name: 'extended', says: 'extended accessories instead of basic ones', flag: true }],
    make: (r) =>
      r.on('extended')
        ? { kind: 'extended-accessory', address: 'all', aspect: 0 }
        : { kind: 'accessory', board: 'all', pair: 0, output: 0, on: false },
  },
  {
    kind: 'poll',
    says: 'no operation; lets an accessory answer',
    about: 'accessory',
    fields: [...PAIR, { name: 'extended', says: 'extended accessories instead of basic ones', flag: true }],
    make: (r) => ({ kind: 'accessory-poll', ...r.pair(), extended: r.on('extended') }),
  },
  {
    kind: 'accessory-cv',
    says: 'CV access to a basic accessory',
    about: 'accessory',
    fields: [
      { name: 'board', says: 'board on the wire, 0 to 510' },
      { name: 'output', says: 'output 0 to 7 of the board; the whole decoder when absent', optional: true },
      ...CV,
    ],
    make: (r) => ({
      kind: 'accessory-cv',
      board: r.number('board'),
      output: r.text('output') === undefined ? 'whole' : r.number('output'),
      access: r.access(),
    }),
  },
  {
    kind: 'accessory-cv-old',
    says: 'CV write to a basic accessory, old form (discouraged)',
    about: 'accessory',
    fields: [
      { name: 'board', says: 'board on the wire, 0 to 510' },
      { name: 'cv', says: '1 to 1024' },
      VALUE,
    ],
    make: (r) => ({
      kind: 'accessory-cv-legacy',
      board: r.number('board'),
      cv: r.number('cv'),
      value: r.number('value'),
    }),
  },
  {
    kind: 'aspect-cv',
    says: 'CV access to an extended accessory',
    about: 'accessory',
    fields: [...EXTENDED, ...CV],
    make: (r) => ({ kind: 'extended-accessory-cv', address: r.extendedAddress(), access: r.access() }),
  },
  {
    kind: 'time',
    says: 'time of the layout',
    about: 'station',
    fields: [
      { name: 'hour', says: '0 to 23' },
      { name: 'minute', says: '0 to 59' },
      { name: 'weekday', says: '0 Monday to 6, 7 unset', optional: true },
      { name: 'factor', says: 'of the clock: 0 stopped, 1 real, to 63', optional: true },
      { name: 'jump', says: 'the time jumps', flag: true },
    ],
    make: (r) => ({
      kind: 'layout-time',
      minute: r.number('minute'),
      hour: r.number('hour'),
      weekday: r.number('weekday', 7),
      update: r.on('jump'),
      factor: r.number('factor', 1),
    }),
  },
  {
    kind: 'date',
    says: 'date of the layout',
    about: 'station',
    fields: [
      { name: 'day', says: '1 to 31' },
      { name: 'month', says: '1 to 12' },
      { name: 'year', says: '0 to 4095' },
    ],
    make: (r) => ({
      kind: 'layout-date',
      day: r.number('day'),
      month: r.number('month'),
      year: r.number('year'),
    }),
  },
  {
    kind: 'system-time',
    says: 'counter of the station',
    about: 'station',
    fields: [{ name: 'ms', says: 'milliseconds, 0 to 65535' }],
    make: (r) => ({ kind: 'system-time', milliseconds: r.number('ms') }),
  },
  {
    kind: 'capabilities',
    says: 'what the station can do',
    about: 'station',
    fields: [{ ...DATA, optional: false }],
    make: (r) => ({ kind: 'station-capabilities', data: r.has('data') ? r.list('data') : r.missing('data') }),
  },
  ...(['advanced', 'logon'] as const).map((kind): KindInfo => {
    return {
      kind,
      says: kind === 'logon' ? 'automatic logon, first byte 254' : 'advanced extended packet, first byte 253',
      about: 'station',
      fields: [{ ...DATA, optional: false }],
      make: (r) => {
        const data = r.has('data') ? r.list('data') : r.missing('data')
        return {
          kind: kind === 'logon' ? 'automatic-logon' : 'advanced-extended',
          data,
          crc: data.length > 4,
        }
      },
    }
  }),
  {
    kind: 'direct',
    says: 'direct mode',
    about: 'service mode',
    fields: CV,
    make: (r) => ({ kind: 'service-direct', access: r.access() }),
  },
  {
    kind: 'address-only',
    says: 'address-only mode: CV1',
    about: 'service mode',
    fields: [{ name: 'value', says: 'address 1 to 127' }, WRITE],
    make: (r) => {
      const value = r.number('value')
      if (value > 127) throw new RangeError(`value is ${value}; expected an address to 127`)
      return { kind: 'service-register', op: r.on('write') ? 'write' : 'verify', register: 1, value }
    },
  },
  {
    kind: 'register',
    says: 'physical register, or data register of a page',
    about: 'service mode',
    fields: [{ name: 'register', says: '1 to 8' }, VALUE, WRITE],
    make: (r) => ({
      kind: 'service-register',
      op: r.on('write') ? 'write' : 'verify',
      register: r.number('register'),
      value: r.number('value'),
    }),
  },
  {
    kind: 'page',
    says: 'write to the page register',
    about: 'service mode',
    fields: [
      { name: 'page', says: 'page 0 to 255; or give --cv' },
      { name: 'cv', says: '1 to 1024', optional: true },
    ],
    make: (r) => ({ kind: 'service-register', op: 'write', register: 6, value: r.page() }),
  },
  {
    kind: 'page-preset',
    says: 'page register to 1',
    about: 'service mode',
    fields: [],
    make: () => ({ kind: 'service-register', op: 'write', register: 6, value: 1 }),
  },
  {
    kind: 'factory-reset',
    says: 'decoder factory reset',
    about: 'service mode',
    fields: [],
    make: () => ({ kind: 'service-register', op: 'write', register: 8, value: 8 }),
  },
  {
    kind: 'address-query',
    says: 'ask for the address (old decoders)',
    about: 'service mode',
    fields: [{ name: 'address', says: '1 to 111' }],
    make: (r) => ({ kind: 'service-address-query', address: r.number('address') }),
  },
  {
    kind: 'lock',
    says: 'lock service mode but for one address',
    about: 'service mode',
    fields: [{ name: 'address', says: '0 to 127' }],
    make: (r) => ({ kind: 'service-lock', address: r.number('address') }),
  },
]
