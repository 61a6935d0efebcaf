/**
 * The AVR core: executes predecoded flash until a given cycle. Peripherals hang on the data space below the RAM and
 * are reached only through the two methods of {@link IoBus}; everything else is plain array access.
 *
 * Time: an instruction that begins at cycle c and takes n cycles reads I/O as it is at c + n − 1 and what it writes
 * holds from c + n. With that, a timer started by `STS`, `NOP`, `LDS` reads 2 on the chip and here.
 *
 * The file is long because the dispatcher is one loop over local variables: divided into functions it ran at a fraction
 * of the speed.
 */
import { decodeFlash } from './decode.js'
import { type FlagTables, flagTables } from './flags.data.js'
import { OP } from './operations.data.js'
import { isPointerExtension } from './translate/context.js'
import { MOST_WATCHED, RARE, STATE, TIME } from './translate/layout.data.js'
import { Translation, type TranslationPace } from './translate/translation.js'
import { type CoreMemory, coreMemory, WaitingSearch } from './waiting.js'

/** What the core asks of its surroundings; `atCycle` counts from power-up. */
export interface IoBus {
  read(address: number, atCycle: number): number
  /** `mask`: the bits concerned; 0xff for a whole write, one bit for SBI and CBI. */
  write(address: number, value: number, mask: number, atCycle: number): void
  /** SLEEP, WDR, SPM, BREAK. Of several WDR with nothing else to hear of between them the last one will do. */
  special(what: 'sleep' | 'wdr' | 'spm' | 'break', atCycle: number): void
  /** The global interrupt flag has changed; `pc` of the instruction that did it. */
  interruptsTurned(on: boolean, pc: number, atCycle: number): void
  /** RETI was executed. */
  returned(atCycle: number): void
  /** The instruction at a place given to `AvrCore.watch` is about to be executed. */
  reached(pc: number, atCycle: number): void
}

const { READ, WRITE, SET_BIT, CLEAR_BIT, SKIP, PUSH, CALL, TURNED, RETURNED, SPECIAL, LOOK, TRAP } = RARE
const SPECIALS = ['sleep', 'wdr', 'break', 'spm'] as const

export class AvrCore {
  /** Data space: registers, I/O, RAM; 64 KiB so that no address is outside. */
  readonly data: Uint8Array
  readonly flash: Uint8Array
  readonly #code: Int32Array
  readonly #pcMask: number
  readonly #ramStart: number
  readonly #ramBytes: number
  readonly #longProgramCounter: boolean
  readonly #hooked: Uint8Array
  readonly #bus: IoBus
  /** Undefined: every instruction is interpreted. */
  readonly #translation: Translation | undefined
  readonly #flags: FlagTables

  pc = 0
  sreg = 0
  sp = 0
  /** Cycle at which the running call of {@link execute} began. */
  base = 0
  /** Cycles since {@link base}. */
  c = 0
  /** `execute` ends at the first instruction boundary at or after this, in cycles since {@link base}. */
  limit = 0
  /** Cycles that the bus adds to the instruction being executed (EEPROM accesses halt the CPU). */
  stall = 0
  /** An enabled interrupt waits; kept by the bus. */
  interruptWaits = false
  /** One more instruction runs before an interrupt is taken: after SEI and RETI. */
  delayed = false
  lowestSp = 0xffff
  illegal = 0
  illegalPc = -1
  illegalAt = 0
  /** Where the last jump, call or return to address 0 was; −1: none since it was last taken. */
  cameFrom = -1
  /** Accesses to addresses where the chip has nothing. */
  outside = 0
  outsidePc = -1

  /** Cycles that ran as WebAssembly. */
  translatedCycles = 0
  readonly #memory: CoreMemory
  readonly #epochs: Uint8Array
  /** Words by `STATE`, which translated code shares. */
  readonly #shared: Int32Array
  readonly #waiting: WaitingSearch
  /** Watched places: what stands there. A watched instruction is put back while it is executed. */
  readonly #watched = new Map<number, number>()
  #lifted = -1
  /** Every place that is or was watched. */
  readonly #watchable = new Set<number>()

  /**
   * @param flash program memory, bytes; its length a power of two.
   * @param hooked per data address below the RAM: 1 where the bus must see reads by IN (others read `data`).
   * @param pace when what runs often becomes WebAssembly, with the same results; undefined: the interpreter executes
   *   everything.
   */
  constructor(
    flash: Uint8Array,
    memory: { ramStart: number; ramBytes: number; longProgramCounter: boolean },
    hooked: Uint8Array,
    bus: IoBus,
    pace?: TranslationPace,
  ) {
    this.flash = flash
    const words = new Uint16Array(flash.length / 2)
    for (let i = 0; i < words.length; i++) words[i] = flash[2 * i]! | (flash[2 * i + 1]! << 8)
    this.#code = decodeFlash(words, memory.longProgramCounter)
    this.#pcMask = words.length - 1
    this.#ramStart = memory.ramStart
    this.#ramBytes = memory.ramBytes
    this.#longProgramCounter = memory.longProgramCounter
    this.#hooked = hooked
    this.#bus = bus
    this.#flags = flagTables()
    this.#translation = pace && this.#makeTranslation(pace)
    this.#memory = this.#translation?.memory ?? coreMemory()
    this.data = this.#memory.data
    this.#epochs = this.#memory.epochs
    this.#shared = this.#memory.state
    this.#waiting = new WaitingSearch(this.#memory, (at) => bus.special('wdr', at))
  }

