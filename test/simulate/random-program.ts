/** Random AVR programs with a random world around them, executed twice: by the interpreter, and translated. */
import { AvrCore, type IoBus } from '../../src/controller/simulate/core/core.js'

/** A small generator (Marsaglia's xorshift32), so that every run tries the same programs. */
export class Random {
  #x: number

  constructor(seed: number) {
    this.#x = Math.imul(seed, 0x9e3779b1) | 1
    for (let i = 0; i < 8; i++) this.next()
  }

  next(): number {
    this.#x ^= this.#x << 13
    this.#x ^= this.#x >>> 17
    this.#x ^= this.#x << 5
    return this.#x >>> 0
  }

  below(n: number): number {
    return this.next() % n
  }

  of<T>(list: readonly T[]): T {
    return list[this.below(list.length)]!
  }
}

const WORDS = 0x400
const RAM_BYTES = 0x400

/** I/O registers for which the bus answers, among those that hold what was written. */
const HOOKED = [0x23, 0x26, 0x35, 0x46, 0x84, 0x85, 0xc6]
const IO = [...HOOKED, 0x24, 0x25, 0x2b, 0x3e, 0x5b, 0x5c, 0x5d, 0x5e, 0x5f, 0x7a, 0x80, 0xc0]

export class RandomProgram {
  readonly flash = new Uint8Array(2 * WORDS)
  readonly seed: number
  readonly longProgramCounter: boolean
  readonly ramStart: number
  readonly #random: Random
  readonly #words: Uint16Array

  constructor(seed: number, longProgramCounter: boolean) {
    this.seed = seed
    this.longProgramCounter = longProgramCounter
    this.ramStart = longProgramCounter ? 0x200 : 0x100
    this.#random = new Random(seed)
    this.#words = new Uint16Array(this.flash.buffer)
    for (let at = 0; at < WORDS; ) at += this.#put(at)
  }

