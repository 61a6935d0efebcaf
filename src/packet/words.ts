/** Packets in plain words. */

import { formatBytes } from '../units/index.js'
import { accessoryNumber } from './accessory.js'
import type { Board, CvAccess, FunctionGroup, Packet, PacketOptions, Target } from './packet.js'
import { pagedCv } from './paging.js'

export const WEEKDAYS = [
  'Monday',
  'Tuesday',
  'Wednesday',
  'Thursday',
  'Friday',
  'Saturday',
  'Sunday',
  'no weekday',
]
/** The weekday is left open. */
const UNSET_WEEKDAY = 7

/** One line that says what the packet tells whom. */
export function describe(p: Packet, options: PacketOptions = {}): string {
  switch (p.kind) {
    case 'idle':
      return 'idle'
    case 'reset':
      return p.target.kind === 'all' ? 'reset all decoders' : `${who(p.target)}: reset`
    case 'hard-reset':
      return `${who(p.target)}: hard reset (CV19, 29, 31, 32 to default)`
    case 'factory-test':
      return `${who(p.target)}: factory test, flag ${p.flag}${p.data.length ? `, data ${p.data.join(' ')}` : ''}`
    case 'flags':
      return `${who(p.target)}: ${flagWords(p.code)}, flag ${p.flag}, sub-address ${p.sub}`
    case 'extended-addressing':
      return `${who(p.target)}: listen to the ${p.on ? 'long' : 'short'} address (CV29 bit 5 = ${p.on ? 1 : 0})`
    case 'acknowledgement-request':
      return `${who(p.target)}: acknowledgement request ${p.on ? 'on' : 'off'}`
    case 'broadcast-stop': {
      const how = p.immediate ? 'emergency stop, motors off' : 'stop'
      return `all decoders: ${how}${p.directionIgnored ? ', direction may be ignored' : `, ${way(p.forward)}`}`
    }
    case 'speed': {
      const light = p.of === 14 ? `, headlight ${onOff(p.headlight)}` : ''
      return `${who(p.target)}: ${motion(p, p.of, p.directionIgnored)}${light}`
    }
    case 'speed-126':
      return `${who(p.target)}: ${motion(p, 126, false)}`
    case 'restricted-speed':
      return `${who(p.target)}: ${p.enabled ? `restrict the speed to ${restricted(p.code)}` : 'lift the speed restriction'}`
    case 'analog-function':
      return `${who(p.target)}: analog function ${p.output}${p.output === 1 ? ' (volume)' : ''} = ${p.value}`
    case 'speed-and-functions': {
      const on = p.functions.flatMap((byte, i) => bitsOf(byte).map((b) => 8 * i + b))
      return `${who(p.target)}: ${motion(p, 126, false)}, ${functionWords(on)} of F0 to F${8 * p.functions.length - 1}`
    }
    case 'functions': {
      return `${who(p.target)}: ${functionWords(p.on)} of ${groupRange(p.group)}`
    }
    case 'binary-state':
      return `${who(p.target)}: ${p.state === 0 ? 'all binary states' : `binary state ${p.state}`} ${onOff(p.on)}`
    case 'consist':
      if (p.consist === 0) return `${who(p.target)}: leave the consist`
      return `${who(p.target)}: join consist ${p.consist}, running ${p.reversed ? 'reversed' : 'normal'}`
    case 'cv':
      return `${who(p.target)}: ${cvWords(p.access)} on the main`
    case 'cv-short':
      return `${who(p.target)}: write ${p.which} = ${p.values.join(', ')} on the main, short form`
    case 'cv-extended':
      return `${who(p.target)}: ${p.op} CV${p.cv} on the main, extended form, sequence ${p.sequence}${p.data.length ? `, data ${p.data.join(' ')}` : ''}`
    case 'layout-time': {
      const time = `${two(p.hour)}:${two(p.minute)}`
      const speed =
        p.factor === 0
          ? 'clock stopped'
          : p.factor === 1
            ? 'clock in real time'
            : `clock ${p.factor} times as fast as real time`
      const day = p.weekday === UNSET_WEEKDAY ? '' : `${WEEKDAYS[p.weekday]} `
      return `layout time ${day}${time}, ${speed}${p.update ? ', jumps' : ''}`
    }
    case 'layout-date':
      return `layout date ${p.year}-${two(p.month)}-${two(p.day)}`
    case 'system-time':
      return `system time ${p.milliseconds} ms`
    case 'station-capabilities':
      return `station capabilities ${formatBytes(p.data)}`
    case 'accessory': {
      if (p.board === 'all' && !p.on && p.pair === 0 && p.output === 0)
        return 'all accessories: emergency off'
      return `${boardWords(p.board, p.pair, options)}: output ${p.output} ${onOff(p.on)}`
    }
    case 'extended-accessory': {
      const aspect = p.aspect === 0 ? 'aspect 0 (stop)' : `aspect ${p.aspect}`
      if (p.address === 'all') return `all extended accessories: ${aspect}`
      return `${extendedWords(p.address, options)}: ${aspect}`
    }
    case 'accessory-poll':
      return `${boardWords(p.board, p.pair, options)}: no operation, ${p.extended ? 'extended' : 'basic'}`
    case 'accessory-cv': {
      const part = p.output === 'whole' ? 'whole decoder' : `output ${p.output}`
      return `accessory board ${p.board}, ${part}: ${cvWords(p.access)} on the main`
    }
    case 'extended-accessory-cv':
      return `${extendedWords(p.address, options)}: ${cvWords(p.access)} on the main`
    case 'accessory-cv-legacy':
      return `accessory board ${p.board}: write CV${p.cv} = ${p.value} on the main, old form`
    case 'advanced-extended':
      return `advanced extended packet, ${p.data.length} bytes: ${formatBytes(p.data)}`
    case 'automatic-logon':
      return `automatic logon by unique ID, ${p.data.length} bytes: ${formatBytes(p.data)}`
    case 'service-direct':
      return `service mode, direct: ${cvWords(p.access)}`
    case 'service-register':
      return registerPacketWords(p)
    case 'service-address-query':
      return `service mode: is the address ${p.address}?`
    case 'service-lock':
      return `service mode: lock all but address ${p.address}`
  }
}

