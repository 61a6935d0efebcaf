/** One block as WebAssembly: its instructions beyond arithmetic, and the order of its parts. */

import { FLAG } from '../flags.data.js'
import { OP } from '../operations.data.js'
import { isArithmetic, writeArithmetic } from './arithmetic.js'
import { BlockContext, isPointerExtension, LOCAL, plainCycles, type Ways } from './context.js'
import { type Block, type Instruction, isConditional, type Program } from './flow.js'
import { LAYOUT, RARE, STATE } from './layout.data.js'
import { pushByte, writeBranch, writeJump, writeReturn } from './leap.js'
import { push } from './status.js'
import type { WasmWriter } from './writer.js'

const RAMPZ = 0x5b
const Z = 30

/** Writes the whole block. @returns locals used by it. */
export function writeBlock(w: WasmWriter, program: Program, block: Block, ways: Ways): number {
  const context = new BlockContext(w, program, block, ways)
  const { instructions, next } = block
  let cut = true
  for (const [i, instruction] of instructions.entries()) {
    const watched = program.watchable.get(instruction.pc)
    if (cut || watched !== undefined) context.guard(i, watched)
    writeInstruction(context, instruction)
    cut = context.cuts(instruction)
  }
  if (next !== undefined) context.goTo(next)
  w.end()
  return context.locals
}

function writeInstruction(context: BlockContext, instruction: Instruction): void {
  const { op } = instruction
  if (isArithmetic(op)) {
    writeArithmetic(context, instruction)
    context.passed += plainCycles(op)
  } else if (op === OP.LDS || op === OP.STS) writeDirect(context, instruction)
  else if (op >= OP.LD && op <= OP.ST_DEC) writePointed(context, instruction)
  else if (op >= OP.LPM && op <= OP.ELPM_INC) writeProgramLoad(context, instruction)
  else if (op === OP.PUSH || op === OP.POP) writeStack(context, instruction)
  else if (op === OP.IN || op === OP.OUT || op === OP.SBI || op === OP.CBI) writePort(context, instruction)
  else if (isConditional(op)) writeBranch(context, instruction)
  else if (op === OP.RET || op === OP.RETI) writeReturn(context, instruction)
  else if (op >= OP.RJMP && op <= OP.EICALL) writeJump(context, instruction)
  else writeControl(context, instruction)
}

// Data space

function writeDirect(context: BlockContext, instruction: Instruction): void {
  const { w, registers, program } = context
  const { op, operation, next } = instruction
  const register = (operation >> 8) & 255
  const address = operation >>> 16
  const { ramStart, ramBytes } = program
  const isRam = address >= ramStart && address < ramStart + ramBytes
  if (op === OP.LDS) {
    if (isRam || context.isPlainLoad(instruction)) {
      if (!isRam) context.noteLowestSp()
      w.value(0).load8(address)
      registers.writeTop(register)
      context.passed += 2
    } else if (isPlainIo(address, ramStart)) {
      context.readBus(address, 1, next)
      registers.writeTop(register)
      context.passed += 2
    } else {
      context.rare(
        RARE.READ,
        next,
        () => w.value(address),
        () => w.value(register),
        2,
      )
    }
    return
  }
  const value = registers.read(register)
  if (isRam) {
    context.storeRam(() => w.value(address), value)
    context.passed += 2
  } else if (isPointerExtension(address)) {
    context.touch()
    w.value(0)
    push(w, value).store8(address)
    context.passed += 2
  } else if (isPlainIo(address, ramStart)) {
    context.writeBus(address, () => push(w, value), 0xff, 2, next)
  } else {
    context.rare(
      RARE.WRITE,
      next,
      () => w.value(address),
      () => push(w, value),
      2,
    )
  }
}

/** I/O, without the registers of the core itself. */
function isPlainIo(address: number, ramStart: number): boolean {
  return address >= 32 && address < ramStart && (address < 0x5d || address > 0x5f)
}

/** Loads and stores by a pointer, which moves before or behind. */
function writePointed(context: BlockContext, { op, operation, pc }: Instruction): void {
  const { w, registers } = context
  const register = (operation >> 8) & 255
  const pointer = (operation >> 16) & 255
  const isStore = op >= OP.ST
  const value = isStore ? registers.read(register) : undefined
  const before = registers.readPair(pointer)
  const displacement = op === OP.LD || op === OP.ST ? operation >>> 24 : 0
  const moves = op === OP.LD_INC || op === OP.ST_INC ? 1 : op === OP.LD_DEC || op === OP.ST_DEC ? -1 : 0
  let address = before
  if (displacement !== 0 || moves < 0) {
    push(w, before)
      .plus(displacement || moves)
      .masked(0xffff)
    address = registers.keep()
  }
  const pushAddress = () => push(w, address)
  context.leaveOutside(pushAddress, pc)
  if (moves < 0) registers.writePair(pointer, address)
  else if (moves > 0) {
    push(w, before).plus(1).masked(0xffff)
    registers.writePairTop(pointer)
  }
  if (value === undefined) {
    pushAddress().load8(LAYOUT.data)
    registers.writeTop(register)
  } else context.storeRam(pushAddress, value)
  context.passed += 2
}

