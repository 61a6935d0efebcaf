/**
 * The status register inside a block. What an instruction does to the flags is noted, not computed: a flag is worked
 * out when something reads it, and the whole register only where the block is left. Flags that are overwritten unread
 * cost nothing.
 */
import { FLAG } from '../flags.data.js'
import { LAYOUT } from './layout.data.js'
import type { WasmWriter } from './writer.js'

/** A value that stays what it is until the block ends: a number, or a local that is written once. */
export type Value = { readonly constant: number } | { readonly local: number }

export function push(w: WasmWriter, value: Value): WasmWriter {
  return 'local' in value ? w.get(value.local) : w.value(value.constant)
}

/** How the flags in `mask` come about. */
export interface FlagSource {
  mask: number
  /** Leave all of them, at their places in SREG; other bits are 0. */
  all(w: WasmWriter): void
  /** Leave one of them as 0 or 1. @returns false where there is no shorter way than {@link all}. */
  one?(w: WasmWriter, flag: number): boolean
}

export const ARITHMETIC = FLAG.C | FLAG.Z | FLAG.N | FLAG.V | FLAG.S | FLAG.H
const WITHOUT_HALF = FLAG.C | FLAG.Z | FLAG.N | FLAG.V | FLAG.S
const LOGIC = FLAG.Z | FLAG.N | FLAG.V | FLAG.S

export class StatusInBlock {
  readonly #w: WasmWriter
  readonly #sreg: number
  #sources: FlagSource[] = []

  /** @param sreg the local that holds the register; I is always right there, the others once settled. */
  constructor(w: WasmWriter, sreg: number) {
    this.#w = w
    this.#sreg = sreg
  }