function registerPacketWords(p: Extract<Packet, { kind: 'service-register' }>): string {
  return `service mode: ${registerWords(p)}`
}

/** Words for an instruction to a register: `write register 5 (CV29) = 6`. */
export function registerWords(p: Extract<Packet, { kind: 'service-register' }>): string {
  if (p.op === 'write' && p.register === 6 && p.value === 1) return 'page preset'
  if (p.op === 'write' && p.register === 8 && p.value === 8) return 'decoder factory reset'
  const verb = p.op === 'write' ? 'write' : 'verify'
  const eq = p.op === 'write' ? '=' : 'is'
  if (p.register === 1) return `${verb} register 1 (address, CV1) ${eq} ${p.value}`
  const names: Record<number, string> = { 5: 'CV29', 6: 'page', 7: 'version, CV7', 8: 'maker, CV8' }
  const name = names[p.register] ?? `CV${p.register}, or of the page`
  const first = pagedCv(p.value, 1)
  const page = p.register === 6 ? `, holds CV${first} to CV${first + 3}` : ''
  return `${verb} register ${p.register} (${name}) ${eq} ${p.value}${page}`
}

export function flagWords(code: number): string {
  const words: Record<number, string> = {
    0: 'disable CV access instructions',
    4: 'disable acknowledgement requests',
    5: 'activate bidirectional communication',
    8: 'set bidirectional communication for the sub-address',
    9: 'set CV access instructions for the sub-address',
    15: 'accept one CV access instruction',
  }
  return words[code] ?? `set reserved flag ${code}`
}

/** Words for a target: `locomotive 3`, `locomotive 1234 (long)`, `all decoders`. */
export function who(target: Target): string {
  if (target.kind === 'all') return 'all decoders'
  return `locomotive ${target.address}${target.kind === 'long' ? ' (long)' : ''}`
}

function motion(
  p: { step: number; forward: boolean; emergency: boolean },
  of: number,
  directionIgnored: boolean,
): string {
  if (p.step === 0) {
    const stop = p.emergency ? 'emergency stop' : 'stop'
    return directionIgnored ? `${stop}, direction may be ignored` : `${stop}, ${way(p.forward)}`
  }
  return `${way(p.forward)} step ${p.step} of ${of}`
}

export function cvWords(a: CvAccess): string {
  if (a.op === 'verify') return `verify CV${a.cv} is ${a.value}`
  if (a.op === 'write') return `write CV${a.cv} = ${a.value}`
  if (a.op === 'verify-bit') return `verify CV${a.cv} bit ${a.bit} is ${a.value}`
  return `write CV${a.cv} bit ${a.bit} = ${a.value}`
}

export function functionWords(on: readonly number[]): string {
  if (on.length === 0) return 'none on'
  return `${on.map((f) => (f === 0 ? 'FL' : `F${f}`)).join(' ')} on`
}

/** The number by the offset setting, with what is on the wire beside it: texts disagree about the numbering. */
function boardWords(board: Board, pair: number, options: PacketOptions): string {
  if (board === 'all') return `all accessories, pair ${pair}`
  return numberWords('accessory', 4 * board + pair, `board ${board}, pair ${pair}`, options)
}

export function extendedWords(address: number, options: PacketOptions): string {
  return numberWords('extended accessory', address, `wire address ${address}`, options)
}

/** The functions of a group, `F5 to F8`. */
export function groupRange(group: FunctionGroup): string {
  if (group === 0) return 'FL, F1 to F4'
  return `F${group} to F${group + (group < 13 ? 3 : 7)}`
}

function numberWords(what: string, wireAddress: number, wire: string, options: PacketOptions): string {
  const number = accessoryNumber(wireAddress, options.accessoryOffset)
  return number < 1 ? `${what} before number 1 (${wire})` : `${what} ${number} (${wire})`
}

/** Low six bits of restricted speed, read as a baseline byte has them: direction, then the 28-step code (derived). */
function restricted(code: number): string {
  const step = (((code & 15) << 1) | ((code >> 4) & 1)) - 3
  return step < 1 ? `code ${code}` : `step ${step} of 28 (code ${code})`
}

export function bitsOf(byte: number): number[] {
  return [0, 1, 2, 3, 4, 5, 6, 7].filter((b) => byte & (1 << b))
}

export function way(forward: boolean): string {
  return forward ? 'forward' : 'reverse'
}

function onOff(on: boolean): string {
  return on ? 'on' : 'off'
}

function two(n: number): string {
  return String(n).padStart(2, '0')
}
