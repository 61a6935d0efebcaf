/** Packets from a kind and named fields, as the command line and forms give them. */
import { accessoryPlace, extendedWireAddress } from './accessory.js'
import { KINDS } from './kinds.data.js'
import {
  type Board,
  type CvAccess,
  FUNCTION_GROUPS,
  type FunctionGroup,
  type Packet,
  type PacketOptions,
  type Target,
} from './packet.js'
import { pageOfCv } from './paging.js'

/** One field of a kind: what it is called, its range in words. */
export interface FieldInfo {
  name: string
  says: string
  /** A switch that is on when named. */
  flag?: boolean
  optional?: boolean
}

/** Values as text, switches as true. */
export type Fields = Readonly<Record<string, string | boolean | undefined>>

/**
 * Make a packet from a kind and its fields.
 * @param options the accessory offset, for `number`.
 * @throws RangeError naming the field that is missing, unknown or no number.
 */
export function packetFromFields(kind: string, fields: Fields, options: PacketOptions = {}): Packet {
  const info = KINDS.find((k) => k.kind === kind)
  if (!info) throw new RangeError(`no kind ${kind}; expected one of ${KINDS.map((k) => k.kind).join(', ')}`)
  for (const [name, value] of Object.entries(fields)) {
    if (value === undefined || value === false) continue
    if (!info.fields.some((f) => f.name === name)) {
      const known = info.fields.map((f) => f.name).join(', ') || 'no fields'
      throw new RangeError(`${kind} takes ${known}; found ${name}`)
    }
  }
  return info.make(new FieldReader(kind, info.fields, fields, options.accessoryOffset))
}

/**
 * The same for what may take more than one packet: functions of several groups.
 * @throws RangeError as {@link packetFromFields} does.
 */
export function packetsFromFields(kind: string, fields: Fields, options: PacketOptions = {}): Packet[] {
  const on = typeof fields.on === 'string' ? fields.on.split(/[ ,]+/).filter(Boolean) : []
  if (
    kind !== 'functions' ||
    typeof fields.group === 'string' ||
    on.length < 2 ||
    !on.every((f) => /^\d{1,2}$/.test(f))
  )
    return [packetFromFields(kind, fields, options)]
  const groups = new Map<number, string[]>()
  for (const f of on) {
    const group = FUNCTION_GROUPS.findLast((g) => g <= Number(f)) ?? 0
    groups.set(group, [...(groups.get(group) ?? []), f])
  }
  return [...groups.values()].map((list) =>
    packetFromFields(kind, { ...fields, on: list.join(',') }, options),
  )
}

/** The fields of one packet to be made, read as what they should be. */
export class FieldReader {
  readonly #kind: string
  readonly #infos: readonly FieldInfo[]
  readonly #fields: Fields
  readonly #offset: number | undefined

  constructor(kind: string, infos: readonly FieldInfo[], fields: Fields, offset?: number) {
    this.#kind = kind
    this.#infos = infos
    this.#fields = fields
    this.#offset = offset
  }

  text(name: string): string | undefined {
    const value = this.#fields[name]
    return typeof value === 'string' ? value : undefined
  }

  on(name: string): boolean {
    return this.#fields[name] === true
  }

  has(name: string): boolean {
    return this.#fields[name] !== undefined && this.#fields[name] !== false
  }

  number(name: string, otherwise?: number): number {
    const given = this.text(name)
    if (given === undefined && otherwise !== undefined) return otherwise
    return this.#whole(name, given ?? this.missing(name))
  }

  /** Numbers apart by commas or spaces; none when it is not given. */
  list(name: string): number[] {
    const parts = (this.text(name) ?? '').split(/[ ,]+/).filter(Boolean)
    return parts.map((part) => this.#whole(name, part))
  }

  choice<T extends string>(name: string, choices: readonly T[]): T {
    const given = this.text(name) ?? this.missing(name)
    const found = choices.find((c) => c === given)
    if (found === undefined) throw new RangeError(`${name} is ${given}; expected ${choices.join(', ')}`)
    return found
  }

  missing(name: string): never {
    throw new RangeError(`${this.#kind} needs ${name}: ${this.#says(name)}`)
  }

  #says(name: string): string {
    return this.#infos.find((f) => f.name === name)?.says ?? name
  }

  #whole(name: string, text: string): number {
    if (/^(0|[1-9]\d{0,8})$/.test(text)) return Number(text)
    if (/^0x[0-9a-f]{1,6}$/i.test(text)) return Number(text)
    // Bytes written one after another, most likely: as a decimal number it would be another one.
    if (/^0\d+$/.test(text))
      throw new RangeError(
        `${name} is ${text}; expected a decimal number without zeros in front, or hexadecimal such as 0x${text.slice(0, 2)}: ${this.#says(name)}`,
      )
    throw new RangeError(`${name} is ${text}; expected a whole number: ${this.#says(name)}`)
  }

  target(): Target {
    const address = this.number('address')
    if (this.on('long')) return { kind: 'long', address }
    return address === 0 ? { kind: 'all' } : { kind: 'short', address }
  }

  forward(): boolean {
    if (this.on('forward') && this.on('reverse')) throw new RangeError('both forward and reverse are given')
    return !this.on('reverse')
  }

  /** Step and emergency stop; an emergency stop needs no step. */
  motion(): { step: number; forward: boolean; emergency: boolean } {
    const emergency = this.on('emergency')
    return { step: this.number('step', emergency ? 0 : undefined), forward: this.forward(), emergency }
  }

  access(): CvAccess {
    const cv = this.number('cv')
    const value = this.number('value')
    if (this.text('bit') === undefined) return { op: this.on('write') ? 'write' : 'verify', cv, value }
    return { op: this.on('write') ? 'write-bit' : 'verify-bit', cv, bit: this.number('bit'), value }
  }

  /** Output pair by its number, or by board and pair. */
  pair(): { board: number; pair: number } {
    if (this.text('number') === undefined) return { board: this.number('board'), pair: this.number('pair') }
    if (this.has('board') || this.has('pair')) throw new RangeError('number is given, and board or pair too')
    return accessoryPlace(this.number('number'), this.#offset)
  }

  pairOrAll(): { board: Board; pair: number } {
    return this.text('board') === 'all' ? { board: 'all', pair: this.number('pair', 0) } : this.pair()
  }

  extendedAddress(): number {
    if (this.text('number') === undefined) return this.number('address')
    if (this.has('address')) throw new RangeError('number is given, and address too')
    return extendedWireAddress(this.number('number'), this.#offset)
  }

  /** The group that is named, or the one that holds the first function that is on. */
  group(on: readonly number[]): FunctionGroup {
    const wanted = on.length > 0 && !this.has('group') ? on[0]! : this.number('group')
    const group = this.has('group')
      ? FUNCTION_GROUPS.find((g) => g === wanted)
      : FUNCTION_GROUPS.findLast((g) => g <= wanted)
    if (group !== undefined) return group
    throw new RangeError(`group is ${wanted}; expected one of ${FUNCTION_GROUPS.join(', ')}`)
  }

  /** Content of the page register: given, or the page that holds a CV. */
  page(): number {
    return this.text('cv') === undefined ? this.number('page') : pageOfCv(this.number('cv')).page
  }
}
