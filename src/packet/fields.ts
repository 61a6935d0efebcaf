/** Packets from a kind and named fields, as the command line and forms give them. */
import { type CvAccess, FUNCTION_GROUPS, type Packet, type Target } from './packet.js'

/** One field of a kind: what it is called, its range in words. */
export interface FieldInfo {
  name: string
  says: string
  /** A switch that is on when named. */
  flag?: boolean
  optional?: boolean
}

export interface KindInfo {
  kind: string
  says: string
  fields: FieldInfo[]
}

const ADDRESS: FieldInfo = {
  name: 'address',
  says: 'short 1 to 127, or with --long 0 to 10239; 0 without it: all decoders',
}
const LONG: FieldInfo = { name: 'long', says: 'the address is a long one', flag: true }
const TARGET = [ADDRESS, LONG]
const FORWARD: FieldInfo = { name: 'reverse', says: 'reverse instead of forward', flag: true }
const STOP: FieldInfo = { name: 'emergency', says: 'emergency stop', flag: true }
const CV: FieldInfo[] = [
  { name: 'cv', says: '1 to 1024' },
  { name: 'write', says: 'write instead of verify', flag: true },
  { name: 'value', says: '0 to 255, or with --bit 0 or 1' },
  { name: 'bit', says: 'one bit only, 0 to 7', optional: true },
]
const BOARD: FieldInfo[] = [
  { name: 'board', says: 'board on the wire, 0 to 510, or all' },
  { name: 'pair', says: 'output pair 0 to 3' },
]

/** The kinds that can be made, for help and forms. */
export const KINDS: readonly KindInfo[] = [
  { kind: 'idle', says: 'nothing to say', fields: [] },
  { kind: 'reset', says: 'decoder reset', fields: TARGET },
  {
    kind: 'stop',
    says: 'stop every locomotive',
    fields: [FORWARD, { name: 'immediate', says: 'cut the motors', flag: true }],
  },
  {
    kind: 'speed',
    says: 'speed and direction',
    fields: [
      ...TARGET,
      { name: 'step', says: '0 stops; at most what --of says' },
      { name: 'of', says: '14, 28 or 126 steps' },
      FORWARD,
      STOP,
      { name: 'headlight', says: '14 steps: headlight on', flag: true },
    ],
  },
  {
    kind: 'functions',
    says: 'one function group',
    fields: [
      ...TARGET,
      { name: 'group', says: `first function of the group: ${FUNCTION_GROUPS.join(', ')}` },
      { name: 'on', says: 'functions that are on, 0,1,4 (0 is FL)', optional: true },
    ],
  },
  {
    kind: 'state',
    says: 'binary state',
    fields: [
      ...TARGET,
      { name: 'state', says: '0 to 32767; 0 is all' },
      { name: 'off', says: 'off instead of on', flag: true },
    ],
  },
  {
    kind: 'consist',
    says: 'join or leave a consist',
    fields: [
      ...TARGET,
      { name: 'consist', says: 'consist address 0 to 127; 0 leaves' },
      { name: 'reversed', says: 'runs reversed', flag: true },
    ],
  },
  { kind: 'cv', says: 'CV access on the main', fields: [...TARGET, ...CV] },
  {
    kind: 'accessory',
    says: 'basic accessory output',
    fields: [
      ...BOARD,
      { name: 'output', says: '0 or 1' },
      { name: 'off', says: 'off instead of on', flag: true },
    ],
  },
  {
    kind: 'aspect',
    says: 'extended accessory',
    fields: [
      { name: 'address', says: 'wire address 0 to 2046, or all' },
      { name: 'aspect', says: '0 to 255; 0 is stop' },
    ],
  },
  {
    kind: 'accessory-cv',
    says: 'CV access to a basic accessory',
    fields: [
      { name: 'board', says: '0 to 510' },
      { name: 'output', says: '0 to 7; whole decoder when absent', optional: true },
      ...CV,
    ],
  },
  {
    kind: 'time',
    says: 'layout time',
    fields: [
      { name: 'hour', says: '0 to 23' },
      { name: 'minute', says: '0 to 59' },
      { name: 'weekday', says: '0 Monday to 6, 7 unset', optional: true },
      { name: 'factor', says: '0 stopped, 1 real, to 63', optional: true },
    ],
  },
  {
    kind: 'date',
    says: 'layout date',
    fields: [
      { name: 'day', says: '1 to 31' },
      { name: 'month', says: '1 to 12' },
      { name: 'year', says: '0 to 4095' },
    ],
  },
  { kind: 'direct', says: 'service mode, direct', fields: CV },
  {
    kind: 'register',
    says: 'service mode, register or address-only (register 1)',
    fields: [
      { name: 'register', says: '1 to 8' },
      { name: 'value', says: '0 to 255' },
      { name: 'write', says: 'write instead of verify', flag: true },
    ],
  },
  { kind: 'page-preset', says: 'service mode, page preset', fields: [] },
]

