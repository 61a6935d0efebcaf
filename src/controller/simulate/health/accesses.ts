/**
 * Where a program reads or writes a value of several bytes, one byte after the other: found in its instructions, before
 * it runs. A value is a variable of 2, 4 or 8 bytes by its symbol; without one, bytes that neighbouring registers of a
 * pair hold, which further instructions use as one number.
 */
import { CONDITIONAL_OPS, JUMP_OPS, OP } from '../core/operations.data.js'
import type { FirmwareSymbol } from '../image/image.js'

export interface Access {
  /** Word address of the instruction. */
  pc: number
  /** Address of the byte: absolute, or relative to the pointer's value before the first access. */
  offset: number
  register: number
  /** How far the pointer has moved before this instruction. */
  moved: number
}

/** Accesses to neighbouring bytes in straight code. */
export interface AccessGroup {
  kind: 'load' | 'store'
  /** First register of the pointer, 26, 28 or 30; 0: absolute addresses. */
  base: number
  accesses: Access[]
  /** The same bytes are read again at once and both reads compared: the program is safe. */
  verified: boolean
  /** The second read. */
  again: Access[]
}

const LOADS: ReadonlySet<number> = new Set([OP.LDS, OP.LD, OP.LD_INC, OP.LD_DEC])
const STORES: ReadonlySet<number> = new Set([OP.STS, OP.ST, OP.ST_INC, OP.ST_DEC])
/** Instructions after which another one may follow than the next, or that turn interrupts on or off. */
const LEAVES: ReadonlySet<number> = new Set([
  ...CONDITIONAL_OPS,
  ...JUMP_OPS,
  OP.ILLEGAL,
  OP.SEI,
  OP.CLI,
  OP.OUT_SREG,
  OP.SLEEP,
  OP.WRAP,
  OP.TO_ZERO,
])
/** Instructions looked at from the first access on. */
const WINDOW = 12
const MOST_BYTES = 8

const isWide = (op: number) =>
  op === OP.LDS || op === OP.STS || op === OP.JMP || op === OP.JMP_BACK || op === OP.CALL

/** Words of an instruction as decoded. */
export const wordsOf = (w: number) => (isWide(w & 255) ? 2 : 1)

/** Base, offset from the pointer and its change of a load or store; undefined for others. */
export function accessOf(
  w: number,
): { kind: 'load' | 'store'; base: number; offset: number; moves: number; register: number } | undefined {
  const op = w & 255
  const load = LOADS.has(op)
  if (!load && !STORES.has(op)) return undefined
  const register = (w >> 8) & 255
  const kind = load ? 'load' : 'store'
  if (op === OP.LDS || op === OP.STS) return { kind, base: 0, offset: w >>> 16, moves: 0, register }
  const base = (w >> 16) & 255
  if (op === OP.LD || op === OP.ST) return { kind, base, offset: w >>> 24, moves: 0, register }
  if (op === OP.LD_INC || op === OP.ST_INC) return { kind, base, offset: 0, moves: 1, register }
  return { kind, base, offset: -1, moves: -1, register }
}

/** All groups of two bytes and more. @param operation decoded instruction at a word address. */
export function accessGroups(operation: (pc: number) => number, words: number): AccessGroup[] {
  const groups: AccessGroup[] = []
  const grouped = new Set<number>()
  for (let pc = 0; pc < words; pc++) {
    if (grouped.has(pc) || accessOf(operation(pc)) === undefined) continue
    const group = groupAt(operation, pc, words)
    if (group.accesses.length < 2) continue
    groups.push(group)
    for (const { pc: own } of group.accesses) grouped.add(own)
    if (group.verified) for (const { pc: own } of group.again) grouped.add(own)
  }
  return groups
}

function groupAt(operation: (pc: number) => number, start: number, words: number): AccessGroup {
  const first = accessOf(operation(start))!
  const { kind, base } = first
  const group: AccessGroup = { kind, base, accesses: [], verified: false, again: [] }
  let moved = 0
  let pc = start
  for (let i = 0; i < WINDOW && pc < words; i++) {
    const w = operation(pc)
    const access = accessOf(w)
    if (access !== undefined && access.base === base) {
      const offset = access.offset + moved
      if (access.kind === kind) {
        const offsets = group.accesses.map((a) => a.offset)
        if (offsets.includes(offset)) group.again.push({ pc, offset, register: access.register, moved })
        const low = Math.min(offset, ...offsets)
        const high = Math.max(offset, ...offsets)
        if (!offsets.includes(offset) && high - low === group.accesses.length && high - low < MOST_BYTES) {
          group.accesses.push({ pc, offset, register: access.register, moved })
        }
      }
      moved += access.moves
      // The pointer itself was loaded.
      if (access.kind === 'load' && base !== 0 && (access.register | 1) === (base | 1)) break
    } else if (LEAVES.has(w & 255)) break
    else if (access === undefined && base !== 0 && (((w >> 8) & 255) | 1) === (base | 1)) break
    else if (isCompare(w, group)) group.verified = true
    pc += wordsOf(w)
  }
  return group
}

