/** A firmware image, from whichever file. */
import type { InputError } from '../../../units/index.js'
import type { LineTable } from './line-table.js'

export interface FirmwareSymbol {
  name: string
  /** Byte address: program memory for code, data space for data. */
  address: number
  size: number
  kind: 'code' | 'data'
}

export interface FirmwareImage {
  name: string
  format: 'hex' | 'elf'
  /** Pieces of program memory in rising order, not overlapping. */
  flash: { start: number; bytes: Uint8Array }[]
  /** Pieces of EEPROM, where the file has them. */
  eeprom: { start: number; bytes: Uint8Array }[]
  /** AVR family the program was compiled for (5 is avr5), where the file tells: ELF only. */
  family?: number
  /** Empty for HEX, which has none. */
  symbols: FirmwareSymbol[]
  /** First RAM address after the program's data, where known: from the symbols, or from the start-up code. */
  dataEnd?: number
  /** Controllers translate what they run often of it, instead of interpreting every instruction. */
  translated?: true
  /** Source lines by address, where the file has them: ELF compiled with `-g`. */
  lines?: LineTable
}

/** Largest program memory of any simulated controller, bytes; nothing beyond is read into memory. */
export const MAX_FLASH_BYTES = 0x40000

/** Bytes of program memory used, from 0 to the last. */
export function flashEnd(image: FirmwareImage): number {
  const last = image.flash.at(-1)
  return last === undefined ? 0 : last.start + last.bytes.length
}

/** Sort pieces and join neighbours. @throws InputError when two overlap. */
export function joinPieces(
  pieces: { start: number; bytes: Uint8Array }[],
  overlap: (address: number) => InputError,
): { start: number; bytes: Uint8Array }[] {
  const sorted = pieces.filter((p) => p.bytes.length > 0).sort((a, b) => a.start - b.start)
  const joined: { start: number; parts: Uint8Array[]; end: number }[] = []
  for (const { start, bytes } of sorted) {
    const last = joined.at(-1)
    if (last !== undefined && start < last.end) throw overlap(start)
    if (last !== undefined && start === last.end) {
      last.parts.push(bytes)
      last.end += bytes.length
    } else joined.push({ start, parts: [bytes], end: start + bytes.length })
  }
  return joined.map(({ start, parts, end }) => {
    const bytes = new Uint8Array(end - start)
    let at = 0
    for (const part of parts) {
      bytes.set(part, at)
      at += part.length
    }
    return { start, bytes }
  })
}
