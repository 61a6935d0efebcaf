/**
 * Where the program's data ends, read from the start-up code: HEX files have no symbols, but the compiler's run-time
 * library clears .bss up to `__bss_end` (and copies .data up to `__data_end`) in a loop that is always the same:
 *
 *     LDI rN, hi8(end)  …  ST X+, r1  CPI r26, lo8(end)  CPC r27, rN  BRNE
 *
 * Source: avr-gcc's libgcc, `__do_clear_bss` and `__do_copy_data`; a test compares it with the compiler's symbols.
 */

const CLEAR = 0x921d
const COPY = 0x920d
/** The start-up code lies behind the vectors; no table of constants before it is this long. */
const SEARCHED_WORDS = 0x8000
const LDI_BEFORE = 12

/** @returns first RAM address after the data, or undefined where the code is not found. */
export function dataEndFromStartup(
  flash: readonly { start: number; bytes: Uint8Array }[],
): number | undefined {
  const [first] = flash
  if (first === undefined || first.start !== 0) return undefined
  const count = Math.min(first.bytes.length >> 1, SEARCHED_WORDS)
  const word = (i: number) => first.bytes[2 * i]! | (first.bytes[2 * i + 1]! << 8)
  let copied: number | undefined
  for (let i = 0; i + 2 < count; i++) {
    const store = word(i)
    if (store !== CLEAR && store !== COPY) continue
    const compare = word(i + 1)
    const carry = word(i + 2)
    if ((compare & 0xf0f0) !== 0x30a0 || (carry & 0xfff0) !== 0x07b0) continue
    const register = carry & 15
    for (let back = i - 1; back >= Math.max(0, i - LDI_BEFORE); back--) {
      const load = word(back)
      if ((load & 0xf0f0) !== (0xe000 | (register << 4))) continue
      const end = (constant(load) << 8) | constant(compare)
      if (store === CLEAR) return end
      copied ??= end
      break
    }
  }
  return copied
}

/** The constant of LDI, CPI and their like. */
function constant(word: number): number {
  return ((word >> 4) & 0xf0) | (word & 15)
}