  /** One instruction, now and then a row that compilers make. @returns words. */
  #put(at: number): number {
    const random = this.#random
    const row = random.below(60) === 0 ? this.#row() : this.#instruction(at)
    for (const [i, word] of row.entries()) if (at + i < WORDS) this.#words[at + i] = word
    return row.length
  }

  /** A critical section, a frame on the stack, a handler's end, a loop that waits. */
  #row(): number[] {
    const random = this.#random
    switch (random.below(5)) {
      case 0:
        return [0xb7ff, 0x94f8, this.#alu(), 0xbfff]
      case 1:
        return [0xb7cd, 0xb7de, 0x9760, 0xb60f, 0x94f8, 0xbfde, 0xbe0f, 0xbfcd]
      case 2:
        return [0x900f, 0xbe0f, 0x900f, 0x9518]
      case 3:
        // LDS r24, SBRC r24 bit, RJMP to the load
        return [0x9180, random.of([0x7a, 0x80, 0x84, this.ramStart + 9]), 0xfd80 | random.below(8), 0xcffc]
      default:
        // A count down in two registers.
        return [0x9701 | (random.below(4) << 4), 0xf7f1]
    }
  }

  #alu(): number {
    const random = this.#random
    return (
      random.of([0x0400, 0x0800, 0x0c00, 0x1400, 0x1800, 0x1c00, 0x2000, 0x2400, 0x2800, 0x2c00]) |
      random.below(0x400)
    )
  }

  #register(): number {
    // Registers that are no pointers more often, so that pointers keep to RAM for a while.
    return this.#random.below(this.#random.below(8) === 0 ? 32 : 26)
  }

  #instruction(at: number): number[] {
    const random = this.#random
    const d = this.#register() << 4
    switch (random.below(32)) {
      case 0:
      case 1:
      case 2:
        return [this.#alu()]
      case 3:
      case 4: {
        const high = random.below(6) === 0 ? random.below(16) : random.below(10)
        return [
          random.of([0x3000, 0x4000, 0x5000, 0x6000, 0x7000, 0xe000]) | (high << 4) | (random.next() & 0xf0f),
        ]
      }
      case 5:
        return [0x9600 | random.below(0x200)]
      case 6:
      case 7:
        return [0x9400 | d | random.of([0, 1, 2, 3, 5, 6, 7, 10])]
      case 8:
        return [0x9408 | (random.below(7) << 4) | (random.below(2) << 7)]
      case 9:
        return [0xf800 | d | random.below(8) | (random.below(2) << 9)]
      case 10:
        // SBRC, SBRS
        return [0xfc00 | d | random.below(8) | (random.below(2) << 9)]
      case 11:
        // CPSE
        return [0x1000 | random.below(0x400)]
      case 12:
      case 13:
      case 14:
        return [0xf000 | (random.below(2) << 10) | (random.below(14) << 3) | random.below(8)]
      case 15:
        return [0xf000 | (random.below(2) << 10) | ((-random.below(10) & 0x7f) << 3) | random.below(8)]
      case 16:
        return [0xc000 | (random.below(24) & 0xfff)]
      case 17:
        // LDD, STD
        return [
          0x8000 |
            (random.below(2) << 9) |
            d |
            (random.below(2) << 3) |
            random.below(8) |
            (random.below(4) << 10),
        ]
      case 18:
      case 19:
        return [
          random.of([0x9001, 0x9002, 0x9009, 0x900a, 0x900c, 0x900d, 0x900e]) | d | (random.below(2) << 9),
        ]
      case 20:
        return [0x900f | d | (random.below(2) << 9)]
      case 21:
      case 30:
      case 31:
        return [
          random.of([0x9004, 0x9005, 0x9006, 0x9007, 0x9007, 0x95c8, 0x95d8]) | (random.below(3) ? d : 0),
        ]
      case 22:
        return [random.of([0x9c00, 0x0200, 0x0300, 0x0100]) | random.below(0x100)]
      case 23:
        // LDS, STS
        return [0x9000 | d | (random.below(2) << 9), this.#address()]
      case 24: {
        // IN, OUT
        const io = random.of(IO.filter((a) => a < 0x60)) - 0x20
        return [0xb000 | (random.below(3) === 0 ? 0x800 : 0) | d | (io & 15) | ((io & 0x30) << 5)]
      }
      case 25: {
        // CBI, SBIC, SBI, SBIS
        const io = random.of(IO.filter((a) => a < 0x40)) - 0x20
        return [0x9800 | (random.below(4) << 8) | (io << 3) | random.below(8)]
      }
      case 26:
        return random.below(2) ? [0xd000 | random.below(40)] : [0x940e, this.#target(at)]
      case 27:
        return random.of([[0x9508], [0x9508], [0x9518], [0x940c, this.#target(at)]])
      case 28:
        return [
          random.of([
            0x9409, 0x9509, 0x9419, 0x9519, 0x9478, 0x94f8, 0x9588, 0x95a8, 0x9598, 0x95e8, 0x0000, 0xff0f,
          ]),
        ]
      default:
        return [0xc000 | (-random.below(20) & 0xfff)]
    }
  }

  #address(): number {
    const random = this.#random
    if (random.below(2)) return random.of(IO)
    return random.below(40) === 0 ? random.below(0x1000) : this.ramStart + random.below(RAM_BYTES)
  }

  #target(at: number): number {
    const random = this.#random
    return random.below(3) ? (at + random.below(60)) % WORDS : random.below(WORDS)
  }
}

/** A core in its world. What the bus answers and does depends on what the program did and when, and nothing else. */
class World {
  readonly core: AvrCore
  /** A sum of everything the bus was asked, in order. */
  log = 0
  /** When the stretch ends, in cycles since the core's base. */
  #end = 0
  /** The watchdog's event: the stretch ends earlier for it, and each WDR puts it off. */
  #bite = WATCHDOG
  /** Of several WDR without anything else between, translated code tells of the last one only. */
  #kickedAt = 0

  constructor(program: RandomProgram, translated: boolean) {
    const hooked = new Uint8Array(0x200)
    for (const address of HOOKED) hooked[address] = 1
    const bus: IoBus = {
      read: (address, at) => {
        // What no peripheral answers for is not heard of: it need not be asked.
        if (hooked[address] !== 1) return this.core.data[address]!
        this.#note(1, address, at, 0)
        this.#happen(at)
        return (this.log >>> 8) & 255
      },
      write: (address, value, mask, at) => {
        this.#note(2, address, at, (value & 255) | (mask << 8))
        this.core.data[address] = value
        this.#happen(at)
        if (this.log % 23 === 0) this.core.stall += 2
      },
      special: (what, at) => {
        if (what === 'wdr') {
          this.#kickedAt = at
          this.#bite = at + WATCHDOG
          if (this.core.limit > 0) this.#setLimit()
          return
        }
        this.#note(3, what.length, at, this.core.pc)
        if (what === 'sleep') this.core.limit = 0
      },
      interruptsTurned: (on, pc, at) => this.#note(4, on ? 1 : 0, at, pc),
      returned: (at) => this.#note(5, 0, at, this.core.sreg),
      reached: (pc, at) => {
        this.#note(6, pc, at, this.core.sreg)
        if (this.log % 5 === 0) this.core.unwatch(pc)
      },
    }
    const { ramStart, longProgramCounter } = program
    this.core = new AvrCore(
      program.flash,
      { ramStart, ramBytes: RAM_BYTES, longProgramCounter },
      hooked,
      bus,
      translated ? { first: 3000, again: 20 } : undefined,
    )
    const { core } = this
    const random = new Random(program.seed)
    core.skipWaiting = program.seed % 3 !== 0
    if (program.seed % 2 === 0) for (let i = 0; i < 12; i++) core.watch(random.below(WORDS - 3))
    core.watch(0)
    this.scatter(random)
    core.reset()
    core.pc = random.below(WORDS)
  }

  #setLimit(): void {
    this.core.limit = Math.min(this.#end, this.#bite - this.core.base)
  }

  #note(kind: number, a: number, at: number, b: number): void {
    const { core } = this
    if (this.#kickedAt > 0) {
      const kickedAt = this.#kickedAt
      this.#kickedAt = 0
      this.#note(7, 0, kickedAt, 0)
    }
    if (this.#bite <= at) {
      // As for a machine, an event that is due comes before the access.
      this.#bite = at + WATCHDOG
      this.#note(8, 0, at, 0)
      if (core.limit > 0) this.#setLimit()
    }
    let x =
      this.log ^
      Math.imul(kind + (a << 4), 0x85ebca6b) ^
      Math.imul(at | 0, 0xc2b2ae35) ^
      Math.imul(b + 1, 0x27d4eb2f)
    x = Math.imul(x ^ (x >>> 15), 0x2c1b3c6d)
    this.log = (x ^ (x >>> 13)) >>> 0
  }

  /** Sometimes the next event moves, or an interrupt is asked for. */
  #happen(at: number): void {
    const { core } = this
    const dice = this.log % 31
    if (dice === 0) this.#end = Math.min(this.#end, at - core.base + 3)
    else if (dice === 1) this.#end += 9
    if (dice < 2 && core.limit > 0) this.#setLimit()
    else if (dice === 2) {
      core.interruptWaits = true
      core.limit = 0
    } else if (dice === 3) core.serial++
  }

  /** New pointers into RAM, and new registers. */
  scatter(random: Random): void {
    const { core } = this
    for (let r = 0; r < 32; r++) core.data[r] = random.next()
    for (const p of [26, 28, 30]) core.data[p + 1] = 2 + random.below(3)
    core.data[0x5b] = random.below(2)
    core.data[0x5c] = 0
  }

  step(limit: number, interrupt: number): void {
    const { core } = this
    core.base += core.c
    core.c = 0
    this.#end = core.delayed ? 1 : limit
    core.limit = Math.min(this.#end, this.#bite - core.base)
    core.delayed = false
    if (core.limit > 0) core.execute()
    if (core.base + core.c >= this.#bite) this.#note(9, 0, core.base + core.c, 0)
    if (interrupt > 0 && (core.interruptWaits || limit % 3 === 0)) {
      core.interruptWaits = false
      if ((core.sreg & 0x80) !== 0) core.c += core.enterInterrupt(interrupt)
    }
  }

  get state(): readonly (readonly [name: string, value: number])[] {
    const { core } = this
    return [
      ['pc', core.pc],
      ['cycle', core.base + core.c],
      ['limit', core.limit],
      ['sreg', core.sreg],
      ['sp', core.sp],
      ['lowest sp', core.lowestSp],
      ['illegal', core.illegal],
      ['first illegal', core.illegalPc],
      ['at', core.illegalAt],
      ['outside', core.outside],
      ['first outside', core.outsidePc],
      ['waiting', core.waitingCycles],
      ['came from', core.cameFrom],
      ['serial', core.serial],
      ['delayed', Number(core.delayed)],
      ['log', this.log],
      ['kicked', this.#kickedAt],
      ['bite', this.#bite],
    ]
  }
}

/** Cycles until the watchdog's event: longer than most stretches, shorter than some. */
const WATCHDOG = 150

const STRETCHES = 4000
/** Bytes of the data space that are compared. */
const COMPARED = 0x200 + RAM_BYTES

export interface BothRuns {
  /** The first difference; undefined: there was none. */
  difference: string | undefined
  cycles: number
  translatedCycles: number
}

/** Execute a program both ways from event to event. */
export function runBoth(program: RandomProgram): BothRuns {
  const plain = new World(program, false)
  const translated = new World(program, true)
  const random = new Random(program.seed + 77)
  const fresh = [program.seed, program.seed]
  let difference: string | undefined
  for (let i = 0; i < STRETCHES && difference === undefined; i++) {
    const limit = 1 + random.below(random.below(4) === 0 ? 600 : 60) + (random.below(16) === 0 ? 0.5 : 0)
    const interrupt = random.below(3) === 0 ? 2 * random.below(20) : 0
    plain.step(limit, interrupt)
    translated.step(limit, interrupt)
    const theirs = plain.state
    const different = translated.state.findIndex(([, value], k) => value !== theirs[k]![1])
    if (different >= 0) {
      const [name, value] = theirs[different]!
      difference = `stretch ${i}: ${name} ${value}; translated ${translated.state[different]![1]}`
    }
    // All bytes are compared now and then; a difference stays, or was none.
    if (i % 8 === 0) difference ??= differingByte(plain.core.data, translated.core.data)
    if (i % 50 === 0) {
      // Out of a loop that nothing ends, and back to RAM.
      const pc = random.below(WORDS)
      for (const [k, world] of [plain, translated].entries()) {
        world.core.pc = pc
        world.core.sp = program.ramStart + RAM_BYTES - 1
        world.core.serial++
        world.scatter(new Random(fresh[k]!++))
      }
    }
  }
  difference ??= differingByte(plain.core.data, translated.core.data)
  const cycles = plain.core.base + plain.core.c
  return {
    difference,
    cycles: cycles - plain.core.waitingCycles,
    translatedCycles: translated.core.translatedCycles,
  }
}

function differingByte(a: Uint8Array, b: Uint8Array): string | undefined {
  for (let i = 0; i < COMPARED; i++)
    if (a[i] !== b[i]) return `data[0x${i.toString(16)}] ${a[i]}; translated ${b[i]}`
  return undefined
}
