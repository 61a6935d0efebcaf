/**
 * The registers inside a block. Each is read from memory once; what is written goes to memory and is remembered in a
 * local, so that memory is always right where the block is left.
 */
import { push, type Value } from './status.js'
import type { WasmWriter } from './writer.js'

export class RegistersInBlock {
  readonly #w: WasmWriter
  readonly #fresh: () => number
  #bytes: (Value | undefined)[] = []
  /** 16-bit pairs by their low register. */
  #pairs: (Value | undefined)[] = []

  /** @param fresh gives a local that nothing else in the block uses. */
  constructor(w: WasmWriter, fresh: () => number) {
    this.#w = w
    this.#fresh = fresh
  }

  /** Memory may have changed behind the block's back. */
  forget(): void {
    this.#bytes = []
    this.#pairs = []
  }

  /** One register may have changed. */
  forgetOne(register: number): void {
    this.#bytes[register] = undefined
    this.#pairs[register & ~1] = undefined
  }

  /** Put what is on the stack into a new local. */
  keep(): { readonly local: number } {
    const local = this.#fresh()
    this.#w.set(local)
    return { local }
  }

  read(register: number): Value {
    const known = this.#bytes[register]
    if (known !== undefined) return known
    const w = this.#w
    const pair = this.#pairs[register & ~1]
    if (pair !== undefined) {
      push(w, pair)
      if (register & 1) w.value(8).shr()
      else w.masked(255)
    } else w.value(0).load8(register)
    const value = this.keep()
    this.#bytes[register] = value
    return value
  }

  write(register: number, value: Value): void {
    this.#w.value(0)
    push(this.#w, value).store8(register)
    this.#bytes[register] = value
    this.#pairs[register & ~1] = undefined
  }

  /** The byte on the stack goes to a register. @returns where it is kept. */
  writeTop(register: number): Value {
    const value = this.keep()
    this.write(register, value)
    return value
  }

  /** A register and the next one, 16 bits. */
  readPair(low: number): Value {
    const known = this.#pairs[low]
    if (known !== undefined) return known
    const w = this.#w
    // Two bytes: a load of 16 bits would wait for the stores of its halves.
    const [first, second] = [this.read(low), this.read(low + 1)]
    let value: Value
    if ('constant' in first && 'constant' in second) {
      value = { constant: first.constant | (second.constant << 8) }
    } else {
      push(w, first)
      push(w, second).value(8).shl().or()
      value = this.keep()
    }
    this.#pairs[low] = value
    return value
  }

  /** @param value 16 bits */
  writePair(low: number, value: Value): void {
    this.#w.value(0)
    push(this.#w, value).store16(low)
    this.#bytes[low] = undefined
    this.#bytes[low + 1] = undefined
    this.#pairs[low] = value
  }

  writePairTop(low: number): Value {
    const value = this.keep()
    this.writePair(low, value)
    return value
  }
}