function writeProgramLoad(context: BlockContext, { op, operation }: Instruction): void {
  const { w, registers, pcMask } = context
  const isLong = op === OP.ELPM || op === OP.ELPM_INC
  push(w, registers.readPair(Z))
  if (isLong) w.value(0).load8(RAMPZ).value(16).shl().or()
  const address = registers.keep()
  push(w, address)
    .masked(2 * pcMask + 1)
    .load8(LAYOUT.flash)
  const value = registers.keep()
  if (op === OP.LPM_INC || op === OP.ELPM_INC) {
    push(w, address).plus(1)
    const after = registers.keep()
    push(w, after).masked(0xffff)
    registers.writePairTop(Z)
    if (isLong) {
      w.value(0)
      push(w, after).value(16).shr().store8(RAMPZ)
    }
  }
  registers.write((operation >> 8) & 255, value)
  context.passed += 3
}

function writeStack(context: BlockContext, { op, operation, pc }: Instruction): void {
  const { w, registers } = context
  const register = (operation >> 8) & 255
  if (op === OP.POP) {
    w.get(LOCAL.sp).plus(1).masked(0xffff)
    const { local } = registers.keep()
    context.leaveOutside(() => w.get(local), pc)
    w.get(local).set(LOCAL.sp).get(local).load8(LAYOUT.data)
    registers.writeTop(register)
  } else {
    const value = registers.read(register)
    context.leaveOutside(() => w.get(LOCAL.sp), pc)
    pushByte(context, value)
    context.noteLowestSp()
  }
  context.passed += 2
}

function writePort(context: BlockContext, { op, operation, next }: Instruction): void {
  const { w, registers, program } = context
  const field = (operation >> 8) & 255
  const address = (operation >>> 16) & 255
  if (op === OP.IN) {
    if (program.hooked[address] === 0) w.value(0).load8(address)
    else context.readBus(address, 0, next)
    registers.writeTop(field)
    context.passed += 1
  } else if (op === OP.OUT && isPointerExtension(address)) {
    context.touch()
    w.value(0)
    push(w, registers.read(field)).store8(address)
    context.passed += 1
  } else if (op === OP.OUT) {
    const value = registers.read(field)
    context.writeBus(address, () => push(w, value), 0xff, 1, next)
  } else {
    const changed = () => {
      w.value(0).load8(address)
      if (op === OP.SBI) w.value(field).or()
      else w.masked(~field & 255)
    }
    context.writeBus(address, changed, field, 2, next)
  }
}

// The core's own registers, and what is seldom

const SPECIALS: Readonly<Record<number, number>> = {
  [OP.SLEEP]: 0,
  [OP.BREAK]: 2,
  [OP.SPM]: 3,
}

function writeControl(context: BlockContext, { op, operation, next }: Instruction): void {
  const { w, status, registers } = context
  const register = (operation >> 8) & 255
  const special = SPECIALS[op]
  if (special !== undefined) {
    context.rare(
      RARE.SPECIAL,
      next,
      () => w.value(0),
      () => w.value(special),
      1,
    )
    return
  }
  switch (op) {
    case OP.WDR:
      // Its event can only become later, so the next event is at most taken for too early until the core hears of it.
      w.value(0)
        .get(LOCAL.cycles)
        .plus(context.passed + 1)
        .store32(LAYOUT.state + 4 * STATE.kicked)
      break
    case OP.IN_SREG:
      status.settle()
      w.get(LOCAL.sreg)
      registers.writeTop(register)
      break
    case OP.IN_SPL:
      w.get(LOCAL.sp).masked(255)
      registers.writeTop(register)
      break
    case OP.IN_SPH:
      w.get(LOCAL.sp).value(8).shr()
      registers.writeTop(register)
      break
    case OP.OUT_SPL:
      w.get(LOCAL.sp).masked(0xff00)
      push(w, registers.read(register)).or().set(LOCAL.sp)
      break
    case OP.OUT_SPH:
      w.get(LOCAL.sp).masked(0xff)
      push(w, registers.read(register)).value(8).shl().or().set(LOCAL.sp)
      break
    default:
      writeInterruptFlag(context, op, register, next)
      return
  }
  context.passed += 1
}

/** SEI, CLI and OUT SREG: the core hears of it when I changes. */
function writeInterruptFlag(context: BlockContext, op: number, register: number, next: number): void {
  const { w, status, registers } = context
  if (op === OP.OUT_SREG) {
    const value = registers.read(register)
    status.forget()
    w.get(LOCAL.sreg)
    push(w, value).tee(LOCAL.sreg).xor().masked(FLAG.I)
  } else {
    status.settle()
    w.get(LOCAL.sreg).masked(FLAG.I)
    if (op === OP.SEI) w.isZero()
  }
  context.addCycles(context.passed + 1)
  context.passed = 0
  w.if()
  if (op === OP.SEI) w.get(LOCAL.sreg).value(FLAG.I).or().set(LOCAL.sreg)
  else if (op === OP.CLI)
    w.get(LOCAL.sreg)
      .masked(~FLAG.I & 255)
      .set(LOCAL.sreg)
  context.callRare(
    RARE.TURNED,
    () => w.value(next),
    () => w.value(0),
    () => w.get(LOCAL.sreg).value(7).shr(),
    0,
  )
  w.end()
}