  /** An instruction sets these flags. */
  note(source: FlagSource): void {
    for (const earlier of this.#sources) earlier.mask &= ~source.mask
    this.#sources = this.#sources.filter((s) => s.mask !== 0)
    this.#sources.push(source)
  }

  /** The register was written as a whole. */
  forget(): void {
    this.#sources = []
  }

  /** A writer of one flag as it is now, 0 or 1; valid until the register is settled. */
  reader(flag: number): () => void {
    const w = this.#w
    const source = this.#sources.find((s) => (s.mask & flag) !== 0)
    const place = 31 - Math.clz32(flag)
    return () => {
      if (source?.one?.(w, flag)) return
      if (source === undefined) w.get(this.#sreg)
      else source.all(w)
      if (place > 0) w.value(place).shr()
      w.masked(1)
    }
  }

  /** Leave the register's value. */
  push(): void {
    const w = this.#w
    const noted = this.#sources.reduce((mask, s) => mask | s.mask, 0)
    w.get(this.#sreg)
    if (noted === 0) return
    w.masked(~noted & 0xff)
    for (const source of this.#sources) {
      source.all(w)
      w.masked(source.mask).or()
    }
  }

  /** Bring the local up to date, on a way that leaves the block: what is noted stays noted for the other way. */
  settleForExit(): void {
    if (this.#sources.length === 0) return
    this.push()
    this.#w.set(this.#sreg)
  }

  /** Bring the local up to date. */
  settle(): void {
    this.settleForExit()
    this.#sources = []
  }
}

/** The low byte of a result and what it was made from. */
interface Operands {
  a: Value
  b: Value
  /** Carry or borrow, 0 or 1. */
  carry?: Value | undefined
}

function tableIndex(w: WasmWriter, { a, b, carry }: Operands): WasmWriter {
  push(w, a).value(8).shl()
  push(w, b).or()
  if (carry !== undefined) push(w, carry).value(16).shl().or()
  return w
}

/** a + b + carry */
export function flagsOfSum(operands: Operands): FlagSource {
  const { a, b, carry } = operands
  const sum = (w: WasmWriter) => {
    push(w, a)
    push(w, b).add()
    if (carry !== undefined) push(w, carry).add()
    return w
  }
  return {
    mask: ARITHMETIC,
    all: (w) => tableIndex(w, operands).load8(LAYOUT.addFlags),
    one(w, flag) {
      if (flag === FLAG.C) sum(w).value(8).shr()
      else if (flag === FLAG.Z) sum(w).masked(255).isZero()
      else if (flag === FLAG.N) sum(w).value(7).shr().masked(1)
      else return false
      return true
    },
  }
}

/**
 * a − b − borrow.
 * @param zeroBefore with it the result is part of a longer one: Z stays only if it was set before.
 */
export function flagsOfDifference(operands: Operands, zeroBefore?: () => void): FlagSource {
  const { a, b, carry } = operands
  const difference = (w: WasmWriter) => {
    push(w, a)
    push(w, b).sub()
    if (carry !== undefined) push(w, carry).sub()
    return w
  }
  return {
    mask: ARITHMETIC,
    all(w) {
      tableIndex(w, operands).load8(LAYOUT.subFlags)
      if (zeroBefore === undefined) return
      zeroBefore()
      w.value(1).shl().value(0xfd).or().and()
    },
    one(w, flag) {
      if (flag === FLAG.Z) {
        if (carry === undefined) {
          push(w, a)
          push(w, b).equal()
        } else difference(w).masked(255).isZero()
        if (zeroBefore !== undefined) {
          zeroBefore()
          w.and()
        }
      } else if (flag === FLAG.C) {
        if (carry === undefined) {
          push(w, a)
          push(w, b).less()
        } else difference(w).value(31).shr()
      } else if (flag === FLAG.N) difference(w).value(7).shr().masked(1)
      else if (flag === FLAG.S) {
        push(w, a).signed8()
        push(w, b).signed8()
        if (carry !== undefined) {
          w.sub()
          push(w, carry).sub().value(31).shr()
        } else w.lessSigned()
      } else return false
      return true
    },
  }
}

/** Of AND, OR and EOR; COM sets the carry too. */
export function flagsOfLogic(result: Value, setsCarry = false): FlagSource {
  return {
    mask: setsCarry ? LOGIC | FLAG.C : LOGIC,
    all(w) {
      push(w, result).load8(LAYOUT.logicFlags)
      if (setsCarry) w.value(FLAG.C).or()
    },
    one: (w, flag) => flag === FLAG.Z && pushIsZero(w, result),
  }
}

/** Of INC and DEC. */
export function flagsOfStep(result: Value, table: number): FlagSource {
  return {
    mask: LOGIC,
    all: (w) => push(w, result).load8(table),
    one: (w, flag) => flag === FLAG.Z && pushIsZero(w, result),
  }
}

function pushIsZero(w: WasmWriter, value: Value): boolean {
  push(w, value).isZero()
  return true
}

/** Of ASR, LSR and ROR, from what was shifted and what came out. */
export function flagsOfShift(before: Value, result: Value): FlagSource {
  const carry = (w: WasmWriter) => push(w, before).masked(1)
  const negative = (w: WasmWriter) => push(w, result).value(7).shr()
  return {
    mask: WITHOUT_HALF,
    all(w) {
      // S is N xor V, and V is N xor C: so S is C.
      carry(w)
        .value(FLAG.C | FLAG.S)
        .mul()
      push(w, result).isZero().value(1).shl().or()
      negative(w).value(2).shl().or()
      negative(w)
      carry(w).xor().value(3).shl().or()
    },
    one(w, flag) {
      if (flag === FLAG.C) carry(w)
      else if (flag === FLAG.Z) push(w, result).isZero()
      else if (flag === FLAG.N) negative(w)
      else return false
      return true
    },
  }
}

/** Of ADIW and SBIW: 16 bits before and after. */
export function flagsOfWord(before: Value, result: Value, isSum: boolean): FlagSource {
  /** Bit 15 of one and not of the other. */
  const lost = (w: WasmWriter, first: Value, second: Value) => {
    push(w, first)
    push(w, second).value(-1).xor().and().value(15).shr()
  }
  const carry = (w: WasmWriter) => (isSum ? lost(w, before, result) : lost(w, result, before))
  const overflow = (w: WasmWriter) => (isSum ? lost(w, result, before) : lost(w, before, result))
  const negative = (w: WasmWriter) => push(w, result).value(15).shr()
  return {
    mask: WITHOUT_HALF,
    all(w) {
      carry(w)
      push(w, result).isZero().value(1).shl().or()
      negative(w).value(2).shl().or()
      overflow(w)
      w.value(3).shl().or()
      negative(w)
      overflow(w)
      w.xor().value(4).shl().or()
    },
    one(w, flag) {
      if (flag === FLAG.C) carry(w)
      else if (flag === FLAG.Z) push(w, result).isZero()
      else if (flag === FLAG.N) negative(w)
      else return false
      return true
    },
  }
}

/** Of the multiplications: bit 15 of the product, and whether what is kept of it is 0. */
export function flagsOfProduct(product: Value, kept: Value): FlagSource {
  return {
    mask: FLAG.C | FLAG.Z,
    all(w) {
      push(w, product).value(15).shr()
      push(w, kept).isZero().value(1).shl().or()
    },
  }
}

/** BSET and BCLR. */
export function flagsSet(mask: number, on: boolean): FlagSource {
  return {
    mask,
    all: (w) => w.value(on ? mask : 0),
    one(w) {
      w.value(on ? 1 : 0)
      return true
    },
  }
}

/** BST: T is one bit of a register. */
export function flagsOfBit(value: Value, bit: number): FlagSource {
  const pushBit = (w: WasmWriter) =>
    push(w, value)
      .value(31 - Math.clz32(bit))
      .shr()
      .masked(1)
  return {
    mask: FLAG.T,
    all: (w) => pushBit(w).value(6).shl(),
    one(w) {
      pushBit(w)
      return true
    },
  }
}
