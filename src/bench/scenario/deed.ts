/** What an act of a scenario file does on the bench: how it begins, and how it ends where it lasts. */
import { textBytes } from '../../controller/index.js'
import { type BenchAct, type BenchPlace, isHang } from '../station/acts.js'
import type { BenchSetup } from '../station/setup.js'
import { type ActDesign, DEED_KEYS } from './design.js'

export interface Deed {
  begins: BenchAct
  /** Undone so long after it began, us. */
  ends?: { after: number; act: BenchAct } | undefined
}

export type PlaceDesign = NonNullable<ActDesign['short']>['at']

/** Keys of the deeds that an act names; one is wanted. */
export function deedKeys(act: ActDesign): (keyof ActDesign)[] {
  return DEED_KEYS.filter((key) => act[key as keyof ActDesign] !== undefined) as (keyof ActDesign)[]
}

/** Acts that are commands for the station. */
const COMMANDS: readonly string[] = [
  'send',
  'drive',
  'function',
  'stop',
  'forget',
  'power',
  'service',
  'write',
  'verify',
  'read',
]

export function isCommand(act: ActDesign): boolean {
  return deedKeys(act).some((key) => COMMANDS.includes(key))
}

/** The only one of three ways to name a place that is used; undefined where none or several are. */
export function placeOf(at: PlaceDesign): BenchPlace | undefined {
  const { section, from, district, end, train } = at
  const ways = [section, district, train].filter((w) => w !== undefined)
  if (ways.length !== 1) return undefined
  if (section !== undefined) return { section, ...(from === undefined ? {} : { atMm: from }) }
  if (district !== undefined) return { district, end: end ?? 'weakest' }
  return { train: train! }
}

function bytesOf(text: string): string {
  return String.fromCharCode(...textBytes(text))
}

/**
 * @param index of the act in its scenario: what it leaves on the rails is named by it.
 * @throws PatternError for a text with a bad escape; undefined where the act names no place.
 */
export function deedOf(act: ActDesign, index: number, setup: BenchSetup): Deed | undefined {
  const addressOf = (train: string) => setup.decoders.find((d) => d.name === train)?.address ?? Number.NaN
  const name = act.name ?? `act ${index + 1}`
  const lasting = (begins: BenchAct, forUs: number | undefined, act: BenchAct): Deed =>
    forUs === undefined ? { begins } : { begins, ends: { after: forUs, act } }
  const command = (values: Extract<BenchAct, { act: 'command' }>['command']): Deed => {
    return { begins: { act: 'command', command: values } }
  }
  if (act.send !== undefined)
    return {
      begins: { act: 'say', text: bytesOf(act.send), ...(act.port === undefined ? {} : { port: act.port }) },
    }
  if (act.drive) {
    const { train, speed, reverse } = act.drive
    return command({ kind: 'speed', address: addressOf(train), speed, forward: reverse !== true })
  }
  if (act.function) {
    const { train, number, is } = act.function
    return command({ kind: 'function', address: addressOf(train), function: number, on: is === 'on' })
  }
  if (act.stop !== undefined)
    return command(act.stop === 'all' ? { kind: 'stop' } : { kind: 'stopOne', address: addressOf(act.stop) })
  if (act.forget !== undefined) return command({ kind: 'forget', address: addressOf(act.forget) })
  if (act.power) return command({ kind: act.power === 'on' ? 'powerOn' : 'powerOff' })
  if (act.service) return command({ kind: act.service === 'on' ? 'serviceOn' : 'serviceOff' })
  if (act.write) return command({ kind: 'write', ...act.write })
  if (act.verify) return command({ kind: 'verify', ...act.verify })
  if (act.read) return command({ kind: 'read', ...act.read })
  if (act.place) {
    const at = placeOf(act.place.at)
    return at && { begins: { act: 'place', train: act.place.train, at } }
  }
  if (act.remove !== undefined) return { begins: { act: 'remove', train: act.remove } }
  if (act.short) {
    const at = placeOf(act.short.at)
    const ohm = act.short.resistance ?? setup.contactOhm
    return at && lasting({ act: 'short', name, at, ohm }, act.short.lasts, { act: 'end-short', name })
  }
  if (act.load) {
    const at = placeOf(act.load.at)
    const { current: amp, lasts } = act.load
    return at && lasting({ act: 'load', name, at, amp }, lasts, { act: 'end-load', name })
  }
  if (act.derail) {
    const { train, resistance = setup.contactOhm } = act.derail
    return lasting({ act: 'derail', train, ohm: resistance }, act.derail.lasts, { act: 'rerail', train })
  }
  if (act.contact)
    return { begins: { act: 'lose-contact', train: act.contact.train, forUs: act.contact.lost } }
  if (act.dirt) {
    const at = placeOf(act.dirt.at)
    const lengthMm = act.dirt.length
    return at && lasting({ act: 'dirt', name, at, lengthMm }, act.dirt.lasts, { act: 'clean', name })
  }
  if (act.supply) {
    const { name: supply, voltage, lasts } = act.supply
    return { begins: { act: 'supply', supply, volt: voltage, forUs: lasts } }
  }
  if (act.noise) {
    const { district, voltage: volt, lasts: forUs } = act.noise
    return { begins: { act: 'noise', district, volt, forUs } }
  }
  if (act.acknowledge) {
    const { train, current: amp, lasts: forUs, after: afterUs, chopped: choppedUs } = act.acknowledge
    const all = Object.entries({ amp, forUs, afterUs, choppedUs })
    const how = Object.fromEntries(all.filter(([, figure]) => figure !== undefined))
    return { begins: { act: 'acknowledge', train, how } }
  }
  if (act.reset) return { begins: { act: 'reset' } }
  if (act.hold) {
    const { why, lasts, pins, others } = act.hold
    const held = { ...(pins ? { pins } : {}), ...(others ? { others } : {}) }
    return { begins: { act: 'hold', why, forUs: lasts, ...held } }
  }
  if (act.serviceTrack !== undefined) return { begins: { act: 'service-track', train: act.serviceTrack } }
  if (act.stuck) {
    const { train, lasts } = act.stuck
    return lasting({ act: 'stick-motor', train }, lasts, { act: 'free-motor', train })
  }
  if (act.fault) {
    const { id: fault, lasts } = act.fault
    return lasting({ act: 'track-fault', fault }, lasts, { act: 'mend-fault', fault })
  }
  return act.throw && { begins: { act: 'throw', ...act.throw } }
}

/** Of a short or a derailment: whether it puts something across the rails. */
export function isShort(act: ActDesign): boolean {
  return act.short !== undefined || act.derail !== undefined
}

/** Whether the program begins anew. */
export function isRestart(act: ActDesign): boolean {
  return act.reset === true || (act.hold !== undefined && !isHang(act.hold.why))
}
