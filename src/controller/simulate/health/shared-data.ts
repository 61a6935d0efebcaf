/**
 * Values of several bytes that the program and an interrupt share. When an interrupt comes between the program's
 * accesses to the bytes of one value, its handler is followed instruction by instruction: touching the value there is a
 * race that was seen. Accesses that no interrupt happened to split are looked at too: with interrupts on, one could.
 * Everything else runs at full speed.
 */
import type { AvrModel } from '../../chips/index.js'
import { OP } from '../core/operations.data.js'
import type { FirmwareImage } from '../image/image.js'
import {
  type Access,
  type AccessGroup,
  accessGroups,
  accessOf,
  type SharedValue,
  usedAsNumber,
  Variables,
  wordsOf,
} from './accesses.js'
import { type EnableBit, enableBits, handlerAddress, handlerKinds } from './handlers.js'

/** What the watch asks of the core. */
export interface WatchedCore {
  readonly data: Uint8Array
  readonly sreg: number
  operationAt(pc: number): number
  watch(pc: number): void
  unwatch(pc: number): void
}

/** An interrupt touched a value in the middle of an access to it, or could. */
export interface Race {
  value: SharedValue
  /** What the interrupted program was doing, and where. */
  kind: 'load' | 'store'
  pc: number
  /** The interrupt, and what its handler did, where. */
  vector: number
  handlerKind: 'load' | 'store'
  handlerPc: number
  /** Times seen; 0: never, but it could happen. */
  count: number
  firstAt: number
}

const MOST_RACES = 64
/** Splits of one group of accesses that are followed; after that one in so many. */
const FOLLOWED = 3000
const THEN_ONE_IN = 32
/** Executions with interrupts off after which a place counts as protected. */
const ENOUGH = 5000

interface Split {
  value: SharedValue
  kind: 'load' | 'store'
  pc: number
  vector: number
  depth: number
}

interface Candidate {
  value: SharedValue
  group: AccessGroup
  pc: number
  vector: number
  enable: EnableBit | undefined
  handlerKind: 'load' | 'store'
  handlerPc: number
  protected: number
}

export class SharedDataWatch {
  readonly races = new Map<string, Race>()
  readonly #core: WatchedCore
  readonly #model: AvrModel
  readonly #variables: Variables
  readonly #words: number
  /** Groups by each place at which an interrupt would split them. */
  readonly #splits = new Map<number, AccessGroup>()
  readonly #followed = new Map<AccessGroup, number>()
  readonly #candidates = new Map<number, Candidate[]>()
  #open: Split[] = []

  constructor(core: WatchedCore, model: AvrModel, flash: Uint8Array, image: FirmwareImage) {
    this.#core = core
    this.#model = model
    this.#variables = new Variables(image.symbols)
    const end = image.flash.reduce((most, piece) => Math.max(most, piece.start + piece.bytes.length), 0)
    this.#words = end >> 1
    const operation = (pc: number) => core.operationAt(pc)
    const groups = accessGroups(operation, this.#words).filter((g) => !g.verified)
    for (const group of groups) {
      const [first] = group.accesses
      const last = group.accesses.at(-1)!
      for (let pc = first!.pc; pc < last.pc; ) {
        pc += wordsOf(operation(pc))
        this.#splits.set(pc, group)
      }
    }
    this.#findCandidates(groups, flash)
  }

  /** A handler is being followed. */
  get following(): boolean {
    return this.#open.length > 0
  }

  // Splits that happen

  /** An interrupt is about to be entered before the instruction at `pc`; `depth`: handlers that run already. */
  entered(pc: number, vector: number, depth: number): void {
    const group = this.#splits.get(pc)
    if (group === undefined) return
    const times = (this.#followed.get(group) ?? 0) + 1
    this.#followed.set(group, times)
    if (times > FOLLOWED && times % THEN_ONE_IN !== 0) return
    const next = group.accesses.find((a) => a.pc >= pc)!
    for (const value of this.#valuesOf(group, this.#originOf(group, next, pc))) {
      const begun = value.accesses.some((a) => a.pc < pc)
      const unfinished = value.accesses.some((a) => a.pc >= pc)
      if (begun && unfinished && this.#isRam(value.address)) {
        this.#open.push({ value, kind: group.kind, pc: value.accesses[0]!.pc, vector, depth })
      }
    }
  }

  /** Where the offsets of a group start, from its pointer as it is before the instruction at `pc`. */
  #originOf(group: AccessGroup, next: Access, pc: number): number {
    if (group.base === 0) return 0
    const { data } = this.#core
    const pointer = data[group.base]! | (data[group.base + 1]! << 8)
    // The pointer moves with the accesses only, and the next one has not moved it yet.
    return pc <= next.pc ? pointer - next.moved : pointer
  }

  #valuesOf(group: AccessGroup, origin: number) {
    const operation = (pc: number) => this.#core.operationAt(pc)
    const from = group.accesses[0]!.pc
    const to = group.accesses.at(-1)!.pc
    return this.#variables.valuesOf(group, origin, (low) => usedAsNumber(operation, from, to, low))
  }

