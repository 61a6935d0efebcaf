/**
 * Line tables of ELF files: which source line each address comes from. Source: DWARF Debugging Information Format,
 * version 4 (2010), section 6.2, and version 5 (2017), section 6.2 and 7.5.6; versions 2 and 3 differ only by fields
 * that are left out. Damaged tables give the lines read up to the damage, never an error: they help, nothing needs them.
 */

/** Rows in rising order of address; a row holds until the next one. */
export interface LineTable {
  addresses: Uint32Array
  /** Line of each row; 0: no line belongs to it, such as the end of a unit. */
  lines: Uint32Array
  /** File of each row, as an index into `files`. */
  fileOf: Uint16Array
  /** File names without their folders. */
  files: string[]
}

interface Sections {
  line: Uint8Array
  lineStrings: Uint8Array | undefined
  strings: Uint8Array | undefined
}

const MOST_ROWS = 500_000
const MOST_FILES = 5000

/** Read `.debug_line`. @returns undefined when it holds no line. */
export function readLineTable(sections: Sections): LineTable | undefined {
  const rows: Row[] = []
  const files: string[] = []
  const cursor = new Cursor(sections.line)
  try {
    while (cursor.left > 0 && rows.length < MOST_ROWS) readUnit(cursor, sections, rows, files)
  } catch (error) {
    if (!(error instanceof Damaged)) throw error
  }
  if (rows.length === 0) return undefined
  // Stable: of two rows at one address the later one holds, as DWARF says of a sequence.
  rows.sort((a, b) => a.address - b.address || Number(a.line !== 0) - Number(b.line !== 0))
  return {
    addresses: Uint32Array.from(rows, (r) => r.address),
    lines: Uint32Array.from(rows, (r) => r.line),
    fileOf: Uint16Array.from(rows, (r) => r.file),
    files,
  }
}

/** File and line of a byte address in program memory. */
export function lineAt(table: LineTable, address: number): { file: string; line: number } | undefined {
  let low = 0
  let high = table.addresses.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (table.addresses[middle]! <= address) low = middle + 1
    else high = middle
  }
  const line = table.lines[low - 1]
  const file = table.files[table.fileOf[low - 1] ?? -1]
  return line === undefined || line === 0 || file === undefined ? undefined : { file, line }
}

interface Row {
  address: number
  line: number
  file: number
}

class Damaged extends Error {}

class Cursor {
  at = 0
  readonly #bytes: Uint8Array
  constructor(bytes: Uint8Array) {
    this.#bytes = bytes
  }
  get left(): number {
    return this.#bytes.length - this.at
  }
  u8(): number {
    const byte = this.#bytes[this.at++]
    if (byte === undefined) throw new Damaged()
    return byte
  }
  s8(): number {
    return (this.u8() << 24) >> 24
  }
  u16(): number {
    return this.u8() | (this.u8() << 8)
  }
  u32(): number {
    return (this.u16() | (this.u16() << 16)) >>> 0
  }
  skip(bytes: number): void {
    if (!(bytes >= 0) || bytes > this.left) throw new Damaged()
    this.at += bytes
  }
  uleb(): number {
    let value = 0
    let factor = 1
    for (let i = 0; i < 10; i++) {
      const byte = this.u8()
      value += (byte & 127) * factor
      factor *= 128
      if (byte < 128) return value
    }
    throw new Damaged()
  }
  sleb(): number {
    let value = 0
    let factor = 1
    for (let i = 0; i < 10; i++) {
      const byte = this.u8()
      value += (byte & 127) * factor
      factor *= 128
      if (byte < 128) return (byte & 64) !== 0 ? value - factor : value
    }
    throw new Damaged()
  }
  text(): string {
    let text = ''
    for (let byte = this.u8(); byte !== 0; byte = this.u8()) {
      if (text.length < 300) text += byte > 31 && byte < 127 ? String.fromCharCode(byte) : '?'
    }
    return text
  }
}

function textIn(section: Uint8Array | undefined, offset: number): string {
  if (section === undefined || offset >= section.length) throw new Damaged()
  const cursor = new Cursor(section)
  cursor.at = offset
  return cursor.text()
}

const baseName = (path: string) => path.slice(Math.max(path.lastIndexOf('/'), path.lastIndexOf('\\')) + 1)

