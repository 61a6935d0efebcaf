/**
 * ELF files of the AVR compiler. Source: Tool Interface Standard, ELF specification 1.2 (1995); EM_AVR = 83. The
 * address spaces (data at 0x800000, EEPROM at 0x810000, fuses and more above) are the AVR linker's convention.
 */
import { InputError } from '../../../units/index.js'
import { type FirmwareImage, type FirmwareSymbol, joinPieces, MAX_FLASH_BYTES } from './image.js'
import { type LineTable, readLineTable } from './line-table.js'
import { dataEndFromStartup } from './startup.js'

const EM_AVR = 83
const DATA_SPACE = 0x800000
const EEPROM_SPACE = 0x810000
const BEYOND_EEPROM = 0x820000
const MOST_SYMBOLS = 200_000

/** @throws InputError with the byte. */
export function readElf(file: Uint8Array, name: string): FirmwareImage {
  const reader = new ElfFile(file, name)
  reader.checkHeader()
  const { flash, eeprom } = reader.segments()
  if (flash.length === 0)
    throw reader.fail(28, 'no loadable program; expected a linked program, not an object file')
  const symbols = reader.symbols()
  const end = ['__bss_end', '_end', '__heap_start'].flatMap((wanted) =>
    symbols.filter((s) => s.name === wanted && s.kind === 'data').map((s) => s.address),
  )
  const image: FirmwareImage = {
    name,
    format: 'elf',
    flash,
    eeprom,
    family: reader.family(),
    symbols: symbols.filter(isUseful),
  }
  const dataEnd = end.length > 0 ? Math.max(...end) : dataEndFromStartup(flash)
  if (dataEnd !== undefined) image.dataEnd = dataEnd
  const lines = reader.lines()
  if (lines !== undefined) image.lines = lines
  return image
}

function isUseful(symbol: FirmwareSymbol): boolean {
  return symbol.kind === 'code' || symbol.size > 0
}

class ElfFile {
  readonly #file: Uint8Array
  readonly #view: DataView
  readonly #name: string

  constructor(file: Uint8Array, name: string) {
    this.#file = file
    this.#view = new DataView(file.buffer, file.byteOffset, file.byteLength)
    this.#name = name
  }

  fail(byte: number, message: string): InputError {
    return new InputError(message, { file: this.#name, byte })
  }

  #u16(at: number): number {
    this.#need(at, 2)
    return this.#view.getUint16(at, true)
  }

  #u32(at: number): number {
    this.#need(at, 4)
    return this.#view.getUint32(at, true)
  }