  /** Changes whenever something outside the instruction stream changed the state: an event, an interrupt. */
  get serial(): number {
    return this.#shared[STATE.serial]!
  }

  set serial(value: number) {
    this.#shared[STATE.serial] = value
  }

  /** Skip loops that wait for an event; results are the same, the waiting costs nothing. Default true. */
  get skipWaiting(): boolean {
    return this.#shared[STATE.skipWaiting] === 1
  }

  set skipWaiting(on: boolean) {
    this.#shared[STATE.skipWaiting] = on ? 1 : 0
  }

  /** Cycles spent in loops that repeat a state which only an event can end. */
  get waitingCycles(): number {
    return this.#memory.times[TIME.waiting]!
  }

  /** Program counter, status and stack pointer as after a reset; RAM and registers keep their content. */
  reset(): void {
    this.pc = 0
    this.sreg = 0
    this.sp = this.#ramStart + this.#ramBytes - 1
    this.delayed = false
    this.serial++
  }

  /** Tell the bus each time before the instruction at `pc` is executed; costs nothing elsewhere. */
  watch(pc: number): void {
    if (this.#watched.has(pc)) return
    this.#watched.set(pc, this.#code[pc]!)
    this.#code[pc] = OP.TRAP
    this.#watchable.add(pc)
    this.#translation?.watch(pc, true, OP.TRAP)
  }

  unwatch(pc: number): void {
    const was = this.#watched.get(pc)
    if (was === undefined) return
    this.#watched.delete(pc)
    this.#code[pc] = was
    this.#translation?.watch(pc, false, was)
    if (this.#lifted === pc) this.#lifted = -1
  }

  /** The decoded instruction at a place, watched or not. */
  operationAt(pc: number): number {
    return this.#watched.get(pc) ?? this.#code[pc]!
  }

  /** Enter an interrupt: push the program counter, clear I. @returns cycles taken: 4, with a 22-bit counter 5. */
  enterInterrupt(vectorPc: number): number {
    this.serial++
    this.#push(this.pc & 255)
    this.#push((this.pc >> 8) & 255)
    if (this.#longProgramCounter) this.#push(this.pc >> 16)
    this.sreg &= 0x7f
    this.pc = vectorPc & this.#pcMask
    return this.#longProgramCounter ? 5 : 4
  }

  #push(value: number): void {
    this.#store(this.sp, value)
    this.sp = (this.sp - 1) & 0xffff
    if (this.sp < this.lowestSp) this.lowestSp = this.sp
  }

  #store(address: number, value: number): void {
    if ((address - this.#ramStart) >>> 0 < this.#ramBytes) this.data[address] = value
    else this.#writeOutside(address, value)
  }

  /** A store below or above the RAM, at the end of the instruction: registers, I/O, or nothing. */
  #writeOutside(address: number, value: number): void {
    if (address < 32) this.data[address] = value
    else if (address >= this.#ramStart) this.#missing()
    else if (address === 0x5f) this.#setSreg(value)
    else if (address === 0x5d) this.sp = (this.sp & 0xff00) | value
    else if (address === 0x5e) this.sp = (this.sp & 0xff) | (value << 8)
    else if (isPointerExtension(address)) this.data[address] = value
    else {
      this.#bus.write(address, value, 0xff, this.base + this.c)
      this.c += this.stall
      this.stall = 0
    }
  }

  #readOutside(address: number): number {
    if (address < 32) return this.data[address]!
    if (address === 0x5f) return this.sreg
    if (address === 0x5d) return this.sp & 255
    if (address === 0x5e) return this.sp >> 8
    if (address >= this.#ramStart) {
      this.#missing()
      return 0
    }
    return this.#bus.read(address, this.base + this.c - 1)
  }

  #missing(): void {
    if (this.outside++ === 0) this.outsidePc = this.pc
  }

  #setSreg(value: number): void {
    const was = this.sreg & 0x80
    this.sreg = value
    if ((value & 0x80) !== was) this.#turned(was === 0, this.pc)
  }

