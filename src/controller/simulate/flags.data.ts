/**
 * Status flags of the AVR's 8-bit arithmetic, as tables: one look-up costs less than the dozen operations that
 * compute them. Built by the equations of the AVR Instruction Set Manual (DS40002198).
 */

/** Bits of SREG. */
export const FLAG = { C: 1, Z: 2, N: 4, V: 8, S: 16, H: 32, T: 64, I: 128 } as const

function withSign(flags: number): number {
  const negative = (flags & FLAG.N) !== 0
  const overflow = (flags & FLAG.V) !== 0
  return negative !== overflow ? flags | FLAG.S : flags
}

function flagsOf(result: number, carries: number, overflow: boolean): number {
  let flags = 0
  if (carries & 0x80) flags |= FLAG.C
  if (carries & 0x08) flags |= FLAG.H
  if (overflow) flags |= FLAG.V
  if (result & 0x80) flags |= FLAG.N
  if (result === 0) flags |= FLAG.Z
  return withSign(flags)
}

/** Index carry << 16 | d << 8 | r: C Z N V S H of d + r + carry. */
export const ADD_FLAGS = new Uint8Array(1 << 17)
/** Index borrow << 16 | d << 8 | r: C Z N V S H of d − r − borrow; Z of this byte alone. */
export const SUB_FLAGS = new Uint8Array(1 << 17)
/** Index result: Z N S of a logic operation (V cleared). */
export const LOGIC_FLAGS = new Uint8Array(256)
/** Index result of INC: Z N V S. */
export const INC_FLAGS = new Uint8Array(256)
/** Index result of DEC: Z N V S. */
export const DEC_FLAGS = new Uint8Array(256)

for (let carry = 0; carry < 2; carry++) {
  for (let d = 0; d < 256; d++) {
    for (let r = 0; r < 256; r++) {
      const index = (carry << 16) | (d << 8) | r
      const sum = (d + r + carry) & 255
      ADD_FLAGS[index] = flagsOf(
        sum,
        (d & r) | (r & ~sum) | (~sum & d),
        ((d & r & ~sum) | (~d & ~r & sum & 255)) > 127,
      )
      const rest = (d - r - carry) & 255
      SUB_FLAGS[index] = flagsOf(
        rest,
        (~d & r) | (r & rest) | (rest & ~d),
        ((d & ~r & ~rest & 255) | (~d & r & rest & 255)) > 127,
      )
    }
  }
}
for (let result = 0; result < 256; result++) {
  LOGIC_FLAGS[result] = flagsOf(result, 0, false)
  INC_FLAGS[result] = flagsOf(result, 0, result === 0x80)
  DEC_FLAGS[result] = flagsOf(result, 0, result === 0x7f)
}
