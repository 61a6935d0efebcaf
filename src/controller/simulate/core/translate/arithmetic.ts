/** Instructions on registers and flags alone, as WebAssembly. */

import { FLAG } from '../flags.data.js'
import { OP } from '../operations.data.js'
import type { BlockContext } from './context.js'
import type { Instruction } from './flow.js'
import { LAYOUT } from './layout.data.js'
import {
  flagsOfBit,
  flagsOfDifference,
  flagsOfLogic,
  flagsOfProduct,
  flagsOfShift,
  flagsOfStep,
  flagsOfSum,
  flagsOfWord,
  flagsSet,
  push,
  type Value,
} from './status.js'

export const isArithmetic = (op: number) =>
  op <= OP.BCLR ? op !== OP.ILLEGAL && op !== OP.CPSE : op === OP.BST || op === OP.BLD

export function writeArithmetic(context: BlockContext, { op, operation }: Instruction): void {
  const { w, registers, status } = context
  const d = (operation >> 8) & 255
  const other = operation >>> 16
  const constant: Value = { constant: other }
  switch (op) {
    case OP.NOP:
      break
    case OP.ADD:
    case OP.ADC:
      sum(context, d, registers.read(d), registers.read(other), op === OP.ADC)
      break
    case OP.SUB:
    case OP.SBC:
      difference(context, d, registers.read(d), registers.read(other), op === OP.SBC)
      break
    case OP.CP:
    case OP.CPC:
      difference(context, undefined, registers.read(d), registers.read(other), op === OP.CPC)
      break
    case OP.CPI:
      difference(context, undefined, registers.read(d), constant, false)
      break
    case OP.SUBI:
    case OP.SBCI:
      difference(context, d, registers.read(d), constant, op === OP.SBCI)
      break
    case OP.NEG:
      difference(context, d, { constant: 0 }, registers.read(d), false)
      break
    case OP.AND:
    case OP.OR:
    case OP.EOR:
      logic(context, op, d, registers.read(d), registers.read(other), op === OP.EOR && d === other)
      break
    case OP.ANDI:
    case OP.ORI:
      logic(context, op === OP.ANDI ? OP.AND : OP.OR, d, registers.read(d), constant, false)
      break
    case OP.COM:
      push(w, registers.read(d)).value(255).xor()
      status.note(flagsOfLogic(registers.writeTop(d), true))
      break
    case OP.INC:
    case OP.DEC: {
      const isUp = op === OP.INC
      push(w, registers.read(d))
        .plus(isUp ? 1 : -1)
        .masked(255)
      status.note(flagsOfStep(registers.writeTop(d), isUp ? LAYOUT.incFlags : LAYOUT.decFlags))
      break
    }
    case OP.SWAP: {
      const value = registers.read(d)
      push(w, value).value(4).shr()
      push(w, value).value(4).shl().or().masked(255)
      registers.writeTop(d)
      break
    }
    case OP.MOV:
      registers.write(d, registers.read(other))
      break
    case OP.MOVW: {
      const [low, high] = [registers.read(other), registers.read(other + 1)]
      registers.write(d, low)
      registers.write(d + 1, high)
      break
    }
    case OP.LDI:
      registers.write(d, constant)
      break
    case OP.ASR:
    case OP.LSR:
    case OP.ROR:
      shift(context, op, d)
      break
    case OP.ADIW:
    case OP.SBIW: {
      const before = registers.readPair(d)
      push(w, before)
        .plus(op === OP.ADIW ? other : -other)
        .masked(0xffff)
      status.note(flagsOfWord(before, registers.writePairTop(d), op === OP.ADIW))
      break
    }
    case OP.MUL:
    case OP.MULS:
    case OP.MULSU:
    case OP.FMUL:
    case OP.FMULS:
    case OP.FMULSU:
      multiply(context, op, registers.read(d), registers.read(other))
      break
    case OP.BSET:
    case OP.BCLR:
      status.note(flagsSet(d, op === OP.BSET))
      break
    case OP.BST:
      status.note(flagsOfBit(registers.read(d), other))
      break
    case OP.BLD: {
      const value = registers.read(d)
      const readT = status.reader(FLAG.T)
      push(w, value).masked(~other & 255)
      readT()
      w.value(31 - Math.clz32(other))
        .shl()
        .or()
      registers.writeTop(d)
    }
  }
}

/** The carry as a value that stays. */
function carryOf({ status, registers }: BlockContext): Value {
  status.reader(FLAG.C)()
  return registers.keep()
}

function sum(context: BlockContext, d: number, a: Value, b: Value, withCarry: boolean): void {
  const { w, registers, status } = context
  const carry = withCarry ? carryOf(context) : undefined
  push(w, a)
  push(w, b).add()
  if (carry !== undefined) push(w, carry).add()
  w.masked(255)
  registers.writeTop(d)
  status.note(flagsOfSum({ a, b, carry }))
}

/** @param d where the difference goes; undefined: nowhere, it is a comparison */
function difference(
  context: BlockContext,
  d: number | undefined,
  a: Value,
  b: Value,
  withCarry: boolean,
): void {
  const { w, registers, status } = context
  const carry = withCarry ? carryOf(context) : undefined
  const zeroBefore = withCarry ? status.reader(FLAG.Z) : undefined
  if (d !== undefined) {
    push(w, a)
    push(w, b).sub()
    if (carry !== undefined) push(w, carry).sub()
    w.masked(255)
    registers.writeTop(d)
  }
  status.note(flagsOfDifference({ a, b, carry }, zeroBefore))
}

function logic(
  { w, registers, status }: BlockContext,
  op: number,
  d: number,
  a: Value,
  b: Value,
  clears: boolean,
): void {
  if (clears) {
    registers.write(d, { constant: 0 })
    status.note(flagsOfLogic({ constant: 0 }))
    return
  }
  push(w, a)
  push(w, b)
  if (op === OP.AND) w.and()
  else if (op === OP.OR) w.or()
  else w.xor()
  status.note(flagsOfLogic(registers.writeTop(d)))
}

function shift({ w, registers, status }: BlockContext, op: number, d: number): void {
  const before = registers.read(d)
  push(w, before).value(1).shr()
  if (op === OP.ASR) push(w, before).masked(128).or()
  else if (op === OP.ROR) {
    status.reader(FLAG.C)()
    w.value(7).shl().or()
  }
  status.note(flagsOfShift(before, registers.writeTop(d)))
}

function multiply({ w, registers, status }: BlockContext, op: number, a: Value, b: Value): void {
  const isUnsigned = op === OP.MUL || op === OP.FMUL
  push(w, a)
  if (!isUnsigned) w.signed8()
  push(w, b)
  if (op === OP.MULS || op === OP.FMULS) w.signed8()
  w.mul().masked(0xffff)
  const product = registers.keep()
  let kept = product
  if (op === OP.FMUL || op === OP.FMULS || op === OP.FMULSU) {
    push(w, product).value(1).shl().masked(0xffff)
    kept = registers.keep()
  }
  registers.writePair(0, kept)
  status.note(flagsOfProduct(product, kept))
}
