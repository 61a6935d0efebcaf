/**
 * The search for loops that wait: a state that the program comes back to, with nothing from outside between, will be
 * repeated until the next event. The memory is shared with translated code, which does most of the search itself
 * (`translate/look.ts`); this is its referee, and finishes what is left to it.
 */
import { LAYOUT, MOST_LOGGED, STATE, TIME } from './translate/layout.data.js'

/** Back jumps looked at in one try. */
export const WINDOW = 48
export const GREATEST_BACKOFF = 128
/** Other states at the place of the saved one until another place is tried. */
export const MOST_MISSES = 8
/** What `epochs` can hold. */
export const LAST_EPOCH = 255

/** Memory of the core, by what `LAYOUT` says of it. */
export interface CoreMemory {
  data: Uint8Array
  /** Per data address: the epoch in which it was last logged. */
  epochs: Uint8Array
  /**
   * What the RAM held at the last save, for the addresses changed since: each once, which `epochs` tells. So a loop
   * that pushes and pops different things at one place is still seen to come back to its state.
   */
  loggedAddresses: Uint16Array
  loggedValues: Uint8Array
  savedRegisters: Uint32Array
  /** Words by `STATE`. */
  state: Int32Array
  /** Cycles by `TIME`. */
  times: Float64Array
}

export function coreMemory(buffer = new ArrayBuffer(LAYOUT.ownEnd)): CoreMemory {
  const state = new Int32Array(buffer, LAYOUT.state, STATE.words)
  state[STATE.probe] = 1
  state[STATE.backoff] = 1
  state[STATE.savedPc] = -1
  state[STATE.epoch] = 1
  state[STATE.skipWaiting] = 1
  return {
    data: new Uint8Array(buffer, LAYOUT.data, 0x10000),
    epochs: new Uint8Array(buffer, LAYOUT.epochs, 0x10000),
    loggedAddresses: new Uint16Array(buffer, LAYOUT.loggedAddresses, MOST_LOGGED),
    loggedValues: new Uint8Array(buffer, LAYOUT.loggedValues, MOST_LOGGED),
    savedRegisters: new Uint32Array(buffer, LAYOUT.savedRegisters, 8),
    state,
    times: new Float64Array(buffer, LAYOUT.times, TIME.count),
  }
}

export class WaitingSearch {
  readonly #memory: CoreMemory
  readonly #registers: Uint32Array
  readonly #kicked: (at: number) => void
  /** Cycle of the last WDR. */
  kickedAt = -1

  /** @param kicked told of the last WDR in the rounds that are skipped */
  constructor(memory: CoreMemory, kicked: (at: number) => void) {
    this.#memory = memory
    this.#registers = new Uint32Array(memory.data.buffer, memory.data.byteOffset, 8)
    this.#kicked = kicked
  }

  /** A byte of RAM is about to change for the first time since the state was saved. */
  log(address: number): void {
    const { state, loggedAddresses, loggedValues, epochs, data } = this.#memory
    const logged = state[STATE.logged]!
    if (logged < MOST_LOGGED) {
      loggedAddresses[logged] = address
      loggedValues[logged] = data[address]!
    }
    state[STATE.logged] = logged + 1
    epochs[address] = state[STATE.epoch]!
  }

  /**
   * At a back jump from `pc` that has been met before or is to be remembered: when registers, flags, stack pointer and RAM
   * are what they were at the earlier visit and no event came between, the program will repeat itself until the next
   * event, so whole rounds up to it are skipped.
   * @param at absolute cycle; the next event is `left` cycles later
   * @returns cycles to skip.
   */
  look(pc: number, at: number, left: number, sreg: number, sp: number): number {
    const { state, times } = this.#memory
    if (state[STATE.savedPc]! < 0) {
      state[STATE.savedPc] = pc
      state[STATE.probe] = WINDOW
      state[STATE.misses] = 0
      this.#save(at, sreg, sp)
      return 0
    }
    const isDisturbed = state[STATE.serial] !== state[STATE.savedSerial]
    if (state[STATE.savedPc] !== pc || state[STATE.changes] !== state[STATE.savedChanges] || isDisturbed) {
      // The window has passed, or memory is changing: look less often.
      this.#lookElsewhere()
      if (isDisturbed) state[STATE.probe] = state[STATE.backoff] = 1
      state[STATE.savedSerial] = state[STATE.serial]!
      return 0
    }
    if (!this.#isSame(sreg, sp)) {
      state[STATE.misses] = state[STATE.misses]! + 1
      if (state[STATE.misses]! >= MOST_MISSES) this.#lookElsewhere()
      return 0
    }
    const period = at - times[TIME.saved]!
    const rounds = state[STATE.skipWaiting] === 1 ? Math.max(0, Math.floor(left / period)) : 0
    // The last of the rounds that are skipped would have reset the watchdog at the same place.
    if (rounds > 0 && this.kickedAt > times[TIME.saved]!) {
      this.kickedAt += period * rounds
      this.#kicked(this.kickedAt)
    }
    times[TIME.waiting] = times[TIME.waiting]! + period * (rounds + 1)
    times[TIME.saved] = times[TIME.saved]! + period * (rounds + 1)
    state[STATE.probe] = WINDOW
    state[STATE.backoff] = 1
    return period * rounds
  }

  #lookElsewhere(): void {
    const { state } = this.#memory
    state[STATE.probe] = state[STATE.backoff] = Math.min(state[STATE.backoff]! * 2, GREATEST_BACKOFF)
    state[STATE.savedPc] = -1
  }

  #isSame(sreg: number, sp: number): boolean {
    const { data, state, savedRegisters, loggedAddresses, loggedValues } = this.#memory
    const logged = state[STATE.logged]!
    if (sreg !== state[STATE.savedSreg] || sp !== state[STATE.savedSp] || logged > MOST_LOGGED) return false
    for (let i = 0; i < 8; i++) if (this.#registers[i] !== savedRegisters[i]) return false
    for (let i = 0; i < logged; i++) if (data[loggedAddresses[i]!] !== loggedValues[i]) return false
    return true
  }

  #save(at: number, sreg: number, sp: number): void {
    const { state, times, savedRegisters, epochs } = this.#memory
    savedRegisters.set(this.#registers)
    state[STATE.savedSreg] = sreg
    state[STATE.savedSp] = sp
    state[STATE.savedChanges] = state[STATE.changes]!
    state[STATE.savedSerial] = state[STATE.serial]!
    times[TIME.saved] = at
    const epoch = state[STATE.epoch]! + 1
    if (epoch > LAST_EPOCH) epochs.fill(0)
    state[STATE.epoch] = epoch > LAST_EPOCH ? 1 : epoch
    state[STATE.logged] = 0
  }
}
