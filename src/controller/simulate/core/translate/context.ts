/**
 * What the code of a block's instructions has in common. The block is cut where something outside could have a say: before
 * each part it is checked that the part's last instruction begins before the next event, and left to the interpreter if
 * not. So no event falls inside a part, and the order of everything is the interpreter's.
 */
import { OP } from '../operations.data.js'
import { type Block, type Instruction, isConditional, type Program } from './flow.js'
import { LAYOUT, STATE } from './layout.data.js'
import { RegistersInBlock } from './registers.js'
import { push, StatusInBlock, type Value } from './status.js'
import type { Label, WasmWriter } from './writer.js'

/** Locals of a function; those of the blocks come behind. */
export const LOCAL = {
  /** Block that is wanted. */
  index: 0,
  cycles: 1,
  sreg: 2,
  sp: 3,
  limit: 4,
  epoch: 5,
  probe: 6,
  savedPc: 7,
  lowestSp: 8,
  pc: 9,
  free: 10,
} as const

/** Functions that the module calls, in this order. */
export const IMPORT = { rare: 0, read: 1, write: 2, look: 3, imports: 4 } as const
/** Functions of the module itself, in this order: the search for waiting loops, and what the blocks are in. */
export const OWN = { log: IMPORT.imports, look: IMPORT.imports + 1, groups: IMPORT.imports + 2 } as const

/** Where a block's code can go. */
export interface Ways {
  /** The interpreter goes on at `LOCAL.pc`. */
  exit: Label
  /** Give the state back and ask for block `LOCAL.index`; 0: the interpreter goes on at `LOCAL.pc`. */
  leave: Label
  /** Go to the block of this function that `LOCAL.index` names. */
  dispatch: Label
  /** Number of a block in the module; undefined: there is none. */
  numberOf(pc: number): number | undefined
  /** Number of the block that is this instruction only; undefined: there is none, or that is the one being written. */
  stepOf(pc: number): number | undefined
  /** A block of this function whose code is still to come. */
  ahead(pc: number): Label | undefined
  /** Numbers of this function's blocks. */
  first: number
  count: number
}

/** RAMPZ and EIND, or nothing: only the core's own addresses depend on them, so that no peripheral hears of them. */
export const isPointerExtension = (address: number) => address === 0x5b || address === 0x5c

const SREG = 0x5f
const SPL = 0x5d
const SPH = 0x5e

const TWO_CYCLES: ReadonlySet<number> = new Set([
  OP.MUL,
  OP.MULS,
  OP.MULSU,
  OP.FMUL,
  OP.FMULS,
  OP.FMULSU,
  OP.ADIW,
  OP.SBIW,
  OP.LDS,
  OP.STS,
  OP.LD,
  OP.LD_INC,
  OP.LD_DEC,
  OP.ST,
  OP.ST_INC,
  OP.ST_DEC,
  OP.PUSH,
  OP.POP,
])

/** Cycles of an instruction that does not leave the row. */
export function plainCycles(op: number): number {
  if (op >= OP.LPM && op <= OP.ELPM_INC) return 3
  return TWO_CYCLES.has(op) ? 2 : 1
}

export class BlockContext {
  readonly w: WasmWriter
  readonly program: Program
  readonly status: StatusInBlock
  readonly registers: RegistersInBlock
  readonly pcMask: number
  /** Cycles that have passed and are not yet counted in the local. */
  passed = 0
  readonly #ways: Ways
  readonly #block: Block
  readonly #self: Label
  #locals = LOCAL.free

  constructor(w: WasmWriter, program: Program, block: Block, ways: Ways) {
    this.w = w
    this.program = program
    this.#block = block
    this.#ways = ways
    this.pcMask = program.code.length - 2
    this.status = new StatusInBlock(w, LOCAL.sreg)
    this.registers = new RegistersInBlock(w, () => this.fresh())
    this.#self = w.loop()
  }

  /** Locals in use. */
  get locals(): number {
    return this.#locals
  }

  /** A local that nothing else in the block uses. */
  fresh(): number {
    return this.#locals++
  }

  // Parts