/**
 * Make a packet from a kind and its fields.
 * @throws RangeError naming the field that is missing, unknown or no number.
 */
export function packetFromFields(
  kind: string,
  fields: Readonly<Record<string, string | boolean | undefined>>,
): Packet {
  const info = KINDS.find((k) => k.kind === kind)
  if (!info) throw new RangeError(`no kind ${kind}; expected one of ${KINDS.map((k) => k.kind).join(', ')}`)
  for (const [name, value] of Object.entries(fields)) {
    if (value === undefined || value === false) continue
    if (!info.fields.some((f) => f.name === name)) {
      const known = info.fields.map((f) => f.name).join(', ') || 'no fields'
      throw new RangeError(`${kind} takes ${known}; found ${name}`)
    }
  }
  const text = (name: string) => (typeof fields[name] === 'string' ? fields[name] : undefined)
  const on = (name: string) => fields[name] === true
  const number = (name: string, otherwise?: number): number => {
    const given = text(name)
    if (given === undefined) {
      if (otherwise !== undefined) return otherwise
      throw new RangeError(`${kind} needs ${name}: ${info.fields.find((f) => f.name === name)?.says}`)
    }
    if (!/^\d{1,9}$/.test(given)) throw new RangeError(`${name} is ${given}; expected a whole number`)
    return Number(given)
  }
  const orAll = (name: string) => (text(name) === 'all' ? ('all' as const) : number(name))
  const target = (): Target => {
    const address = number('address')
    if (on('long')) return { kind: 'long', address }
    return address === 0 ? { kind: 'all' } : { kind: 'short', address }
  }
  const access = (): CvAccess => {
    const cv = number('cv')
    const value = number('value')
    if (text('bit') === undefined) return { op: on('write') ? 'write' : 'verify', cv, value }
    return { op: on('write') ? 'write-bit' : 'verify-bit', cv, bit: number('bit'), value }
  }
  const forward = !on('reverse')
  switch (kind) {
    case 'idle':
      return { kind }
    case 'reset':
      return { kind, target: target() }
    case 'stop':
      return { kind: 'broadcast-stop', forward, directionIgnored: true, immediate: on('immediate') }
    case 'speed': {
      const emergency = on('emergency')
      const of = number('of')
      const step = number('step', emergency ? 0 : undefined)
      if (of === 126 || of === 128) return { kind: 'speed-126', target: target(), step, forward, emergency }
      if (of !== 14 && of !== 28) throw new RangeError(`of is ${of}; expected 14, 28 or 126`)
      return {
        kind,
        target: target(),
        of,
        step,
        forward,
        emergency,
        directionIgnored: false,
        headlight: on('headlight'),
      }
    }
    case 'functions': {
      const group = FUNCTION_GROUPS.find((g) => g === number('group'))
      if (group === undefined)
        throw new RangeError(`group is ${text('group')}; expected one of ${FUNCTION_GROUPS.join(', ')}`)
      const list = text('on') ?? ''
      const parts = list.split(/[ ,]+/).filter(Boolean)
      if (parts.some((p) => !/^\d{1,3}$/.test(p)))
        throw new RangeError(`on is ${list}; expected functions such as 0,1,4`)
      return { kind, target: target(), group, on: parts.map(Number) }
    }
    case 'state': {
      const state = number('state')
      return {
        kind: 'binary-state',
        target: target(),
        state,
        on: !on('off'),
        form: state < 128 ? 'short' : 'long',
      }
    }
    case 'consist':
      return { kind, target: target(), consist: number('consist'), reversed: on('reversed') }
    case 'cv':
      return { kind, target: target(), access: access() }
    case 'accessory':
      return { kind, board: orAll('board'), pair: number('pair'), output: number('output'), on: !on('off') }
    case 'aspect':
      return { kind: 'extended-accessory', address: orAll('address'), aspect: number('aspect') }
    case 'accessory-cv':
      return {
        kind,
        board: number('board'),
        output: text('output') === undefined ? 'whole' : number('output'),
        access: access(),
      }
    case 'time':
      return {
        kind: 'layout-time',
        minute: number('minute'),
        hour: number('hour'),
        weekday: number('weekday', 7),
        update: false,
        factor: number('factor', 1),
      }
    case 'date':
      return { kind: 'layout-date', day: number('day'), month: number('month'), year: number('year') }
    case 'direct':
      return { kind: 'service-direct', access: access() }
    case 'register':
      return {
        kind: 'service-register',
        op: on('write') ? 'write' : 'verify',
        register: number('register'),
        value: number('value'),
      }
    default:
      return { kind: 'service-register', op: 'write', register: 6, value: 1 }
  }
}