/** The last step of a comparison of both reads: CPC of the registers that hold the same byte. */
function isCompare(w: number, group: AccessGroup): boolean {
  if ((w & 255) !== OP.CPC || group.kind !== 'load') return false
  const pair = [(w >> 8) & 255, (w >> 16) & 255]
  return group.accesses.some(({ offset, register }) =>
    group.again.some(
      (a) =>
        a.offset === offset &&
        pair.includes(register) &&
        pair.includes(a.register) &&
        register !== a.register,
    ),
  )
}

/** A value that a group touches. */
export interface SharedValue {
  /** First address, and bytes. */
  address: number
  size: number
  name?: string
  /** It is one value for certain, not two of one byte each that lie side by side. */
  certain: boolean
}

/** Data symbols by the addresses they take. */
export class Variables {
  readonly #at = new Map<number, FirmwareSymbol>()
  readonly #any: boolean

  constructor(symbols: readonly FirmwareSymbol[]) {
    const data = symbols.filter((s) => s.kind === 'data' && s.size > 0 && s.size <= 0x4000)
    this.#any = data.length > 0
    for (const s of data) for (let i = 0; i < s.size; i++) this.#at.set(s.address + i, s)
  }

  /**
   * The values of a group, given where its offsets start. @param used whether instructions near it use two registers
   * as one number.
   */
  valuesOf(
    group: AccessGroup,
    origin: number,
    used: (low: number) => boolean,
  ): (SharedValue & { accesses: Access[] })[] {
    const values: (SharedValue & { accesses: Access[] })[] = []
    const rest: Access[] = []
    for (const access of group.accesses) {
      const symbol = this.#at.get(origin + access.offset)
      if (symbol === undefined || ![2, 4, 8].includes(symbol.size)) {
        // A variable of one byte is no shared value; parts of larger ones, and unknown bytes, may be.
        if (symbol?.size !== 1) rest.push(access)
        continue
      }
      const known = values.find((v) => v.address === symbol.address)
      if (known) {
        known.accesses.push(access)
        // The bytes of one value lie in registers one after the other; fields of a small structure need not.
        const [first] = known.accesses
        known.certain &&= access.register - first!.register === access.offset - first!.offset
      } else {
        const { address, size, name } = symbol
        values.push({ address, size, name, certain: true, accesses: [access] })
      }
    }
    return [...values.filter((v) => v.accesses.length > 1), ...this.#pairs(rest, origin, used)]
  }

  /** Neighbouring bytes in neighbouring registers that begin at an even one. */
  #pairs(
    accesses: readonly Access[],
    origin: number,
    used: (low: number) => boolean,
  ): (SharedValue & { accesses: Access[] })[] {
    const sorted = [...accesses].sort((a, b) => a.offset - b.offset)
    const values: (SharedValue & { accesses: Access[] })[] = []
    for (let i = 0; i + 1 < sorted.length; i++) {
      const [low, high] = [sorted[i]!, sorted[i + 1]!]
      if (high.offset !== low.offset + 1 || high.register !== low.register + 1 || low.register % 2 !== 0)
        continue
      const certain = used(low.register)
      const symbol = this.#at.get(origin + low.offset)
      if (this.#any && symbol === undefined) continue
      const address = origin + low.offset
      values.push({
        address,
        size: 2,
        ...(symbol ? { name: `${symbol.name}+${address - symbol.address}` } : {}),
        certain,
        accesses: [low, high],
      })
      i++
    }
    return values
  }
}

/** Whether instructions around a group use registers `low` and `low + 1` as one number. */
export function usedAsNumber(
  operation: (pc: number) => number,
  from: number,
  to: number,
  low: number,
): boolean {
  for (let pc = Math.max(0, from - 8); pc <= to + 8; pc++) {
    const w = operation(pc)
    const d = (w >> 8) & 255
    const r = (w >> 16) & 255
    switch (w & 255) {
      case OP.ADIW:
      case OP.SBIW:
        if (d === low) return true
        break
      case OP.MOVW:
        if (d === low || r === low) return true
        break
      case OP.ADC:
      case OP.SBC:
      case OP.CPC:
        if (d === low + 1 || r === low + 1) return true
        break
      case OP.SBCI:
        if (d === low + 1) return true
        break
      case OP.OR:
        if ((d === low && r === low + 1) || (d === low + 1 && r === low)) return true
    }
  }
  return false
}
