/**
 * Status flags of the AVR's 8-bit arithmetic, as tables: one look-up costs less than the dozen operations that
 * compute them. Built by the equations of the AVR Instruction Set Manual (DS40002198), when first asked for.
 */

/** Bits of SREG. */
export const FLAG = { C: 1, Z: 2, N: 4, V: 8, S: 16, H: 32, T: 64, I: 128 } as const

export interface FlagTables {
  /** Index carry << 16 | d << 8 | r: C Z N V S H of d + r + carry. */
  add: Uint8Array
  /** Index borrow << 16 | d << 8 | r: C Z N V S H of d − r − borrow; Z of this byte alone. */
  sub: Uint8Array
  /** Index result: Z N S of a logic operation (V cleared). */
  logic: Uint8Array
  /** Index result of INC: Z N V S. */
  inc: Uint8Array
  /** Index result of DEC: Z N V S. */
  dec: Uint8Array
}

let tables: FlagTables | undefined

export function flagTables(): FlagTables {
  tables ??= build()
  return tables
}

/** @param carries bit 7 the carry out, bit 3 the half carry. @param overflow bit 7: V. */
function flagsOf(result: number, carries: number, overflow: number): number {
  const n = (result >> 7) & 1
  const v = (overflow >> 7) & 1
  return (
    ((carries >> 7) & 1) |
    (result === 0 ? FLAG.Z : 0) |
    (n << 2) |
    (v << 3) |
    ((n ^ v) << 4) |
    ((carries & 8) << 2)
  )
}

function build(): FlagTables {
  const add = new Uint8Array(1 << 17)
  const sub = new Uint8Array(1 << 17)
  for (let index = 0; index < 1 << 17; index++) {
    const carry = index >> 16
    const d = (index >> 8) & 255
    const r = index & 255
    const sum = (d + r + carry) & 255
    add[index] = flagsOf(sum, (d & r) | (r & ~sum) | (~sum & d), (d & r & ~sum) | (~d & ~r & sum))
    const rest = (d - r - carry) & 255
    sub[index] = flagsOf(rest, (~d & r) | (r & rest) | (rest & ~d), (d & ~r & ~rest) | (~d & r & rest))
  }
  const each = (overflowAt: number) =>
    Uint8Array.from({ length: 256 }, (_, result) => flagsOf(result, 0, result === overflowAt ? 128 : 0))
  return { add, sub, logic: each(-1), inc: each(0x80), dec: each(0x7f) }
}
