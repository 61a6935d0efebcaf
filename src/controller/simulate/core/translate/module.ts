/**
 * A program as a WebAssembly module. Groups of blocks are functions; `run` calls them one after the other, as each asks for
 * the next one, until the interpreter is wanted.
 */
import { writeBlock } from './block.js'
import { IMPORT, LOCAL, OWN, type Ways } from './context.js'
import { type Block, findBlocks, findSteps, groupBlocks, type Program } from './flow.js'
import { LAYOUT, MOST_BLOCKS, STATE } from './layout.data.js'
import { logFunction, lookFunction } from './look.js'
import { WasmWriter } from './writer.js'

/** Blocks in one function, at most: larger ones take the engine too long. */
const MOST_IN_GROUP = 60

export interface TranslatedModule {
  bytes: Uint8Array
  /** Word addresses of the blocks; the number of the first is 1. Of two at one place the first one is to be taken. */
  starts: readonly number[]
}

// Indices of the module's types.
const TYPE_RARE = 0
const TYPE_LOG = 1
const TYPE_READ = 2
const TYPE_WRITE = 3
const TYPE_LOOK = 4
const TYPE_GROUP = 5
const TYPE_RUN = 6
const I32 = 0x7f

/**
 * Translate what has been executed so far.
 * @param seen word addresses of it
 */
export function translate(program: Program, seen: ReadonlySet<number>): TranslatedModule {
  const blocks = findBlocks(program, seen).slice(0, MOST_BLOCKS)
  const isOne = new Set(blocks.filter((b) => b.instructions.length === 1).map((b) => b.start))
  const steps = findSteps(program, seen)
    .filter((step) => !isOne.has(step.start))
    .slice(0, MOST_BLOCKS - blocks.length)
  const whole = groupBlocks(program, blocks, MOST_IN_GROUP)
  const groups = [...whole, ...inGroups(steps)]
  const starts = groups.flatMap((group) => group.map((block) => block.start))
  const blockNumbers = new Map(starts.slice(0, blocks.length).map((start, i) => [start, i + 1]))
  const stepNumbers = new Map(starts.slice(blocks.length).map((start, i) => [start, blocks.length + i + 1]))
  let first = 1
  const functions = [logFunction(), lookFunction()]
  for (const [i, group] of groups.entries()) {
    functions.push(
      groupFunction(program, group, first, {
        numberOf: (pc) => blockNumbers.get(pc) ?? stepNumbers.get(pc),
        stepOf: (pc) => (i < whole.length ? stepNumbers.get(pc) : undefined),
      }),
    )
    first += group.length
  }
  functions.push(runFunction())
  const w = new WasmWriter().raw([0, 0x61, 0x73, 0x6d, 1, 0, 0, 0])
  section(w, 1, (s) => {
    s.unsigned(7)
    signature(s, 3, 0)
    signature(s, 1, 0)
    signature(s, 3, 1)
    signature(s, 6, 1)
    signature(s, 5, 1)
    signature(s, 1, 1)
    signature(s, 1, 0)
  })
  section(w, 2, (s) => {
    s.unsigned(IMPORT.imports + 1)
    name(s, 'rare').byte(0).unsigned(TYPE_RARE)
    name(s, 'read').byte(0).unsigned(TYPE_READ)
    name(s, 'write').byte(0).unsigned(TYPE_WRITE)
    name(s, 'look').byte(0).unsigned(TYPE_LOOK)
    name(s, 'memory').byte(2).byte(0).unsigned(LAYOUT.pages)
  })
  section(w, 3, (s) => {
    s.unsigned(functions.length)
    s.unsigned(TYPE_LOG).unsigned(TYPE_LOOK)
    for (let i = 0; i < groups.length; i++) s.unsigned(TYPE_GROUP)
    s.unsigned(TYPE_RUN)
  })
  section(w, 4, (s) =>
    s
      .unsigned(1)
      .byte(0x70)
      .byte(0)
      .unsigned(starts.length + 1),
  )
  section(w, 7, (s) => {
    s.unsigned(1).unsigned(3).raw(ascii('run')).byte(0)
    s.unsigned(OWN.groups + groups.length)
  })
  // Every block's entry of the table is the function of its group.
  section(w, 9, (s) => {
    s.unsigned(1).byte(0).byte(0x41).byte(1).byte(0x0b).unsigned(starts.length)
    for (const [i, group] of groups.entries()) {
      for (let k = 0; k < group.length; k++) s.unsigned(OWN.groups + i)
    }
  })
  section(w, 10, (s) => {
    s.unsigned(functions.length)
    for (const code of functions) s.unsigned(code.length).raw(code)
  })
  return { bytes: w.bytes.slice(), starts }
}