  #isRam(address: number): boolean {
    return address >= this.#model.ramStart && address < this.#model.ramStart + this.#model.ramBytes
  }

  /** While `following`: before each instruction. */
  inspect(pc: number, at: number): void {
    const access = accessOf(this.#core.operationAt(pc))
    if (access === undefined) return
    const { data } = this.#core
    const { base } = access
    const address =
      base === 0 ? access.offset : ((data[base]! | (data[base + 1]! << 8)) + access.offset) & 0xffff
    for (const split of this.#open) {
      const { value } = split
      if (address < value.address || address >= value.address + value.size) continue
      if (split.kind === 'load' && access.kind === 'load') continue
      this.#note(split, split.vector, access.kind, pc, at)
    }
  }

  /** A handler has returned; `depth`: handlers that still run. */
  left(depth: number): void {
    this.#open = this.#open.filter((split) => split.depth < depth)
  }

  /** The program has begun again. */
  abandon(): void {
    this.#open = []
  }

  #note(
    of: { value: SharedValue; kind: 'load' | 'store'; pc: number },
    vector: number,
    handlerKind: 'load' | 'store',
    handlerPc: number,
    at?: number,
  ): void {
    const key = `${of.pc} ${of.value.address} ${vector}`
    const known = this.races.get(key)
    if (known === undefined) {
      if (this.races.size >= MOST_RACES) return
      const { value, kind, pc } = of
      const { address, size, name, certain } = value
      const plain = name === undefined ? { address, size, certain } : { address, size, name, certain }
      this.races.set(key, {
        value: plain,
        kind,
        pc,
        vector,
        handlerKind,
        handlerPc,
        count: at === undefined ? 0 : 1,
        firstAt: at ?? 0,
      })
    } else if (at !== undefined) {
      if (known.count++ === 0) {
        known.firstAt = at
        known.handlerKind = handlerKind
        known.handlerPc = handlerPc
      }
    }
  }

  // Splits that could happen

  /** Values at fixed addresses that the main program and a handler both touch, one of them writing. */
  #findCandidates(groups: readonly AccessGroup[], flash: Uint8Array): void {
    const kinds = handlerKinds(flash, this.#model.vectors.length)
    const bits = enableBits(this.#model)
    const main = this.#reached(0)
    const handlers = kinds.flatMap((kind, vector) => {
      if (vector === 0 || kind === 'none') return []
      const accesses = [...this.#reached(handlerAddress(flash, vector) >> 1)].flatMap((pc) => {
        const access = accessOf(this.#core.operationAt(pc))
        return access?.base === 0 ? [{ pc, kind: access.kind, address: access.offset }] : []
      })
      return [{ vector, accesses }]
    })
    for (const group of groups) {
      if (group.base !== 0 || !main.has(group.accesses[0]!.pc)) continue
      for (const value of this.#valuesOf(group, 0)) {
        if (!this.#isRam(value.address)) continue
        for (const { vector, accesses } of handlers) {
          const touches = accesses.filter(
            (a) => a.address >= value.address && a.address < value.address + value.size,
          )
          const touch =
            touches.find((a) => a.kind === 'store') ?? (group.kind === 'store' ? touches[0] : undefined)
          if (touch === undefined) continue
          const pc = value.accesses[1]!.pc
          const list = this.#candidates.get(pc) ?? []
          list.push({
            value,
            group,
            pc: value.accesses[0]!.pc,
            vector,
            enable: bits.find((b) => b.vector === vector),
            handlerKind: touch.kind,
            handlerPc: touch.pc,
            protected: 0,
          })
          this.#candidates.set(pc, list)
          this.#core.watch(pc)
        }
      }
    }
  }

  /** Word addresses that can be reached from one, without computed jumps. */
  #reached(start: number): Set<number> {
    const seen = new Set<number>()
    const open = [start]
    for (let pc = open.pop(); pc !== undefined; pc = open.pop()) {
      if (seen.has(pc) || pc >= this.#words) continue
      seen.add(pc)
      const w = this.#core.operationAt(pc)
      const next = pc + wordsOf(w)
      switch (w & 255) {
        case OP.RET:
        case OP.RETI:
        case OP.IJMP:
        case OP.EIJMP:
        case OP.ILLEGAL:
        case OP.WRAP:
        case OP.TO_ZERO:
          break
        case OP.RJMP:
        case OP.JMP:
        case OP.RJMP_BACK:
        case OP.JMP_BACK:
          open.push(w >>> 8)
          break
        case OP.RCALL:
        case OP.CALL:
          open.push(w >>> 8, next)
          break
        case OP.BRBS:
        case OP.BRBC:
        case OP.BRBS_BACK:
        case OP.BRBC_BACK:
          open.push(w >>> 11, next)
          break
        case OP.CPSE:
        case OP.SBIC:
        case OP.SBIS:
        case OP.SBRC:
        case OP.SBRS:
          open.push(next, next + wordsOf(this.#core.operationAt(next)))
          break
        default:
          open.push(next)
      }
    }
    return seen
  }

  /** The program is at the second access of a candidate. @param inHandler a handler runs, @param ready interrupts have been on. */
  reached(pc: number, inHandler: boolean, ready: boolean): void {
    const list = this.#candidates.get(pc)
    if (list === undefined || inHandler || !ready) return
    const { data, sreg } = this.#core
    const left = list.filter((c) => {
      const open = (sreg & 0x80) !== 0
      const enabled = c.enable === undefined || (data[c.enable.address]! & c.enable.bit) !== 0
      if (!open || !enabled) return ++c.protected < ENOUGH
      this.#note({ value: c.value, kind: c.group.kind, pc: c.pc }, c.vector, c.handlerKind, c.handlerPc)
      return false
    })
    if (left.length > 0) this.#candidates.set(pc, left)
    else {
      this.#candidates.delete(pc)
      this.#core.unwatch(pc)
    }
  }
}