  #need(at: number, length: number): void {
    if (at + length > this.#file.length) {
      throw this.fail(
        this.#file.length,
        `ends after ${this.#file.length} bytes; expected ${length} bytes at ${at}: the file is cut off`,
      )
    }
  }

  checkHeader(): void {
    this.#need(0, 52)
    const file = this.#file
    if (file[2] !== 0x4c || file[3] !== 0x46)
      throw this.fail(0, 'not an ELF file; expected it to begin with 7F 45 4C 46')
    if (file[4] !== 1) throw this.fail(4, `an ELF file of class ${file[4]}; expected 1 (32 bits)`)
    if (file[5] !== 1)
      throw this.fail(5, 'a big-endian ELF file; expected a little-endian one, as AVR compilers write')
    const type = this.#u16(16)
    if (type !== 2) throw this.fail(16, `an ELF file of type ${type}; expected 2 (a linked program)`)
    const machine = this.#u16(18)
    if (machine !== EM_AVR) {
      throw this.fail(18, `an ELF file for ${machineName(machine)}; expected machine ${EM_AVR} (8-bit AVR)`)
    }
  }

  /** AVR family from the flags: 5 is avr5. */
  family(): number {
    return this.#u32(36) & 0x7f
  }

  /** Loadable segments at their physical addresses, which is where their bytes lie in the chip's memories. */
  segments(): Pick<FirmwareImage, 'flash' | 'eeprom'> {
    const offset = this.#u32(28)
    const size = this.#u16(42)
    const count = this.#u16(44)
    if (count > 0 && size < 32) throw this.fail(42, `program headers of ${size} bytes; expected 32`)
    const flash: { start: number; bytes: Uint8Array }[] = []
    const eeprom: { start: number; bytes: Uint8Array }[] = []
    for (let i = 0; i < count; i++) {
      const at = offset + i * size
      this.#need(at, 32)
      const fileSize = this.#u32(at + 16)
      if (this.#u32(at) !== 1 || fileSize === 0) continue
      const from = this.#u32(at + 4)
      const start = this.#u32(at + 12)
      this.#need(from, fileSize)
      const bytes = this.#file.slice(from, from + fileSize)
      if (start + fileSize <= MAX_FLASH_BYTES) flash.push({ start, bytes })
      else if (start >= EEPROM_SPACE && start + fileSize <= EEPROM_SPACE + 0x1000) {
        eeprom.push({ start: start - EEPROM_SPACE, bytes })
      } else if (start < DATA_SPACE) {
        throw this.fail(
          at + 12,
          `a segment for 0x${start.toString(16)} of ${fileSize} bytes; the largest program memory here ends at 0x${(MAX_FLASH_BYTES - 1).toString(16)}`,
        )
      }
      // Fuses, lock bits and signature, or data that only the debugger wants: nothing to load.
    }
    const overlap = (address: number) =>
      this.fail(offset, `two segments for address 0x${address.toString(16)}; expected one`)
    return { flash: joinPieces(flash, overlap), eeprom: joinPieces(eeprom, overlap) }
  }

  /** Functions and objects by name; empty when the file was stripped. */
  symbols(): FirmwareSymbol[] {
    const offset = this.#u32(32)
    const size = this.#u16(46)
    const count = this.#u16(48)
    if (offset === 0 || count === 0) return []
    if (size < 40) throw this.fail(46, `section headers of ${size} bytes; expected 40`)
    this.#need(offset, count * size)
    const symbols: FirmwareSymbol[] = []
    for (let i = 0; i < count; i++) {
      const at = offset + i * size
      if (this.#u32(at + 4) !== 2) continue
      const strings = this.#u32(at + 24)
      if (strings >= count)
        throw this.fail(at + 24, `string table ${strings}; the file has ${count} sections`)
      const stringsAt = offset + strings * size
      this.#readTable(
        { from: this.#u32(at + 16), bytes: this.#u32(at + 20) },
        { from: this.#u32(stringsAt + 16), bytes: this.#u32(stringsAt + 20) },
        symbols,
      )
      // One symbol table is all a linked program has.
      break
    }
    return symbols.sort((a, b) => a.address - b.address)
  }

  /** Source lines by address; undefined when the file has none (`-g` was not given). */
  lines(): LineTable | undefined {
    const line = this.#section('.debug_line')
    if (line === undefined) return undefined
    const lineStrings = this.#section('.debug_line_str')
    return readLineTable({ line, lineStrings, strings: this.#section('.debug_str') })
  }

  /** Bytes of a section by its name; undefined where it is not there, or not whole. */
  #section(name: string): Uint8Array | undefined {
    const offset = this.#u32(32)
    const size = this.#u16(46)
    const count = this.#u16(48)
    const names = this.#u16(50)
    if (offset === 0 || size < 40 || names >= count) return undefined
    const table = {
      from: this.#u32(offset + names * size + 16),
      bytes: this.#u32(offset + names * size + 20),
    }
    if (table.from + table.bytes > this.#file.length) return undefined
    for (let i = 0; i < count; i++) {
      const at = offset + i * size
      if (this.#string(table, this.#u32(at)) !== name) continue
      const from = this.#u32(at + 16)
      const bytes = this.#u32(at + 20)
      // Compressed sections (flag 0x800) are not read.
      if (from + bytes > this.#file.length || (this.#u32(at + 8) & 0x800) !== 0) return undefined
      return this.#file.subarray(from, from + bytes)
    }
    return undefined
  }

  #readTable(
    table: { from: number; bytes: number },
    strings: { from: number; bytes: number },
    into: FirmwareSymbol[],
  ): void {
    this.#need(table.from, table.bytes)
    this.#need(strings.from, strings.bytes)
    const count = Math.min(Math.floor(table.bytes / 16), MOST_SYMBOLS)
    for (let i = 0; i < count; i++) {
      const at = table.from + 16 * i
      const value = this.#u32(at + 4)
      const size = this.#u32(at + 8)
      const type = this.#file[at + 12]! & 15
      const section = this.#u16(at + 14)
      // Undefined, and absolute ones such as the linker's register names.
      if (type > 2 || value >= BEYOND_EEPROM || section === 0 || section >= 0xff00) continue
      const text = this.#string(strings, this.#u32(at))
      if (text === '' || text.length > 200) continue
      const data = value >= DATA_SPACE && value < EEPROM_SPACE
      if (value >= EEPROM_SPACE || (!data && value > MAX_FLASH_BYTES)) continue
      into.push({
        name: text,
        address: data ? value - DATA_SPACE : value,
        size,
        kind: data ? 'data' : 'code',
      })
    }
  }

  #string(strings: { from: number; bytes: number }, index: number): string {
    let text = ''
    for (let at = index; at < strings.bytes && text.length <= 200; at++) {
      const code = this.#file[strings.from + at]!
      if (code === 0) return text
      text += code > 32 && code < 127 ? String.fromCharCode(code) : '?'
    }
    return text
  }
}

function machineName(machine: number): string {
  const known: Record<number, string> = {
    3: 'an x86 computer',
    40: 'ARM',
    62: 'an x86-64 computer',
    94: 'Xtensa',
    243: 'RISC-V',
  }
  return known[machine] ?? `machine ${machine}`
}