function inGroups(steps: readonly Block[]): Block[][] {
  const groups: Block[][] = []
  for (let at = 0; at < steps.length; at += MOST_IN_GROUP) groups.push(steps.slice(at, at + MOST_IN_GROUP))
  return groups
}

const ascii = (text: string) => [...text].map((c) => c.charCodeAt(0))

function section(w: WasmWriter, id: number, content: (s: WasmWriter) => void): void {
  const s = new WasmWriter()
  content(s)
  w.byte(id).unsigned(s.bytes.length).raw(s.bytes)
}

function signature(w: WasmWriter, parameters: number, results: number): void {
  w.byte(0x60).unsigned(parameters)
  for (let i = 0; i < parameters; i++) w.byte(I32)
  w.unsigned(results)
  for (let i = 0; i < results; i++) w.byte(I32)
}

function name(w: WasmWriter, text: string): WasmWriter {
  return w.unsigned(1).raw(ascii('e')).unsigned(text.length).raw(ascii(text))
}

const SHARED: readonly (readonly [word: number, local: number])[] = [
  [STATE.cycles, LOCAL.cycles],
  [STATE.sreg, LOCAL.sreg],
  [STATE.sp, LOCAL.sp],
  [STATE.probe, LOCAL.probe],
  [STATE.lowestSp, LOCAL.lowestSp],
]
const ONLY_READ: readonly (readonly [word: number, local: number])[] = [
  [STATE.limit, LOCAL.limit],
  [STATE.epoch, LOCAL.epoch],
  [STATE.savedPc, LOCAL.savedPc],
]

/** With the number of one of its blocks it runs that, and gives the number of a block elsewhere that is wanted; 0: none. */
function groupFunction(
  program: Program,
  group: readonly Block[],
  first: number,
  numbers: Pick<Ways, 'numberOf' | 'stepOf'>,
): Uint8Array {
  const w = new WasmWriter()
  for (const [word, local] of [...SHARED, ...ONLY_READ]) {
    w.value(0)
      .load32(LAYOUT.state + 4 * word)
      .set(local)
  }
  const leave = w.block()
  const exit = w.block()
  const dispatch = w.loop()
  const labels = group.map(() => w.block()).reverse()
  w.get(LOCAL.index).value(first).sub().brTable(labels, leave)
  let locals: number = LOCAL.free
  for (const [i, block] of group.entries()) {
    w.end()
    const used = writeBlock(w, program, block, {
      exit,
      leave,
      dispatch,
      ...numbers,
      ahead(pc) {
        const number = numbers.numberOf(pc)
        return number !== undefined && number > first + i ? labels[number - first] : undefined
      },
      first,
      count: group.length,
    })
    locals = Math.max(locals, used)
  }
  w.unreachable().end().end()
  w.value(0).set(LOCAL.index).end()
  for (const [word, local] of [...SHARED, [STATE.pc, LOCAL.pc] as const]) {
    w.value(0)
      .get(local)
      .store32(LAYOUT.state + 4 * word)
  }
  w.get(LOCAL.index).end()
  // The first local is the parameter.
  return new WasmWriter()
    .unsigned(1)
    .unsigned(locals - 1)
    .byte(I32)
    .raw(w.bytes).bytes
}

/** Runs from a block on until the interpreter is wanted. */
function runFunction(): Uint8Array {
  const w = new WasmWriter().unsigned(0)
  const again = w.loop()
  w.get(0).get(0).callIndirect(TYPE_GROUP).tee(0).brIf(again).end().end()
  return w.bytes
}