  #lookForWaiting(pc: number): number {
    const { base, c, limit, sreg, sp } = this
    return this.#waiting.look(pc, base + c, limit - c, sreg, sp)
  }

  /** An I/O access that is no pure function of the state: the running loop does not merely wait. */
  touch(): void {
    this.#shared[STATE.changes] = this.#shared[STATE.changes]! + 1
  }

  /** Whatever reaches beyond registers and RAM, or is seldom. The instruction has been counted and passed already. */
  #rare(action: number, place: number, operand: number): void {
    const { data } = this
    switch (action) {
      case READ:
        data[operand] = this.#readOutside(place)
        break
      case WRITE:
        this.touch()
        this.#writeOutside(place, operand)
        break
      case SET_BIT:
      case CLEAR_BIT: {
        this.touch()
        const value = action === SET_BIT ? data[place]! | operand : data[place]! & ~operand
        this.#bus.write(place, value, operand, this.base + this.c)
        this.c += this.stall
        this.stall = 0
        break
      }
      case SKIP: {
        // SBIC and SBIS of a register that a peripheral answers for; the instruction is not passed yet.
        const w = this.operationAt(this.pc)
        const set = (this.#bus.read(place, this.base + this.c) & operand) !== 0
        const size = set === ((w & 255) === 67) ? 1 + (w >> 24) : 1
        this.pc = (this.pc + size) & this.#pcMask
        this.c += size
        break
      }
      case PUSH:
        this.touch()
        this.#push(operand)
        break
      case CALL:
        this.touch()
        this.#push(operand & 255)
        this.#push((operand >> 8) & 255)
        if (this.#longProgramCounter) this.#push(operand >> 16)
        break
      case TURNED:
        this.#turned(operand === 1, this.pc - 1)
        break
      case RETURNED:
        this.#bus.returned(this.base + this.c)
        if ((this.sreg & 128) === 0) {
          this.sreg |= 128
          this.#turned(true, this.pc)
        }
        if (this.interruptWaits) {
          this.delayed = true
          this.limit = 0
        }
        break
      case SPECIAL:
        this.pc--
        if (SPECIALS[operand] === 'wdr') this.#waiting.kickedAt = this.base + this.c
        this.#bus.special(SPECIALS[operand]!, this.base + this.c)
        this.pc++
        break
      case TRAP: {
        const { pc } = this
        this.#bus.reached(pc, this.base + this.c)
        const original = this.#watched.get(pc)
        if (original === undefined) break
        // The instruction itself comes next, and then a break in which it is watched again.
        this.#code[pc] = original
        this.#translation?.lift(pc, original)
        this.#lifted = pc
        this.limit = this.c + 1
        break
      }
      default:
        this.c += this.#lookForWaiting(place)
    }
  }

  /** The global interrupt flag has changed. */
  #turned(on: boolean, pc: number): void {
    this.#bus.interruptsTurned(on, pc, this.base + this.c)
    if (on && this.interruptWaits) {
      this.delayed = true
      this.limit = 0
    }
  }

  // Translated code

  #makeTranslation(pace: TranslationPace): Translation | undefined {
    return Translation.of(this.#code, pace, {
      rare: (action, place, operand) => this.#rareFromBlock(action, place, operand),
      read: (address, cycles, pc) => {
        this.#kick()
        this.pc = pc
        const value = this.#bus.read(address, this.base + cycles)
        this.#shared[STATE.limit] = Math.ceil(this.limit)
        return value
      },
      look: (from, cycles, sreg, sp) => {
        this.#kick()
        this.c = cycles
        this.sreg = sreg
        this.sp = sp
        const skipped = this.#lookForWaiting(from)
        this.#shared[STATE.limit] = Math.ceil(this.limit)
        return cycles + skipped
      },
      write: (address, value, mask, cycles, pc, sreg) => {
        this.#kick()
        this.touch()
        this.pc = pc
        this.c = cycles
        this.sreg = sreg
        this.#bus.write(address, value, mask, this.base + cycles)
        this.#shared[STATE.limit] = Math.ceil(this.limit)
        const { stall } = this
        this.stall = 0
        return cycles + stall
      },
    })
  }

  #bind(translation: Translation): void {
    const code = this.#code.slice()
    const watchable = new Map<number, number>()
    for (const pc of this.#watchable) {
      if (watchable.size === MOST_WATCHED) break
      watchable.set(pc, watchable.size)
      code[pc] = this.operationAt(pc)
    }
    translation.bind({
      code,
      flash: this.flash,
      ramStart: this.#ramStart,
      ramBytes: this.#ramBytes,
      longProgramCounter: this.#longProgramCounter,
      hooked: this.#hooked,
      watchable,
    })
  }

  /** Tell of the last WDR in translated code, before anything else that the bus hears of. */
  #kick(): void {
    const kicked = this.#shared[STATE.kicked]!
    if (kicked === 0) return
    this.#shared[STATE.kicked] = 0
    this.#waiting.kickedAt = this.base + kicked
    this.#bus.special('wdr', this.base + kicked)
  }

  #rareFromBlock(action: number, place: number, operand: number): void {
    this.#kick()
    const state = this.#shared
    this.pc = state[STATE.pc]!
    this.c = state[STATE.cycles]!
    this.sreg = state[STATE.sreg]!
    this.sp = state[STATE.sp]!
    this.#rare(action, place, operand)
    state[STATE.pc] = this.pc
    state[STATE.cycles] = this.c
    state[STATE.sreg] = this.sreg
    state[STATE.sp] = this.sp
    state[STATE.limit] = Math.ceil(this.limit)
  }

  /** Execute blocks where they fit before the limit, and single instructions where not. */
  #executeBlocks(translation: Translation): void {
    const { blocks } = translation
    const state = this.#shared
    this.#memory.times[TIME.base] = this.base
    while (this.c < this.limit) {
      const block = blocks[this.pc]!
      if (block !== 0) {
        state[STATE.cycles] = this.c
        state[STATE.sreg] = this.sreg
        state[STATE.sp] = this.sp
        state[STATE.limit] = Math.ceil(this.limit)
        state[STATE.lowestSp] = this.lowestSp
        const before = this.c
        translation.run!(block)
        this.pc = state[STATE.pc]!
        this.c = state[STATE.cycles]!
        this.translatedCycles += this.c - before
        this.sreg = state[STATE.sreg]!
        this.sp = state[STATE.sp]!
        this.lowestSp = state[STATE.lowestSp]!
        const { limit } = this
        this.#kick()
        if (this.c >= this.limit) return
        // The watchdog's event was the next one, and is no longer.
        if (this.limit > limit) continue
      }
      if (blocks[this.pc] !== 0) this.#interpret(this.#code)
      else {
        translation.missed(this.pc)
        this.#interpret(translation.traced)
      }
    }
  }

  /**
   * Execute until {@link limit}, counted from {@link base}; at least to the next instruction boundary. Afterwards
   * {@link c} says how many cycles passed.
   */
  execute(): void {
    const translation = this.#translation
    if (translation === undefined) this.#interpret(this.#code)
    else if (translation.run === undefined) {
      if (!translation.isBound) this.#bind(translation)
      const before = this.c
      this.#interpret(translation.traced)
      translation.interpreted(this.c - before)
    } else this.#executeBlocks(translation)
  }

  #interpret(program: Int32Array): void {
    let code = program
    const data = this.data
    const flash = this.flash
    const ramStart = this.#ramStart
    const ramBytes = this.#ramBytes
    const pcMask = this.#pcMask
    const hooked = this.#hooked
    const callPush = this.#longProgramCounter ? 3 : 2
    let c = this.c
    let pc = this.pc
    let sreg = this.sreg
    let sp = this.sp
    let limit = this.limit
    let lowestSp = this.lowestSp
    const shared = this.#shared
    let probe = shared[STATE.probe]!
    let savedPc = shared[STATE.savedPc]!
    const { add: addFlags, sub: subFlags, logic: logicFlags, inc: incFlags, dec: decFlags } = this.#flags
    const epochs = this.#epochs
    let epoch = shared[STATE.epoch]!

    let action = 0
    let operand = 0
    let place = 0

    while (c < limit) {
      const w = code[pc]!
      // Literal cases, in the order of OP in operations.data.ts: only these become a jump table.
      switch (w & 255) {
        case 1: // NOP
          pc++
          c++
          continue
        case 2: {
          // ADD
          const d = (w >> 8) & 255
          const a = data[d]!
          const b = data[w >> 16]!
          data[d] = a + b
          sreg = (sreg & 0xc0) | addFlags[(a << 8) | b]!
          pc++
          c++
          continue
        }
        case 3: {
          // ADC
          const d = (w >> 8) & 255
          const a = data[d]!
          const b = data[w >> 16]!
          data[d] = a + b + (sreg & 1)
          sreg = (sreg & 0xc0) | addFlags[((sreg & 1) << 16) | (a << 8) | b]!
          pc++
          c++
          continue
        }
        case 4: {
          // SUB
          const d = (w >> 8) & 255
          const a = data[d]!
          const b = data[w >> 16]!
          data[d] = a - b
          sreg = (sreg & 0xc0) | subFlags[(a << 8) | b]!
          pc++
          c++
          continue
        }
        case 5: {
          // SBC: Z stays only if it was set
          const d = (w >> 8) & 255
          const a = data[d]!
          const b = data[w >> 16]!
          data[d] = a - b - (sreg & 1)
          sreg = (sreg & 0xc0) | (subFlags[((sreg & 1) << 16) | (a << 8) | b]! & (0xfd | sreg))
          pc++
          c++
          continue
        }
        case 6: {
          // AND
          const d = (w >> 8) & 255
          const r = data[d]! & data[w >> 16]!
          data[d] = r
          sreg = (sreg & 0xe1) | logicFlags[r]!
          pc++
          c++
          continue
        }
        case 7: {
          // OR
          const d = (w >> 8) & 255
          const r = data[d]! | data[w >> 16]!
          data[d] = r
          sreg = (sreg & 0xe1) | logicFlags[r]!
          pc++
          c++
          continue
        }
        case 8: {
          // EOR
          const d = (w >> 8) & 255
          const r = data[d]! ^ data[w >> 16]!
          data[d] = r
          sreg = (sreg & 0xe1) | logicFlags[r]!
          pc++
          c++
          continue
        }
        case 9: // MOV
          data[(w >> 8) & 255] = data[w >> 16]!
          pc++
          c++
          continue
        case 10: // CP
          sreg = (sreg & 0xc0) | subFlags[(data[(w >> 8) & 255]! << 8) | data[w >> 16]!]!
          pc++
          c++
          continue
        case 11: // CPC
          sreg =
            (sreg & 0xc0) |
            (subFlags[((sreg & 1) << 16) | (data[(w >> 8) & 255]! << 8) | data[w >> 16]!]! & (0xfd | sreg))
          pc++
          c++
          continue
        case 12: // CPSE
          if (data[(w >> 8) & 255] === data[(w >> 16) & 255]) {
            const size = w >> 24
            pc = (pc + 1 + size) & pcMask
            c += 1 + size
          } else {
            pc++
            c++
          }
          continue
        case 13: {
          // MUL
          const p = data[(w >> 8) & 255]! * data[w >> 16]!
          data[0] = p
          data[1] = p >> 8
          sreg = (sreg & 0xfc) | (p >> 15) | (p === 0 ? 2 : 0)
          pc++
          c += 2
          continue
        }
        case 14:
        case 15:
        case 16:
        case 17:
        case 18: {
          // MULS, MULSU, FMUL, FMULS, FMULSU
          const op = w & 255
          let a: number = data[(w >> 8) & 255]!
          let b: number = data[w >> 16]!
          if (op !== 16) a = (a << 24) >> 24
          if (op === 14 || op === 17) b = (b << 24) >> 24
          let p = (a * b) & 0xffff
          const carry = p >> 15
          if (op >= 16) p = (p << 1) & 0xffff
          data[0] = p
          data[1] = p >> 8
          sreg = (sreg & 0xfc) | carry | (p === 0 ? 2 : 0)
          pc++
          c += 2
          continue
        }
        case 19: {
          // MOVW
          const d = (w >> 8) & 255
          const r = w >> 16
          data[d] = data[r]!
          data[d + 1] = data[r + 1]!
          pc++
          c++
          continue
        }
        case 20: // CPI
          sreg = (sreg & 0xc0) | subFlags[(data[(w >> 8) & 255]! << 8) | (w >> 16)]!
          pc++
          c++
          continue
        case 21: {
          // SBCI
          const d = (w >> 8) & 255
          const a = data[d]!
          const k = w >> 16
          data[d] = a - k - (sreg & 1)
          sreg = (sreg & 0xc0) | (subFlags[((sreg & 1) << 16) | (a << 8) | k]! & (0xfd | sreg))
          pc++
          c++
          continue
        }
        case 22: {
          // SUBI
          const d = (w >> 8) & 255
          const a = data[d]!
          const k = w >> 16
          data[d] = a - k
          sreg = (sreg & 0xc0) | subFlags[(a << 8) | k]!
          pc++
          c++
          continue
        }
        case 23: {
          // ORI
          const d = (w >> 8) & 255
          const r = data[d]! | (w >> 16)
          data[d] = r
          sreg = (sreg & 0xe1) | logicFlags[r]!
          pc++
          c++
          continue
        }
        case 24: {
          // ANDI
          const d = (w >> 8) & 255
          const r = data[d]! & (w >> 16)
          data[d] = r
          sreg = (sreg & 0xe1) | logicFlags[r]!
          pc++
          c++
          continue
        }
        case 25: // LDI
          data[(w >> 8) & 255] = w >> 16
          pc++
          c++
          continue
        case 26: {
          // ADIW
          const d = (w >> 8) & 255
          const a = data[d]! | (data[d + 1]! << 8)
          const r = (a + (w >> 16)) & 0xffff
          data[d] = r
          data[d + 1] = r >> 8
          const n = r >> 15
          const v = (~a & r) >> 15
          sreg =
            (sreg & 0xe0) |
            ((a & ~r) >> 15) |
            (r === 0 ? 2 : 0) |
            (n << 2) |
            ((v & 1) << 3) |
            ((n ^ (v & 1)) << 4)
          pc++
          c += 2
          continue
        }
        case 27: {
          // SBIW; H is not affected
          const d = (w >> 8) & 255
          const a = data[d]! | (data[d + 1]! << 8)
          const r = (a - (w >> 16)) & 0xffff
          data[d] = r
          data[d + 1] = r >> 8
          const n = r >> 15
          const v = (a & ~r) >> 15
          sreg =
            (sreg & 0xe0) | (((r & ~a) >> 15) & 1) | (r === 0 ? 2 : 0) | (n << 2) | (v << 3) | ((n ^ v) << 4)
          pc++
          c += 2
          continue
        }
        case 28: {
          // COM
          const d = (w >> 8) & 255
          const r = data[d]! ^ 255
          data[d] = r
          sreg = (sreg & 0xe0) | logicFlags[r]! | 1
          pc++
          c++
          continue
        }
        case 29: {
          // NEG
          const d = (w >> 8) & 255
          const a = data[d]!
          data[d] = -a
          sreg = (sreg & 0xc0) | subFlags[a]!
          pc++
          c++
          continue
        }
        case 30: {
          // SWAP
          const d = (w >> 8) & 255
          const a = data[d]!
          data[d] = (a << 4) | (a >> 4)
          pc++
          c++
          continue
        }
        case 31: {
          // INC
          const d = (w >> 8) & 255
          const r = (data[d]! + 1) & 255
          data[d] = r
          sreg = (sreg & 0xe1) | incFlags[r]!
          pc++
          c++
          continue
        }
        case 32:
        case 33:
        case 34: {
          // ASR, LSR, ROR
          const op = w & 255
          const d = (w >> 8) & 255
          const a = data[d]!
          const top = op === 32 ? a & 128 : op === 33 ? 0 : (sreg & 1) << 7
          const r = (a >> 1) | top
          data[d] = r
          const out = a & 1
          const n = top >> 7
          sreg = (sreg & 0xe0) | out | (r === 0 ? 2 : 0) | (n << 2) | ((n ^ out) << 3) | (out << 4)
          pc++
          c++
          continue
        }
        case 35: {
          // DEC
          const d = (w >> 8) & 255
          const r = (data[d]! - 1) & 255
          data[d] = r
          sreg = (sreg & 0xe1) | decFlags[r]!
          pc++
          c++
          continue
        }
        case 36: // BSET, not I
          sreg |= (w >> 8) & 255
          pc++
          c++
          continue
        case 37: // BCLR, not I
          sreg &= ~(w >> 8)
          pc++
          c++
          continue
        case 38: // SEI
          c++
          pc++
          if ((sreg & 128) !== 0) continue
          sreg |= 128
          action = TURNED
          operand = 1
          break
        case 39: // CLI
          c++
          pc++
          if ((sreg & 128) === 0) continue
          sreg &= 127
          action = TURNED
          operand = 0
          break
        case 40: // BST
          sreg = (sreg & 0xbf) | ((data[(w >> 8) & 255]! & (w >> 16)) !== 0 ? 0x40 : 0)
          pc++
          c++
          continue
        case 41: {
          // BLD
          const d = (w >> 8) & 255
          const bit = w >> 16
          data[d] = (sreg & 0x40) !== 0 ? data[d]! | bit : data[d]! & ~bit
          pc++
          c++
          continue
        }
        case 42:
        case 44:
        case 45:
        case 46: {
          // LDS, LD with displacement, LD with post-increment, LD with pre-decrement
          const op = w & 255
          const d = (w >> 8) & 255
          let address: number
          c += 2
          if (op === 42) {
            address = w >>> 16
            pc = (pc + 2) & pcMask
          } else {
            const p = (w >> 16) & 255
            address = data[p]! | (data[p + 1]! << 8)
            if (op === 44) address = (address + (w >> 24)) & 0xffff
            else {
              if (op === 46) address = (address - 1) & 0xffff
              const after = op === 45 ? address + 1 : address
              data[p] = after
              data[p + 1] = after >> 8
            }
            pc++
          }
          if ((address - ramStart) >>> 0 < ramBytes) {
            data[d] = data[address]!
            continue
          }
          action = READ
          operand = d
          place = address
          break
        }
        case 43:
        case 47:
        case 48:
        case 49: {
          // STS, ST with displacement, ST with post-increment, ST with pre-decrement
          const op = w & 255
          const value = data[(w >> 8) & 255]!
          let address: number
          c += 2
          if (op === 43) {
            address = w >>> 16
            pc = (pc + 2) & pcMask
          } else {
            const p = (w >> 16) & 255
            address = data[p]! | (data[p + 1]! << 8)
            if (op === 47) address = (address + (w >> 24)) & 0xffff
            else {
              if (op === 49) address = (address - 1) & 0xffff
              const after = op === 48 ? address + 1 : address
              data[p] = after
              data[p + 1] = after >> 8
            }
            pc++
          }
          if ((address - ramStart) >>> 0 < ramBytes) {
            if (data[address] !== value) {
              if (epochs[address] !== epoch) this.#waiting.log(address)
              data[address] = value
            }
            continue
          }
          action = WRITE
          operand = value
          place = address
          break
        }
        case 50: // LPM
          data[(w >> 8) & 255] = flash[(data[30]! | (data[31]! << 8)) & (2 * pcMask + 1)]!
          pc++
          c += 3
          continue
        case 51: {
          // LPM Z+
          const z = data[30]! | (data[31]! << 8)
          const value = flash[z & (2 * pcMask + 1)]!
          data[30] = z + 1
          data[31] = (z + 1) >> 8
          data[(w >> 8) & 255] = value
          pc++
          c += 3
          continue
        }
        case 52:
        case 53: {
          // ELPM, ELPM Z+
          const z = data[30]! | (data[31]! << 8) | (data[0x5b]! << 16)
          const value = flash[z & (2 * pcMask + 1)]!
          if ((w & 255) === 53) {
            const next = z + 1
            data[30] = next
            data[31] = next >> 8
            data[0x5b] = next >> 16
          }
          data[(w >> 8) & 255] = value
          pc++
          c += 3
          continue
        }
        case 54: {
          // PUSH
          const value = data[(w >> 8) & 255]!
          c += 2
          pc++
          if ((sp - ramStart) >>> 0 < ramBytes) {
            if (data[sp] !== value) {
              if (epochs[sp] !== epoch) this.#waiting.log(sp)
              data[sp] = value
            }
            sp--
            if (sp < lowestSp) lowestSp = sp
            continue
          }
          action = PUSH
          operand = value
          break
        }
        case 55: // POP
          sp = (sp + 1) & 0xffff
          c += 2
          pc++
          if ((sp - ramStart) >>> 0 < ramBytes) {
            data[(w >> 8) & 255] = data[sp]!
            continue
          }
          action = READ
          operand = (w >> 8) & 255
          place = sp
          break
        case 56: // IN
          c++
          pc++
          if (hooked[w >> 16] === 0) {
            data[(w >> 8) & 255] = data[w >> 16]!
            continue
          }
          action = READ
          operand = (w >> 8) & 255
          place = w >> 16
          break
        case 57: // OUT
          c++
          pc++
          action = WRITE
          operand = data[(w >> 8) & 255]!
          place = w >> 16
          break
        case 58: // IN SREG
          data[(w >> 8) & 255] = sreg
          pc++
          c++
          continue
        case 59: {
          // OUT SREG
          const was = sreg
          c++
          pc++
          sreg = data[(w >> 8) & 255]!
          if (((was ^ sreg) & 128) === 0) continue
          action = TURNED
          operand = sreg >> 7
          break
        }
        case 60: // IN SPL
          data[(w >> 8) & 255] = sp
          pc++
          c++
          continue
        case 61: // IN SPH
          data[(w >> 8) & 255] = sp >> 8
          pc++
          c++
          continue
        case 62: // OUT SPL
          sp = (sp & 0xff00) | data[(w >> 8) & 255]!
          pc++
          c++
          continue
        case 63: // OUT SPH
          sp = (sp & 0xff) | (data[(w >> 8) & 255]! << 8)
          pc++
          c++
          continue
        case 64:
        case 65: {
          // SBI, CBI
          c += 2
          pc++
          action = (w & 255) === 64 ? SET_BIT : CLEAR_BIT
          operand = (w >> 8) & 255
          place = (w >> 16) & 255
          break
        }
        case 66:
        case 67: {
          // SBIC, SBIS
          const address = (w >> 16) & 255
          if (hooked[address] !== 0) {
            action = SKIP
            operand = (w >> 8) & 255
            place = address
            break
          }
          const set = (data[address]! & (w >> 8) & 255) !== 0
          if (set === ((w & 255) === 67)) {
            const size = w >> 24
            pc = (pc + 1 + size) & pcMask
            c += 1 + size
          } else {
            pc++
            c++
          }
          continue
        }
        case 68: // SBRC
          if ((data[(w >> 8) & 255]! & (w >> 16) & 255) === 0) {
            const size = w >> 24
            pc = (pc + 1 + size) & pcMask
            c += 1 + size
          } else {
            pc++
            c++
          }
          continue
        case 69: // SBRS
          if ((data[(w >> 8) & 255]! & (w >> 16) & 255) !== 0) {
            const size = w >> 24
            pc = (pc + 1 + size) & pcMask
            c += 1 + size
          } else {
            pc++
            c++
          }
          continue
        case 70: // BRBS forward
          if (((sreg >> ((w >> 8) & 7)) & 1) !== 0) {
            pc = w >>> 11
            c += 2
          } else {
            pc++
            c++
          }
          continue
        case 71: // BRBC forward
          if (((sreg >> ((w >> 8) & 7)) & 1) === 0) {
            pc = w >>> 11
            c += 2
          } else {
            pc++
            c++
          }
          continue
        case 72: // BRBS backward
        case 73: // BRBC backward
          if (((sreg >> ((w >> 8) & 7)) & 1) === ((w & 1) ^ 1)) {
            c += 2
            const from = pc
            pc = w >>> 11
            if (from !== savedPc && --probe > 0) continue
            action = LOOK
            place = from
            break
          }
          pc++
          c++
          continue
        case 74: // RJMP forward
          pc = w >>> 8
          c += 2
          continue
        case 75: // JMP forward
          pc = w >>> 8
          c += 3
          continue
        case 76: // RJMP backward
        case 77: {
          // JMP backward
          c += (w & 255) - 74
          const from = pc
          pc = w >>> 8
          if (from !== savedPc && --probe > 0) continue
          action = LOOK
          place = from
          break
        }
        case 78: // RCALL
        case 79: // CALL
        case 81: // ICALL
        case 83: {
          // EICALL
          const op = w & 255
          const back = (op === 79 ? pc + 2 : pc + 1) & pcMask
          if (op < 80) pc = w >>> 8
          else {
            const from = pc
            pc = data[30]! | (data[31]! << 8)
            if (op === 83) pc |= data[0x5c]! << 16
            pc &= pcMask
            if (pc === 0) this.cameFrom = from
          }
          c += op === 79 ? callPush + 2 : callPush + 1
          if ((sp - callPush - ramStart) >>> 0 < ramBytes && (sp - ramStart) >>> 0 < ramBytes) {
            const low = back & 255
            const high = (back >> 8) & 255
            if (data[sp] !== low) {
              if (epochs[sp] !== epoch) this.#waiting.log(sp)
              data[sp] = low
            }
            sp--
            if (data[sp] !== high) {
              if (epochs[sp] !== epoch) this.#waiting.log(sp)
              data[sp] = high
            }
            sp--
            if (callPush === 3) {
              const top = back >> 16
              if (data[sp] !== top) {
                if (epochs[sp] !== epoch) this.#waiting.log(sp)
                data[sp] = top
              }
              sp--
            }
            if (sp < lowestSp) lowestSp = sp
            continue
          }
          action = CALL
          operand = back
          break
        }
        case 80: // IJMP
        case 82: {
          // EIJMP
          const from = pc
          pc = (data[30]! | (data[31]! << 8) | ((w & 255) === 82 ? data[0x5c]! << 16 : 0)) & pcMask
          if (pc === 0) this.cameFrom = from
          c += 2
          continue
        }
        case 84: // RET
        case 85: {
          // RETI
          c += callPush + 2
          let back = 0
          if (callPush === 3) {
            sp = (sp + 1) & 0xffff
            back = data[sp]! << 16
          }
          sp = (sp + 1) & 0xffff
          back |= data[sp]! << 8
          sp = (sp + 1) & 0xffff
          back |= data[sp]!
          const from = pc
          pc = back & pcMask
          if (pc === 0) this.cameFrom = from
          if ((w & 255) === 84) continue
          action = RETURNED
          break
        }
        case 86: // SLEEP
        case 87: // WDR
        case 88: // BREAK
        case 89: // SPM
          c++
          pc++
          action = SPECIAL
          operand = (w & 255) - 86
          break
        case 90: // beyond the last word
          this.cameFrom = pc - 1
          pc = 0
          continue
        case 91: // a watched place
          action = TRAP
          break
        case 92: // RJMP or JMP to 0
          this.cameFrom = pc
          c += w >> 8
          pc = 0
          continue
        case 93: // MARK: not been here yet, or a block begins
          if (this.#translation!.arrived(pc)) limit = c
          continue
        default:
          if (this.illegal++ === 0) {
            this.illegalPc = pc
            this.illegalAt = this.base + c
          }
          pc++
          c++
          continue
      }
      // What is rare comes here, in one place: the dispatcher stays small enough to be compiled quickly.
      this.pc = pc
      this.c = c
      this.sreg = sreg
      this.sp = sp
      this.limit = limit
      shared[STATE.probe] = probe
      this.#rare(action, place, operand)
      pc = this.pc
      c = this.c
      sreg = this.sreg
      sp = this.sp
      if (sp < lowestSp) lowestSp = sp
      limit = this.limit
      probe = shared[STATE.probe]!
      savedPc = shared[STATE.savedPc]!
      epoch = shared[STATE.epoch]!
      // The next event may be another one now, so that blocks fit again.
      if (this.#translation?.run !== undefined && action !== TRAP) code = this.#translation.traced
    }
    if (this.#lifted >= 0) {
      this.#code[this.#lifted] = OP.TRAP
      this.#translation?.lift(this.#lifted, OP.TRAP)
      this.#lifted = -1
    }
    this.c = c
    this.pc = pc & pcMask
    this.sreg = sreg
    this.sp = sp
    this.lowestSp = lowestSp
    shared[STATE.probe] = probe
  }
}
