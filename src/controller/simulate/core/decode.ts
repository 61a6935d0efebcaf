/**
 * AVR machine words → packed operations for the dispatcher in `core.ts`. One 32-bit entry per flash word: the
 * operation's number in the low byte, its operands above. Source: AVR Instruction Set Manual (DS40002198), from memory;
 * held to the compiler's disassembly and to avr8js by tests.
 */

import { OP } from './operations.data.js'

/** Whether the instruction that begins with `word` takes two words (LDS, STS, JMP, CALL). */
export function isTwoWords(word: number): boolean {
  return (word & 0xfc0f) === 0x9000 || (word & 0xfe0c) === 0x940c
}

/**
 * Decode the whole flash.
 * @param words flash, its length a power of two.
 * @param longCounter the program counter has 22 bits: extended jumps, calls and loads exist.
 * @returns one entry per word and a last one that continues at 0.
 */
export function decodeFlash(words: Uint16Array, longCounter: boolean): Int32Array {
  const code = new Int32Array(words.length + 1)
  for (let i = 0; i < words.length; i++) code[i] = decode(words, i, longCounter)
  code[words.length] = OP.WRAP
  return code
}

const two = (op: number, a: number, b: number) => op | (a << 8) | (b << 16)

/** The packed operation of the word at `at`. */
export function decode(words: Uint16Array, at: number, longCounter: boolean): number {
  const w = words[at]!
  const mask = words.length - 1
  const next = words[(at + 1) & mask]!
  const d5 = (w >> 4) & 31
  const r5 = (w & 15) | ((w >> 5) & 16)
  const skip = isTwoWords(next) ? 2 : 1
  switch (w >> 10) {
    case 0:
      return decodeMultiply(w)
    case 1:
      return two(OP.CPC, d5, r5)
    case 2:
      return two(OP.SBC, d5, r5)
    case 3:
      return two(OP.ADD, d5, r5)
    case 4:
      return two(OP.CPSE, d5, r5 | (skip << 8))
    case 5:
      return two(OP.CP, d5, r5)
    case 6:
      return two(OP.SUB, d5, r5)
    case 7:
      return two(OP.ADC, d5, r5)
    case 8:
      return two(OP.AND, d5, r5)
    case 9:
      return two(OP.EOR, d5, r5)
    case 10:
      return two(OP.OR, d5, r5)
    case 11:
      return two(OP.MOV, d5, r5)
  }
  const d4 = 16 + ((w >> 4) & 15)
  const k8 = ((w >> 4) & 0xf0) | (w & 15)
  switch (w >> 12) {
    case 3:
      return two(OP.CPI, d4, k8)
    case 4:
      return two(OP.SBCI, d4, k8)
    case 5:
      return two(OP.SUBI, d4, k8)
    case 6:
      return two(OP.ORI, d4, k8)
    case 7:
      return two(OP.ANDI, d4, k8)
    case 8:
    case 10: {
      // LDD and STD with displacement; displacement 0 is the plain LD and ST.
      const q = (w & 7) | ((w >> 7) & 0x18) | ((w >> 8) & 0x20)
      return two(w & 0x200 ? OP.ST : OP.LD, d5, (w & 8 ? 28 : 30) | (q << 8))
    }
    case 9:
      return decode9(w, next, at, mask, longCounter, skip)
    case 11: {
      const address = ((w & 15) | ((w >> 5) & 0x30)) + 0x20
      const out = (w & 0x800) !== 0
      if (address === 0x5f) return two(out ? OP.OUT_SREG : OP.IN_SREG, d5, 0)
      if (address === 0x5d) return two(out ? OP.OUT_SPL : OP.IN_SPL, d5, 0)
      if (address === 0x5e) return two(out ? OP.OUT_SPH : OP.IN_SPH, d5, 0)
      return two(out ? OP.OUT : OP.IN, d5, address)
    }
    case 12:
    case 13: {
      const target = (at + 1 + (((w & 0xfff) << 20) >> 20)) & mask
      if (w >> 12 === 13) return OP.RCALL | (target << 8)
      if (target === 0 && at !== 0) return two(OP.TO_ZERO, 2, 0)
      return (target <= at ? OP.RJMP_BACK : OP.RJMP) | (target << 8)
    }
    case 14:
      return two(OP.LDI, d4, k8)
    default:
      return decode15(w, at, mask, d5, skip)
  }
}

function decodeMultiply(w: number): number {
  switch (w >> 8) {
    case 0:
      return w === 0 ? OP.NOP : OP.ILLEGAL
    case 1:
      return two(OP.MOVW, ((w >> 4) & 15) * 2, (w & 15) * 2)
    case 2:
      return two(OP.MULS, 16 + ((w >> 4) & 15), 16 + (w & 15))
    default: {
      const op = [OP.MULSU, OP.FMUL, OP.FMULS, OP.FMULSU][((w >> 6) & 2) | ((w >> 3) & 1)]!
      return two(op, 16 + ((w >> 4) & 7), 16 + (w & 7))
    }
  }
}

