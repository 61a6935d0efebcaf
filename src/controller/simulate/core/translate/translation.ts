/**
 * What is translated of a program, and when. At first the interpreter executes everything and it is only noted which
 * places of flash are reached. When the program has run for a while these are translated; when it often comes to
 * others, all are translated again. A program that has been translated once is ready for the next controller.
 */
import { flagTables } from '../flags.data.js'
import { type CoreMemory, coreMemory } from '../waiting.js'
import { compile, instantiate, newMemory, type WasmMemory } from './engine.js'
import type { Program } from './flow.js'
import { LAYOUT, MOST_WATCHED } from './layout.data.js'
import { translate } from './module.js'

/** When something is worth a translation. */
export interface TranslationPace {
  /** Cycles until the first one: what is executed once is not worth it. */
  first: number
  /** Visits to places that are not translated until all is translated again; twice as many each time. */
  again: number
}

export const USUAL_PACE: TranslationPace = { first: 16_000_000, again: 2000 }
const MOST_TRANSLATIONS = 8
/** Programs that are kept. */
const MOST_KNOWN = 8
/** Operation in `traced` of a place that was not reached yet or begins a block. */
export const MARK = 93

/** One translation of a program; all controllers that run it share it. */
interface Known {
  program: Program
  seen: Set<number>
  count: number
  /** Cycles that all controllers have interpreted before the first translation. */
  interpreted: number
  module: object | undefined
  starts: readonly number[]
  /** Per word of flash: 1 where the module has it. */
  covered: Uint8Array
}

const known: Known[] = []

function sameBytes(a: Uint8Array, b: Uint8Array): boolean {
  if (a.length !== b.length) return false
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false
  return true
}

function isSame(a: Program, b: Program): boolean {
  return (
    a.ramStart === b.ramStart &&
    a.ramBytes === b.ramBytes &&
    a.longProgramCounter === b.longProgramCounter &&
    a.watchable.size === b.watchable.size &&
    [...a.watchable].every(([pc, slot]) => b.watchable.get(pc) === slot) &&
    sameBytes(a.hooked, b.hooked) &&
    sameBytes(a.flash, b.flash)
  )
}

function find(program: Program): Known {
  const at = known.findIndex((k) => isSame(k.program, program))
  const found: Known =
    at >= 0
      ? known.splice(at, 1)[0]!
      : {
          program,
          seen: new Set(),
          count: 0,
          interpreted: 0,
          module: undefined,
          starts: [],
          covered: new Uint8Array(program.code.length),
        }
  known.unshift(found)
  known.length = Math.min(known.length, MOST_KNOWN)
  return found
}

/** What the generated code calls. */
export interface CoreCalls {
  rare(action: number, place: number, operand: number): void
  read(address: number, cycles: number, pc: number): number
  write(address: number, value: number, mask: number, cycles: number, pc: number, sreg: number): number
  /** @returns the cycles, with those that are skipped. */
  look(from: number, cycles: number, sreg: number, sp: number, probe: number): number
}

export class Translation {
  readonly memory: CoreMemory
  /** Per word of flash: the number of the block that begins there; 0: none. */
  readonly blocks: Uint16Array
  /** The program for the interpreter while it looks for blocks: `MARK` where one begins and where it has not been yet. */
  readonly traced: Int32Array
  /** Runs translated code from a block on; undefined: nothing is translated yet. */
  run: ((block: number) => void) | undefined
  readonly #wasmMemory: WasmMemory
  readonly #calls: CoreCalls
  readonly #code: Int32Array
  readonly #watched: Uint8Array
  readonly #pace: TranslationPace
  #known: Known | undefined
  #module: object | undefined
  #misses = 0

  /** @returns undefined where WebAssembly is not to be had. */
  static of(code: Int32Array, pace: TranslationPace, calls: CoreCalls): Translation | undefined {
    const memory = newMemory(LAYOUT.pages)
    return memory && new Translation(memory, code, pace, calls)
  }

  private constructor(memory: WasmMemory, code: Int32Array, pace: TranslationPace, calls: CoreCalls) {
    this.#pace = pace
    this.#wasmMemory = memory
    this.#calls = calls
    this.#code = code
    const { buffer } = memory
    this.memory = coreMemory(buffer)
    this.blocks = new Uint16Array(buffer, LAYOUT.blocks, code.length)
    this.#watched = new Uint8Array(buffer, LAYOUT.watched, MOST_WATCHED)
    this.traced = new Int32Array(code.length).fill(MARK)
  }

  get isBound(): boolean {
    return this.#known !== undefined
  }

  /** The program is about to run: whatever may be watched is watched now. */
  bind(program: Program): void {
    this.#known = find(program)
    for (const slot of program.watchable.values()) this.#watched[slot] = 1
    const { buffer } = this.#wasmMemory
    const all = new Uint8Array(buffer)
    const tables = flagTables()
    all.set(tables.add, LAYOUT.addFlags)
    all.set(tables.sub, LAYOUT.subFlags)
    all.set(tables.logic, LAYOUT.logicFlags)
    all.set(tables.inc, LAYOUT.incFlags)
    all.set(tables.dec, LAYOUT.decFlags)
    all.set(program.flash, LAYOUT.flash)
    this.#take()
  }

  /** Use what is translated of the program by now. */
  #take(): void {
    const { module, starts, seen } = this.#known!
    if (module === undefined || module === this.#module) return
    this.#module = module
    this.#misses = 0
    this.run = instantiate(module, { ...this.#calls, memory: this.#wasmMemory })
    for (const pc of seen) this.traced[pc] = this.#code[pc]!
    this.blocks.fill(0)
    for (const [i, pc] of starts.entries()) {
      if (this.blocks[pc] !== 0) continue
      this.blocks[pc] = i + 1
      this.traced[pc] = MARK
    }
  }

  /**
   * The interpreter has come to a `MARK`.
   * @returns whether a block begins there; otherwise the operation is in its place now.
   */
  arrived(pc: number): boolean {
    if (this.blocks[pc] !== 0) return true
    this.traced[pc] = this.#code[pc]!
    this.#known!.seen.add(pc)
    return false
  }

  /** A place is watched, or no longer. */
  watch(pc: number, on: boolean, operation: number): void {
    if (this.traced[pc] !== MARK) this.traced[pc] = operation
    const slot = this.#known?.program.watchable.get(pc)
    if (slot !== undefined) this.#watched[slot] = on ? 1 : 0
  }

  /** A watched place is executed: its operation stands in place of the watch, or the watch again. */
  lift(pc: number, operation: number): void {
    if (this.traced[pc] !== MARK) this.traced[pc] = operation
  }

  /** Nothing is translated yet, and so many cycles were interpreted. */
  interpreted(cycles: number): void {
    const found = this.#known!
    found.interpreted += cycles
    if (found.interpreted < this.#pace.first) return
    found.interpreted = 0
    this.#translate()
  }

  /** The interpreter begins at a place where no block does. */
  missed(pc: number): void {
    const found = this.#known!
    if (found.covered[pc] === 1) return
    if (++this.#misses < this.#pace.again << found.count) return
    this.#translate()
  }

  #translate(): void {
    const found = this.#known!
    const isNews = found.module === this.#module
    this.#misses = 0
    if (isNews && found.count < MOST_TRANSLATIONS) {
      const { bytes, starts } = translate(found.program, found.seen)
      found.count++
      found.module = compile(bytes) ?? found.module
      if (found.module !== this.#module) {
        found.starts = starts
        for (const pc of found.seen) found.covered[pc] = 1
      }
    }
    this.#take()
  }
}
