/** Branches, jumps, calls and returns, as WebAssembly. */
import { OP } from '../operations.data.js'
import { type BlockContext, LOCAL } from './context.js'
import { type Instruction, targetOf } from './flow.js'
import { LAYOUT, RARE, STATE } from './layout.data.js'
import { push, type Value } from './status.js'

const EIND = 0x5c
const Z = 30

/** A byte goes on the stack, which is known to be RAM there. */
export function pushByte(context: BlockContext, value: Value): void {
  const { w } = context
  context.storeRam(() => w.get(LOCAL.sp), value)
  w.get(LOCAL.sp).plus(-1).set(LOCAL.sp)
}

export function writeBranch(context: BlockContext, instruction: Instruction): void {
  const { w, status, registers, program } = context
  const { op, operation, pc, next } = instruction
  const field = (operation >> 8) & 255
  const other = (operation >> 16) & 255
  const target = targetOf(program, instruction)!
  if (op >= OP.BRBS && op <= OP.BRBC_BACK) {
    status.reader(1 << (field & 7))()
    if (op === OP.BRBC || op === OP.BRBC_BACK) w.isZero()
    w.if()
    if (op === OP.BRBS_BACK || op === OP.BRBC_BACK) jumpBack(context, pc, target, 2)
    else context.goTo(target, 2)
    w.end()
  } else {
    if (op === OP.CPSE) {
      const [a, b] = [registers.read(field), registers.read(other)]
      push(w, a)
      push(w, b).equal()
    } else if (op === OP.SBRC || op === OP.SBRS) {
      push(w, registers.read(field)).masked(other)
      if (op === OP.SBRC) w.isZero()
    } else {
      if (program.hooked[other] === 0) w.value(0).load8(other)
      else context.readBus(other, 0, next)
      w.masked(field)
      if (op === OP.SBIC) w.isZero()
    }
    w.if()
    context.goTo(target, 1 + (operation >>> 24))
    w.end()
  }
  context.passed += 1
}

/** A jump back: now and then the core looks whether the program merely waits. */
function jumpBack(context: BlockContext, from: number, target: number, cycles: number): void {
  const { w, status } = context
  status.settleForExit()
  context.addCycles(context.passed + cycles)
  w.get(LOCAL.savedPc).value(from).equal().ifValue()
  w.value(1).else()
  w.get(LOCAL.probe).plus(-1).tee(LOCAL.probe).value(0).lessEqualSigned().end().if()
  context.look(from)
  w.end()
  context.jump(target)
}

export function writeJump(context: BlockContext, { op, operation, pc, next }: Instruction): void {
  const { w, status, registers, program } = context
  const target = operation >>> 8
  if (op === OP.RJMP || op === OP.JMP) {
    context.goTo(target, op === OP.JMP ? 3 : 2)
    return
  }
  if (op === OP.RJMP_BACK || op === OP.JMP_BACK) {
    jumpBack(context, pc, target, op === OP.JMP_BACK ? 3 : 2)
    return
  }
  const isComputed = op !== OP.RCALL && op !== OP.CALL
  if (isComputed) {
    push(w, registers.readPair(Z))
    if (op === OP.EIJMP || op === OP.EICALL) w.value(0).load8(EIND).value(16).shl().or()
    w.masked(context.pcMask).tee(LOCAL.pc)
    leaveBeforeZero(context, pc)
  }
  status.settle()
  if (op === OP.IJMP || op === OP.EIJMP) {
    context.addCycles(context.passed + 2)
    context.jumpComputed()
    return
  }
  const bytes = program.longProgramCounter ? 3 : 2
  const { ramStart, ramBytes } = program
  const cycles = bytes + (op === OP.CALL ? 2 : 1)
  w.get(LOCAL.sp)
    .value(ramStart + bytes)
    .sub()
    .value(ramBytes - bytes)
    .atLeast()
    .if()
  context.leaveTo(pc)
  w.end()
  for (let i = 0; i < bytes; i++) pushByte(context, { constant: (next >> (8 * i)) & 255 })
  context.noteLowestSp()
  context.addCycles(context.passed + cycles)
  if (isComputed) context.jumpComputed()
  else context.jump(target)
}

/** The core remembers where jumps to address 0 come from. `LOCAL.pc` is on the stack. */
function leaveBeforeZero(context: BlockContext, pc: number): void {
  const { w } = context
  w.isZero().if()
  context.leaveTo(pc)
  w.end()
}

export function writeReturn(context: BlockContext, { op, pc }: Instruction): void {
  const { w, status, program } = context
  const bytes = program.longProgramCounter ? 3 : 2
  for (let i = 1; i <= bytes; i++) {
    w.get(LOCAL.sp).plus(i).masked(0xffff).load8(LAYOUT.data)
    if (i < bytes) w.value(8 * (bytes - i)).shl()
    if (i > 1) w.or()
  }
  w.masked(context.pcMask).tee(LOCAL.pc)
  leaveBeforeZero(context, pc)
  w.get(LOCAL.sp).plus(bytes).masked(0xffff).set(LOCAL.sp)
  status.settle()
  if (op === OP.RET) context.addCycles(context.passed + bytes + 2)
  else {
    context.callRare(
      RARE.RETURNED,
      () => w.get(LOCAL.pc),
      () => w.value(0),
      () => w.value(0),
      bytes + 2,
    )
    context.loadState(STATE.sreg, LOCAL.sreg)
  }
  context.jumpComputed()
}