  /** Before a part: leave where one of its instructions would begin too late. */
  guard(from: number, watched: number | undefined): void {
    const { w } = this
    const { pc } = this.#block.instructions[from]!
    w.get(LOCAL.cycles)
      .plus(this.passed + this.#needed(from))
      .get(LOCAL.limit)
      .atLeastSigned()
    if (watched !== undefined)
      w.value(0)
        .load8(LAYOUT.watched + watched)
        .or()
    w.if()
    const step = this.#ways.stepOf(pc)
    if (step === undefined) this.leaveTo(pc)
    else {
      // Single instructions up to the event.
      this.status.settleForExit()
      this.addCycles(this.passed)
      w.value(pc).set(LOCAL.pc).get(LOCAL.cycles).get(LOCAL.limit).atLeastSigned().brIf(this.#ways.exit)
      w.value(step).set(LOCAL.index).br(this.#ways.leave)
    }
    w.end()
  }

  /** Cycles from an instruction to the latest cycle at which one of its part begins, or reads. */
  #needed(from: number): number {
    const { instructions } = this.#block
    let cycles = 0
    let needed = 0
    for (let i = from; i < instructions.length; i++) {
      const instruction = instructions[i]!
      if (i > from && this.program.watchable.has(instruction.pc)) break
      needed = cycles + (this.isPlainLoad(instruction) ? 1 : 0)
      if (this.cuts(instruction)) break
      cycles += plainCycles(instruction.op)
    }
    return needed
  }

  /** Whether another event may be next behind this instruction, or the program elsewhere. */
  cuts(instruction: Instruction): boolean {
    const { op, operation } = instruction
    switch (op) {
      case OP.LDS:
        return !this.#isRam(operation >>> 16) && !this.isPlainLoad(instruction)
      case OP.STS:
        return !(this.#isRam(operation >>> 16) || isPointerExtension(operation >>> 16))
      case OP.IN:
        return this.program.hooked[operation >>> 16] !== 0
      case OP.OUT:
        return !isPointerExtension(operation >>> 16)
      case OP.SBI:
      case OP.CBI:
      case OP.SEI:
      case OP.CLI:
      case OP.OUT_SREG:
      case OP.SLEEP:
      case OP.BREAK:
      case OP.SPM:
        return true
      default:
        // Pointers and stack mostly reach RAM only; where they do not, they look for themselves.
        return isConditional(op)
    }
  }

  /** A load from an I/O register for which no peripheral answers: its value is the one in memory. */
  isPlainLoad({ op, operation }: Instruction): boolean {
    const address = operation >>> 16
    return op === OP.LDS && address >= 32 && address < this.program.ramStart && this.#isPlain(address)
  }

  #isPlain(address: number): boolean {
    return address !== SREG && address !== SPL && address !== SPH && this.program.hooked[address] === 0
  }

  #isRam(address: number): boolean {
    const { ramStart, ramBytes } = this.program
    return address >= ramStart && address < ramStart + ramBytes
  }

  // Ways out

  addCycles(cycles: number): void {
    if (cycles !== 0) this.w.get(LOCAL.cycles).plus(cycles).set(LOCAL.cycles)
  }

  /** The interpreter goes on at a place. Nothing that is noted is lost for another way. */
  leaveTo(pc: number): void {
    this.status.settleForExit()
    this.addCycles(this.passed)
    this.w.value(pc).set(LOCAL.pc).br(this.#ways.exit)
  }

  /** Go on at a place, `cycles` later than what has passed. */
  goTo(pc: number, cycles = 0): void {
    this.status.settleForExit()
    this.addCycles(this.passed + cycles)
    this.jump(pc)
  }

  /** The same with everything settled. */
  jump(pc: number): void {
    const { w } = this
    const { numberOf, ahead, first, count, dispatch, leave, exit } = this.#ways
    const number = numberOf(pc)
    if (pc === this.#block.start) w.br(this.#self)
    else if (number === undefined) w.value(pc).set(LOCAL.pc).br(exit)
    else {
      const label = ahead(pc)
      const here = number >= first && number < first + count
      if (label !== undefined) w.br(label)
      else
        w.value(number)
          .set(LOCAL.index)
          .br(here ? dispatch : leave)
    }
  }

  /** Go on at `LOCAL.pc`, with everything settled. */
  jumpComputed(): void {
    const { w } = this
    const { first, count, dispatch, leave } = this.#ways
    w.get(LOCAL.pc).value(1).shl().load16(LAYOUT.blocks).tee(LOCAL.index)
    w.value(first).sub().value(count).less().brIf(dispatch).br(leave)
  }

  // The core

  /** The stack's low-water mark, wherever the interpreter takes it too. */
  noteLowestSp(): void {
    const { w } = this
    w.get(LOCAL.sp).get(LOCAL.lowestSp)
    w.get(LOCAL.sp).get(LOCAL.lowestSp).less().select().set(LOCAL.lowestSp)
  }

  #storeState(word: number, value: () => void): void {
    this.w.value(0)
    value()
    this.w.store32(LAYOUT.state + 4 * word)
  }

  loadState(word: number, local: number): void {
    this.w
      .value(0)
      .load32(LAYOUT.state + 4 * word)
      .set(local)
  }

  /** Let the core do it, `cycles` behind what has passed. Afterwards all cycles are in the local. */
  callRare(action: number, pc: () => void, place: () => void, operand: () => void, cycles: number): void {
    const { w } = this
    this.#storeState(STATE.pc, pc)
    this.#storeState(STATE.cycles, () => w.get(LOCAL.cycles).plus(this.passed + cycles))
    this.#storeState(STATE.sreg, () => this.status.push())
    this.#storeState(STATE.sp, () => w.get(LOCAL.sp))
    w.value(action)
    place()
    operand()
    w.call(IMPORT.rare)
    this.loadState(STATE.cycles, LOCAL.cycles)
    this.loadState(STATE.limit, LOCAL.limit)
    this.loadState(STATE.sp, LOCAL.sp)
    this.noteLowestSp()
  }

  /** The same on the straight way, where everything is up to date afterwards. */
  rare(action: number, pc: number, place: () => void, operand: () => void, cycles: number): void {
    this.callRare(action, () => this.w.value(pc), place, operand, cycles)
    this.loadState(STATE.sreg, LOCAL.sreg)
    this.status.forget()
    this.registers.forget()
    this.passed = 0
  }

  /** Look whether the program merely waits; everything is settled. */
  look(from: number): void {
    const { w } = this
    w.value(from).get(LOCAL.cycles).get(LOCAL.sreg).get(LOCAL.sp).get(LOCAL.probe)
    w.call(OWN.look).set(LOCAL.cycles)
    this.loadState(STATE.epoch, LOCAL.epoch)
    this.loadState(STATE.probe, LOCAL.probe)
    this.loadState(STATE.savedPc, LOCAL.savedPc)
    this.loadState(STATE.limit, LOCAL.limit)
    this.noteLowestSp()
  }

  /** Read a register of a peripheral, `cycles` behind what has passed. Leaves the value. */
  readBus(address: number, cycles: number, next: number): void {
    const { w } = this
    w.value(address)
      .get(LOCAL.cycles)
      .plus(this.passed + cycles)
      .value(next)
    w.call(IMPORT.read)
    this.loadState(STATE.limit, LOCAL.limit)
    this.noteLowestSp()
  }

  /** Write a register of a peripheral at the end of an instruction of so many cycles. */
  writeBus(address: number, value: () => void, mask: number, cycles: number, next: number): void {
    const { w } = this
    w.value(address)
    value()
    w.value(mask)
      .get(LOCAL.cycles)
      .plus(this.passed + cycles)
      .value(next)
      .get(LOCAL.sreg)
    w.call(IMPORT.write).set(LOCAL.cycles)
    this.loadState(STATE.limit, LOCAL.limit)
    this.noteLowestSp()
    this.passed = 0
  }

  // Data space

  /** What `AvrCore.touch` does. */
  touch(): void {
    this.#storeState(STATE.changes, () =>
      this.w
        .value(0)
        .load32(LAYOUT.state + 4 * STATE.changes)
        .plus(1),
    )
  }

  /** Outside the RAM an address is the interpreter's matter, before anything of the instruction has happened. */
  leaveOutside(address: () => void, pc: number): void {
    const { ramStart, ramBytes } = this.program
    address()
    this.w.value(ramStart).sub().value(ramBytes).atLeast().if()
    this.leaveTo(pc)
    this.w.end()
  }

  /** A byte of RAM takes a value; the search for waiting loops hears of its first change. */
  storeRam(address: () => void, value: Value): void {
    const { w } = this
    address()
    w.load8(LAYOUT.epochs).get(LOCAL.epoch).differ()
    address()
    w.load8(LAYOUT.data)
    push(w, value).differ().and().if()
    address()
    w.call(OWN.log).end()
    address()
    push(w, value).store8(LAYOUT.data)
  }
}
