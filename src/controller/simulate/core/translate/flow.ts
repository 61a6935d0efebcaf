/** Where a program's instructions lead, and which of them follow one another without a way in or out between. */
import { CONDITIONAL_OPS, JUMP_OPS, OP } from '../operations.data.js'

/** What is translated. */
export interface Program {
  /** One operation per word of flash, as `decodeFlash` gives them. */
  code: Int32Array
  flash: Uint8Array
  ramStart: number
  ramBytes: number
  longProgramCounter: boolean
  /** Per I/O address: 1 where a peripheral answers reads. */
  hooked: Uint8Array
  /** Word addresses that may be watched, each with its byte at `LAYOUT.watched`. */
  watchable: ReadonlyMap<number, number>
}

export interface Instruction {
  pc: number
  /** Word address behind it. */
  next: number
  operation: number
  op: number
}

/** Instructions in a row; only the last one always leads elsewhere. */
export interface Block {
  start: number
  instructions: Instruction[]
  /** Where the program goes on behind the last one; undefined: nowhere, or it decides itself. */
  next: number | undefined
}

/** More would make the way to an event, which is interpreted, too long. */
const LONGEST = 40

const CONDITIONAL: ReadonlySet<number> = new Set(CONDITIONAL_OPS)
const ENDS: ReadonlySet<number> = new Set(JUMP_OPS)
/** Left to the interpreter. */
const NOT_TRANSLATED: ReadonlySet<number> = new Set([OP.ILLEGAL, OP.WRAP, OP.TRAP, OP.TO_ZERO])

export const isConditional = (op: number) => CONDITIONAL.has(op)
/** Not what ends the flash either: behind the last word the program begins again, which the core remembers. */
const isTranslated = ({ code }: Program, pc: number) =>
  !NOT_TRANSLATED.has(code[pc]! & 255) && pc < code.length - 3

const isSkip = (op: number) => op === OP.CPSE || (op >= OP.SBIC && op <= OP.SBRS)
const isCall = (op: number) => op === OP.RCALL || op === OP.CALL || op === OP.ICALL || op === OP.EICALL

export function instructionAt(program: Program, pc: number): Instruction {
  const operation = program.code[pc]!
  const op = operation & 255
  const isLong = op === OP.LDS || op === OP.STS || op === OP.CALL || op === OP.JMP || op === OP.JMP_BACK
  const words = program.code.length - 1
  return { pc, next: (pc + (isLong ? 2 : 1)) & (words - 1), operation, op }
}

/** Where a jump, call, branch or skip leads when it is taken; undefined for others and for computed targets. */
export function targetOf(program: Program, { op, operation, pc }: Instruction): number | undefined {
  if (op >= OP.BRBS && op <= OP.BRBC_BACK) return operation >>> 11
  if ((op >= OP.RJMP && op <= OP.JMP_BACK) || op === OP.RCALL || op === OP.CALL) return operation >>> 8
  if (isSkip(op)) return (pc + 1 + (operation >>> 24)) & (program.code.length - 2)
  return undefined
}

/**
 * The program's blocks, in the order of their addresses.
 * @param seen word addresses that have been executed; others are left out.
 */
export function findBlocks(program: Program, seen: ReadonlySet<number>): Block[] {
  const places = [...seen].filter((pc) => isTranslated(program, pc)).sort((a, b) => a - b)
  /** What begins a block: where something jumps to or returns to, or where nothing seen leads. */
  const starts = new Set<number>()
  const followed = new Set<number>()
  for (const pc of places) {
    const instruction = instructionAt(program, pc)
    const { op, next } = instruction
    const target = targetOf(program, instruction)
    if (target !== undefined) starts.add(target)
    if (isCall(op)) starts.add(next)
    else if (!ENDS.has(op)) followed.add(next)
  }
  for (const pc of places) if (!followed.has(pc)) starts.add(pc)
  const blocks: Block[] = []
  const open = places.filter((pc) => starts.has(pc))
  for (let start = open.pop(); start !== undefined; start = open.pop()) {
    const block = blockFrom(program, seen, starts, start)
    blocks.push(block)
    const { next } = block
    // A long row of instructions is continued in another block.
    if (next !== undefined && !starts.has(next) && seen.has(next) && isTranslated(program, next)) {
      starts.add(next)
      open.push(next)
    }
  }
  return blocks.sort((a, b) => a.start - b.start)
}

/** Every instruction as a block of its own: for the way to an event, and from an interrupt back into a block. */
export function findSteps(program: Program, seen: ReadonlySet<number>): Block[] {
  return [...seen]
    .filter((pc) => isTranslated(program, pc))
    .sort((a, b) => a - b)
    .map((start) => {
      const instruction = instructionAt(program, start)
      const next = ENDS.has(instruction.op) ? undefined : instruction.next
      return { start, instructions: [instruction], next }
    })
}

function blockFrom(
  program: Program,
  seen: ReadonlySet<number>,
  starts: ReadonlySet<number>,
  start: number,
): Block {
  const instructions: Instruction[] = []
  let pc = start
  do {
    const instruction = instructionAt(program, pc)
    instructions.push(instruction)
    pc = instruction.next
    if (ENDS.has(instruction.op)) return { start, instructions, next: undefined }
  } while (
    instructions.length < LONGEST &&
    seen.has(pc) &&
    !starts.has(pc) &&
    pc > start &&
    isTranslated(program, pc)
  )
  return { start, instructions, next: pc }
}

/** Blocks that jump to one another, calls apart, in groups of a size that the engine compiles quickly. */
export function groupBlocks(program: Program, blocks: readonly Block[], most: number): Block[][] {
  const at = new Map(blocks.map((block, i) => [block.start, i]))
  const parent = blocks.map((_, i) => i)
  const size = blocks.map(() => 1)
  const root = (i: number): number => {
    let r = i
    while (parent[r] !== r) r = parent[r]!
    parent[i] = r
    return r
  }
  const join = (i: number, pc: number | undefined) => {
    const j = pc === undefined ? undefined : at.get(pc)
    if (j === undefined) return
    const [a, b] = [root(i), root(j)]
    if (a === b || size[a]! + size[b]! > most) return
    parent[b] = a
    size[a]! += size[b]!
  }
  for (const [i, block] of blocks.entries()) {
    join(i, block.next)
    for (const instruction of block.instructions) {
      if (!isCall(instruction.op)) join(i, targetOf(program, instruction))
    }
  }
  const groups = new Map<number, Block[]>()
  for (const [i, block] of blocks.entries()) {
    const key = root(i)
    const group = groups.get(key)
    if (group) group.push(block)
    else groups.set(key, [block])
  }
  return [...groups.values()]
}