function decode9(
  w: number,
  next: number,
  at: number,
  mask: number,
  longCounter: boolean,
  skip: number,
): number {
  const d5 = (w >> 4) & 31
  switch ((w >> 8) & 15) {
    case 0:
    case 1:
      return decodeLoad(w, next, d5, longCounter)
    case 2:
    case 3:
      return decodeStore(w, next, d5)
    case 4:
    case 5:
      return decode94(w, next, at, mask, longCounter, d5)
    case 6:
    case 7:
      return two(w & 0x100 ? OP.SBIW : OP.ADIW, 24 + ((w >> 3) & 6), (w & 15) | ((w >> 2) & 0x30))
    case 8:
    case 9:
    case 10:
    case 11: {
      const op = [OP.CBI, OP.SBIC, OP.SBI, OP.SBIS][(w >> 8) & 3]!
      return two(op, 1 << (w & 7), (((w >> 3) & 31) + 0x20) | (skip << 8))
    }
    default:
      return two(OP.MUL, d5, (w & 15) | ((w >> 5) & 16))
  }
}

function decodeLoad(w: number, next: number, d: number, longCounter: boolean): number {
  switch (w & 15) {
    case 0:
      return two(OP.LDS, d, next)
    case 1:
      return two(OP.LD_INC, d, 30)
    case 2:
      return two(OP.LD_DEC, d, 30)
    case 4:
      return two(OP.LPM, d, 0)
    case 5:
      return two(OP.LPM_INC, d, 0)
    case 6:
      return longCounter ? two(OP.ELPM, d, 0) : OP.ILLEGAL
    case 7:
      return longCounter ? two(OP.ELPM_INC, d, 0) : OP.ILLEGAL
    case 9:
      return two(OP.LD_INC, d, 28)
    case 10:
      return two(OP.LD_DEC, d, 28)
    case 12:
      return two(OP.LD, d, 26)
    case 13:
      return two(OP.LD_INC, d, 26)
    case 14:
      return two(OP.LD_DEC, d, 26)
    case 15:
      return two(OP.POP, d, 0)
    default:
      return OP.ILLEGAL
  }
}

function decodeStore(w: number, next: number, d: number): number {
  switch (w & 15) {
    case 0:
      return two(OP.STS, d, next)
    case 1:
      return two(OP.ST_INC, d, 30)
    case 2:
      return two(OP.ST_DEC, d, 30)
    case 9:
      return two(OP.ST_INC, d, 28)
    case 10:
      return two(OP.ST_DEC, d, 28)
    case 12:
      return two(OP.ST, d, 26)
    case 13:
      return two(OP.ST_INC, d, 26)
    case 14:
      return two(OP.ST_DEC, d, 26)
    case 15:
      return two(OP.PUSH, d, 0)
    default:
      return OP.ILLEGAL
  }
}

const ONE_REGISTER: Readonly<Record<number, number>> = {
  0: OP.COM,
  1: OP.NEG,
  2: OP.SWAP,
  3: OP.INC,
  5: OP.ASR,
  6: OP.LSR,
  7: OP.ROR,
  10: OP.DEC,
}

function decode94(
  w: number,
  next: number,
  at: number,
  mask: number,
  longCounter: boolean,
  d: number,
): number {
  const low = w & 15
  const single = ONE_REGISTER[low]
  if (single !== undefined) return two(single, d, 0)
  if (low >= 12) {
    const target = ((((w >> 3) & 0x3e) | (w & 1)) * 0x10000 + next) & mask
    if (low >= 14) return OP.CALL | (target << 8)
    if (target === 0 && at !== 0) return two(OP.TO_ZERO, 3, 0)
    return (target <= at ? OP.JMP_BACK : OP.JMP) | (target << 8)
  }
  if ((w & 0xff0f) === 0x9408) {
    const bit = (w >> 4) & 7
    const clear = (w & 0x80) !== 0
    if (bit === 7) return clear ? OP.CLI : OP.SEI
    return two(clear ? OP.BCLR : OP.BSET, 1 << bit, 0)
  }
  switch (w) {
    case 0x9409:
      return OP.IJMP
    case 0x9419:
      return longCounter ? OP.EIJMP : OP.ILLEGAL
    case 0x9508:
      return OP.RET
    case 0x9509:
      return OP.ICALL
    case 0x9518:
      return OP.RETI
    case 0x9519:
      return longCounter ? OP.EICALL : OP.ILLEGAL
    case 0x9588:
      return OP.SLEEP
    case 0x9598:
      return OP.BREAK
    case 0x95a8:
      return OP.WDR
    case 0x95c8:
      return two(OP.LPM, 0, 0)
    case 0x95d8:
      return longCounter ? two(OP.ELPM, 0, 0) : OP.ILLEGAL
    case 0x95e8:
      return OP.SPM
    default:
      return OP.ILLEGAL
  }
}

function decode15(w: number, at: number, mask: number, d5: number, skip: number): number {
  if (w < 0xf800) {
    const target = (at + 1 + (((w & 0x3f8) << 22) >> 25)) & mask
    const back = target <= at
    const op = w & 0x400 ? (back ? OP.BRBC_BACK : OP.BRBC) : back ? OP.BRBS_BACK : OP.BRBS
    return op | ((w & 7) << 8) | (target << 11)
  }
  if ((w & 8) !== 0) return OP.ILLEGAL
  const bit = 1 << (w & 7)
  switch ((w >> 9) & 3) {
    case 0:
      return two(OP.BLD, d5, bit)
    case 1:
      return two(OP.BST, d5, bit)
    case 2:
      return two(OP.SBRC, d5, bit | (skip << 8))
    default:
      return two(OP.SBRS, d5, bit | (skip << 8))
  }
}
