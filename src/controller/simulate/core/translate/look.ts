/**
 * The search for loops that wait, as WebAssembly: what `WaitingSearch` does, but for skipping rounds and for beginning the
 * epochs anew, which are left to it.
 */
import { GREATEST_BACKOFF, LAST_EPOCH, MOST_MISSES, WINDOW } from '../waiting.js'
import { IMPORT } from './context.js'
import { LAYOUT, MOST_LOGGED, STATE, TIME } from './layout.data.js'
import { WasmWriter } from './writer.js'

const I32 = 0x7f

/** A writer of the memory that both have in common. */
class Search {
  readonly w: WasmWriter

  constructor(locals: number) {
    this.w = new WasmWriter().unsigned(1).unsigned(locals).byte(I32)
  }

  load(word: number): WasmWriter {
    return this.w.value(0).load32(LAYOUT.state + 4 * word)
  }

  store(word: number, value: () => void): void {
    this.w.value(0)
    value()
    this.w.store32(LAYOUT.state + 4 * word)
  }

  set(word: number, constant: number): void {
    this.store(word, () => this.w.value(constant))
  }

  copy(to: number, from: number): void {
    this.store(to, () => this.load(from))
  }

  time(which: number): WasmWriter {
    return this.w.value(0).loadDouble(LAYOUT.times + 8 * which)
  }

  setTime(which: number, value: () => void): void {
    this.w.value(0)
    value()
    this.w.storeDouble(LAYOUT.times + 8 * which)
  }

  /** The absolute cycle. */
  now(cycles: number): WasmWriter {
    this.time(TIME.base)
    return this.w.get(cycles).toDouble().addDouble()
  }
}

/** `(address)`: `WaitingSearch.log`. */
export function logFunction(): Uint8Array {
  const [address, count] = [0, 1]
  const s = new Search(1)
  const { w } = s
  s.load(STATE.logged).tee(count).value(MOST_LOGGED).less().if()
  w.get(count).value(1).shl().get(address).store16(LAYOUT.loggedAddresses)
  w.get(count).get(address).load8(LAYOUT.data).store8(LAYOUT.loggedValues).end()
  s.store(STATE.logged, () => w.get(count).plus(1))
  w.get(address)
  s.load(STATE.epoch).store8(LAYOUT.epochs).end()
  return w.bytes
}

/** `(from, cycles, sreg, sp, probe)`: `WaitingSearch.look`. It gives the cycles, with those that are skipped. */
export function lookFunction(): Uint8Array {
  const [from, cycles, sreg, sp, probe, i, backoff] = [0, 1, 2, 3, 4, 5, 6] as const
  const s = new Search(2)
  const { w } = s
  s.store(STATE.probe, () => w.get(probe))
  const leftToCore = w.block()
  const elsewhere = w.block()
  const different = w.block()

  // Nothing is saved: this is.
  s.load(STATE.savedPc).value(0).lessSigned().if()
  s.load(STATE.epoch).value(LAST_EPOCH).equal().brIf(leftToCore)
  s.store(STATE.savedPc, () => w.get(from))
  s.set(STATE.probe, WINDOW)
  s.set(STATE.misses, 0)
  for (let at = 0; at < 32; at += 8) {
    w.value(0)
      .value(0)
      .loadLong(LAYOUT.data + at)
      .storeLong(LAYOUT.savedRegisters + at)
  }
  s.store(STATE.savedSreg, () => w.get(sreg))
  s.store(STATE.savedSp, () => w.get(sp))
  s.copy(STATE.savedChanges, STATE.changes)
  s.copy(STATE.savedSerial, STATE.serial)
  s.setTime(TIME.saved, () => s.now(cycles))
  s.store(STATE.epoch, () => s.load(STATE.epoch).plus(1))
  s.set(STATE.logged, 0)
  w.get(cycles).return().end()

  // Something came between, or it is another place.
  s.load(STATE.serial)
  s.load(STATE.savedSerial).differ().if()
  s.set(STATE.probe, 1)
  s.set(STATE.backoff, 1)
  s.set(STATE.savedPc, -1)
  s.copy(STATE.savedSerial, STATE.serial)
  w.get(cycles).return().end()
  s.load(STATE.savedPc).get(from).differ().brIf(elsewhere)
  s.load(STATE.changes)
  s.load(STATE.savedChanges).differ().brIf(elsewhere)

  // Is everything what it was?
  s.load(STATE.savedSreg).get(sreg).differ().brIf(different)
  s.load(STATE.savedSp).get(sp).differ().brIf(different)
  for (let at = 0; at < 32; at += 8) {
    w.value(0).loadLong(LAYOUT.data + at)
    w.value(0)
      .loadLong(LAYOUT.savedRegisters + at)
      .differLong()
      .brIf(different)
  }
  s.load(STATE.logged)
    .tee(i)
    .value(MOST_LOGGED + 1)
    .atLeast()
    .brIf(different)
  const all = w.block()
  const next = w.loop()
  w.get(i).isZero().brIf(all)
  w.get(i).plus(-1).tee(i).load8(LAYOUT.loggedValues)
  w.get(i).value(1).shl().load16(LAYOUT.loggedAddresses).load8(LAYOUT.data)
  w.differ().brIf(different).br(next).end().end()

  // It waits.
  s.load(STATE.skipWaiting).brIf(leftToCore)
  s.setTime(TIME.waiting, () => {
    s.time(TIME.waiting)
    s.now(cycles)
    s.time(TIME.saved).subDouble().addDouble()
  })
  s.setTime(TIME.saved, () => s.now(cycles))
  s.set(STATE.probe, WINDOW)
  s.set(STATE.backoff, 1)
  w.get(cycles).return()

  w.end() // different
  s.store(STATE.misses, () => s.load(STATE.misses).plus(1))
  s.load(STATE.misses).value(MOST_MISSES).atLeastSigned().brIf(elsewhere)
  w.get(cycles).return()

  w.end() // elsewhere
  s.load(STATE.backoff).value(1).shl().tee(backoff)
  w.value(GREATEST_BACKOFF).get(backoff).value(GREATEST_BACKOFF).less().select().set(backoff)
  s.store(STATE.backoff, () => w.get(backoff))
  s.store(STATE.probe, () => w.get(backoff))
  s.set(STATE.savedPc, -1)
  w.get(cycles).return()

  w.end() // leftToCore
  w.get(from).get(cycles).get(sreg).get(sp).get(probe).call(IMPORT.look).end()
  return w.bytes
}