function readUnit(cursor: Cursor, sections: Sections, rows: Row[], files: string[]): void {
  const length = cursor.u32()
  // The 64-bit form is not written for 32-bit ELF files.
  if (length >= 0xfffffff0) throw new Damaged()
  const end = cursor.at + length
  if (length > cursor.left) throw new Damaged()
  const version = cursor.u16()
  if (version < 2 || version > 5) {
    cursor.at = end
    return
  }
  if (version === 5) cursor.skip(2)
  const headerLength = cursor.u32()
  const program = cursor.at + headerLength
  if (program > end) throw new Damaged()
  const step = cursor.u8()
  if (version >= 4) cursor.skip(1)
  cursor.skip(1)
  const lineBase = cursor.s8()
  const lineRange = cursor.u8()
  const opcodeBase = cursor.u8()
  if (lineRange === 0 || opcodeBase === 0) throw new Damaged()
  const operands = Array.from({ length: opcodeBase - 1 }, () => cursor.u8())
  const names = version === 5 ? filesOf5(cursor, sections) : filesOf(cursor)
  const known = new Map<number, number>()
  /** Index in the whole table of a unit's file. */
  const fileIndex = (n: number): number => {
    let index = known.get(n)
    if (index === undefined) {
      const name = names[n] ?? '?'
      index = files.indexOf(name)
      if (index < 0 && files.length < MOST_FILES) index = files.push(name) - 1
      known.set(n, index)
    }
    return Math.max(0, index)
  }
  cursor.at = program
  let state = { address: 0, line: 1, file: 1 }
  const emit = (line: number) => {
    if (rows.length >= MOST_ROWS) throw new Damaged()
    rows.push({ address: state.address >>> 0, line: Math.max(0, line), file: fileIndex(state.file) })
  }
  while (cursor.at < end) {
    const opcode = cursor.u8()
    if (opcode >= opcodeBase) {
      const adjusted = opcode - opcodeBase
      state.address += Math.floor(adjusted / lineRange) * step
      state.line += lineBase + (adjusted % lineRange)
      emit(state.line)
    } else if (opcode === 0) {
      const size = cursor.uleb()
      const next = cursor.at + size
      if (size === 0 || next > end) throw new Damaged()
      const extended = cursor.u8()
      if (extended === 1) {
        // What follows the end of a sequence belongs to no line, until another sequence begins there.
        emit(0)
        state = { address: 0, line: 1, file: 1 }
      } else if (extended === 2) {
        state.address = size >= 5 ? cursor.u32() : cursor.u16()
      }
      cursor.at = next
    } else if (opcode === 1) emit(state.line)
    else if (opcode === 2) state.address += cursor.uleb() * step
    else if (opcode === 3) state.line += cursor.sleb()
    else if (opcode === 4) state.file = cursor.uleb()
    else if (opcode === 8) state.address += Math.floor((255 - opcodeBase) / lineRange) * step
    else if (opcode === 9) state.address += cursor.u16()
    else for (let i = 0; i < operands[opcode - 1]!; i++) cursor.uleb()
  }
  cursor.at = end
}

/** Versions 2 to 4: folders, then files from number 1. */
function filesOf(cursor: Cursor): string[] {
  while (cursor.text() !== '');
  const names = ['?']
  for (let name = cursor.text(); name !== ''; name = cursor.text()) {
    if (names.length > MOST_FILES) throw new Damaged()
    names.push(baseName(name))
    cursor.uleb()
    cursor.uleb()
    cursor.uleb()
  }
  return names
}

/** Version 5: each list says first what its entries are made of; files from number 0. */
function filesOf5(cursor: Cursor, sections: Sections): string[] {
  entries(cursor, sections)
  return entries(cursor, sections).map(baseName)
}

const PATH = 1

function entries(cursor: Cursor, sections: Sections): string[] {
  const formats = Array.from({ length: cursor.u8() }, () => [cursor.uleb(), cursor.uleb()] as const)
  const count = cursor.uleb()
  if (count > MOST_FILES) throw new Damaged()
  return Array.from({ length: count }, () => {
    let path = ''
    for (const [content, form] of formats) {
      const text = formOf(cursor, sections, form)
      if (content === PATH) path = text
    }
    return path
  })
}

/** The forms that these lists may use (DWARF 5, 6.2.4.1). @returns the text of a string, else ''. */
function formOf(cursor: Cursor, sections: Sections, form: number): string {
  switch (form) {
    case 0x08:
      return cursor.text()
    case 0x0e:
      return textIn(sections.strings, cursor.u32())
    case 0x1f:
      return textIn(sections.lineStrings, cursor.u32())
    case 0x0b:
      cursor.skip(1)
      return ''
    case 0x05:
      cursor.skip(2)
      return ''
    case 0x06:
      cursor.skip(4)
      return ''
    case 0x07:
      cursor.skip(8)
      return ''
    case 0x0f:
      cursor.uleb()
      return ''
    case 0x1e:
      cursor.skip(16)
      return ''
    case 0x09:
      cursor.skip(cursor.uleb())
      return ''
    default:
      throw new Damaged()
  }
}
