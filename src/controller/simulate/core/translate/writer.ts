/** Writes WebAssembly code, instruction after instruction. Source of the encoding: WebAssembly Core Specification 1.0. */

/** A block, loop or condition that is open: what {@link WasmWriter.br} can jump to. */
export type Label = number

const VOID = 0x40
const I32 = 0x7f

export class WasmWriter {
  #bytes = new Uint8Array(1 << 12)
  #length = 0
  #depth = 0

  get bytes(): Uint8Array {
    return this.#bytes.subarray(0, this.#length)
  }

  byte(value: number): this {
    if (this.#length === this.#bytes.length) this.#grow(1)
    this.#bytes[this.#length++] = value
    return this
  }

  raw(bytes: ArrayLike<number>): this {
    if (this.#length + bytes.length > this.#bytes.length) this.#grow(bytes.length)
    this.#bytes.set(bytes, this.#length)
    this.#length += bytes.length
    return this
  }

  #grow(by: number): void {
    const larger = new Uint8Array(2 * (this.#bytes.length + by))
    larger.set(this.#bytes)
    this.#bytes = larger
  }

  /** LEB128 of a number without a sign. */
  unsigned(value: number): this {
    let rest = value >>> 0
    while (rest > 127) {
      this.byte((rest & 127) | 128)
      rest >>>= 7
    }
    return this.byte(rest)
  }

  #signed(value: number): this {
    let rest = value | 0
    while (rest < -64 || rest > 63) {
      this.byte((rest & 127) | 128)
      rest >>= 7
    }
    return this.byte(rest & 127)
  }

  // Values

  get(local: number): this {
    return this.byte(0x20).unsigned(local)
  }

  set(local: number): this {
    return this.byte(0x21).unsigned(local)
  }

  tee(local: number): this {
    return this.byte(0x22).unsigned(local)
  }

  value(constant: number): this {
    return this.byte(0x41).#signed(constant)
  }

  add(): this {
    return this.byte(0x6a)
  }

  sub(): this {
    return this.byte(0x6b)
  }

  mul(): this {
    return this.byte(0x6c)
  }

  and(): this {
    return this.byte(0x71)
  }

  or(): this {
    return this.byte(0x72)
  }

  xor(): this {
    return this.byte(0x73)
  }

  shl(): this {
    return this.byte(0x74)
  }

  shr(): this {
    return this.byte(0x76)
  }

  isZero(): this {
    return this.byte(0x45)
  }

  equal(): this {
    return this.byte(0x46)
  }

  differ(): this {
    return this.byte(0x47)
  }

  lessSigned(): this {
    return this.byte(0x48)
  }

  less(): this {
    return this.byte(0x49)
  }

  lessEqualSigned(): this {
    return this.byte(0x4c)
  }

  atLeastSigned(): this {
    return this.byte(0x4e)
  }

  atLeast(): this {
    return this.byte(0x4f)
  }

  select(): this {
    return this.byte(0x1b)
  }

  /** The low byte as a number from −128 to 127. */
  signed8(): this {
    return this.byte(0xc0)
  }

  masked(mask: number): this {
    return this.value(mask).and()
  }

  plus(constant: number): this {
    return constant === 0 ? this : this.value(constant).add()
  }

  // Memory; each takes the address from the stack and adds `offset`.

  load8(offset: number): this {
    return this.byte(0x2d).byte(0).unsigned(offset)
  }

  load16(offset: number): this {
    return this.byte(0x2f).byte(0).unsigned(offset)
  }

  load32(offset: number): this {
    return this.byte(0x28).byte(2).unsigned(offset)
  }

  store8(offset: number): this {
    return this.byte(0x3a).byte(0).unsigned(offset)
  }

  store16(offset: number): this {
    return this.byte(0x3b).byte(0).unsigned(offset)
  }

  store32(offset: number): this {
    return this.byte(0x36).byte(2).unsigned(offset)
  }

  loadLong(offset: number): this {
    return this.byte(0x29).byte(3).unsigned(offset)
  }

  storeLong(offset: number): this {
    return this.byte(0x37).byte(3).unsigned(offset)
  }

  differLong(): this {
    return this.byte(0x52)
  }

  loadDouble(offset: number): this {
    return this.byte(0x2b).byte(3).unsigned(offset)
  }

  storeDouble(offset: number): this {
    return this.byte(0x39).byte(3).unsigned(offset)
  }

  toDouble(): this {
    return this.byte(0xb7)
  }

  addDouble(): this {
    return this.byte(0xa0)
  }

  subDouble(): this {
    return this.byte(0xa1)
  }

  // Control

  block(): Label {
    this.byte(0x02).byte(VOID)
    return ++this.#depth
  }

  loop(): Label {
    this.byte(0x03).byte(VOID)
    return ++this.#depth
  }

  if(): Label {
    this.byte(0x04).byte(VOID)
    return ++this.#depth
  }

  /** A condition whose two ways both leave a value. */
  ifValue(): Label {
    this.byte(0x04).byte(I32)
    return ++this.#depth
  }

  else(): this {
    return this.byte(0x05)
  }

  end(): this {
    this.#depth--
    return this.byte(0x0b)
  }

  br(label: Label): this {
    return this.byte(0x0c).unsigned(this.#depth - label)
  }

  brIf(label: Label): this {
    return this.byte(0x0d).unsigned(this.#depth - label)
  }

  brTable(labels: readonly Label[], otherwise: Label): this {
    this.byte(0x0e).unsigned(labels.length)
    for (const label of labels) this.unsigned(this.#depth - label)
    return this.unsigned(this.#depth - otherwise)
  }

  return(): this {
    return this.byte(0x0f)
  }

  unreachable(): this {
    return this.byte(0x00)
  }

  call(index: number): this {
    return this.byte(0x10).unsigned(index)
  }

  callIndirect(type: number): this {
    return this.byte(0x11).unsigned(type).byte(0)
  }
}
