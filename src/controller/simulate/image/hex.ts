/** Intel HEX. Source: Intel Hexadecimal Object File Format Specification, revision A (1988), record types 00 to 05. */
import { InputError } from '../../../units/index.js'
import { type FirmwareImage, joinPieces, MAX_FLASH_BYTES } from './image.js'

import { dataEndFromStartup } from './startup.js'

/** Bytes of the longest line: colon, 5 + 255 bytes in two digits each, and room for blanks at its end. */
const LONGEST_LINE = 600

/** @throws InputError with line and column. */
export function readHex(file: Uint8Array, name: string): FirmwareImage {
  const pieces: { start: number; bytes: Uint8Array; line: number }[] = []
  let base = 0
  let ended = false
  let line = 0
  let total = 0
  for (let at = 0; at < file.length; ) {
    line++
    const end = lineEnd(file, at)
    const fail = (column: number, message: string) => new InputError(message, { file: name, line, column })
    if (end - at > LONGEST_LINE) {
      throw fail(LONGEST_LINE, `a line longer than any HEX record; expected at most 521 characters`)
    }
    let last = end
    while (last > at && isBlank(file[last - 1]!)) last--
    if (last > at) {
      if (ended) throw fail(1, 'data after the end-of-file record; expected nothing more')
      const record = readRecord(file, at, last, fail)
      const [length, high, low, type] = record as unknown as [number, number, number, number]
      const offset = (high << 8) | low
      const data = record.subarray(4, 4 + length)
      if (type === 0) {
        const start = base + offset
        if (start + length > MAX_FLASH_BYTES) {
          throw fail(
            4,
            `data for address 0x${(start + length - 1).toString(16)}; the largest program memory here ends at 0x${(MAX_FLASH_BYTES - 1).toString(16)}`,
          )
        }
        total += length
        if (total > 2 * MAX_FLASH_BYTES) throw fail(1, 'more data than any program memory holds')
        pieces.push({ start, bytes: data.slice(), line })
      } else if (type === 1) {
        expectLength(length, 0, type, fail)
        ended = true
      } else if (type === 2 || type === 4) {
        expectLength(length, 2, type, fail)
        const upper = (data[0]! << 8) | data[1]!
        base = type === 2 ? upper * 16 : upper * 0x10000
      } else if (type === 3 || type === 5) expectLength(length, 4, type, fail)
      else throw fail(8, `record type ${type.toString(16).padStart(2, '0')}; expected 00 to 05`)
    }
    at = end + 1
    if (file[end] === 13 && file[end + 1] === 10) at++
  }
  if (!ended) {
    throw new InputError('ends without the end-of-file record ":00000001FF"; the file seems cut off', {
      file: name,
      line: Math.max(1, line),
      column: 1,
    })
  }
  if (pieces.length === 0)
    throw new InputError('holds no data; expected a program', { file: name, line: 1, column: 1 })
  const lines = new Map(pieces.map((p) => [p.start, p.line]))
  const flash = joinPieces(
    pieces,
    (address) =>
      new InputError(
        `data for address 0x${address.toString(16)}, which an earlier record has filled already`,
        {
          file: name,
          line: lines.get(address) ?? 1,
          column: 4,
        },
      ),
  )
  const dataEnd = dataEndFromStartup(flash)
  return {
    name,
    format: 'hex',
    flash,
    eeprom: [],
    symbols: [],
    ...(dataEnd === undefined ? {} : { dataEnd }),
  }
}

type Fail = (column: number, message: string) => InputError

function expectLength(found: number, expected: number, type: number, fail: Fail): void {
  if (found !== expected) {
    throw fail(
      2,
      `a record of type ${type.toString().padStart(2, '0')} with ${found} bytes; expected ${expected}`,
    )
  }
}

function lineEnd(file: Uint8Array, from: number): number {
  let at = from
  while (at < file.length && file[at] !== 10 && file[at] !== 13) at++
  return at
}

function isBlank(code: number): boolean {
  return code === 32 || code === 9
}

/** The record's bytes, its checksum checked. */
function readRecord(file: Uint8Array, from: number, to: number, fail: Fail): Uint8Array {
  if (file[from] !== 58) throw fail(1, `${show(file[from]!)}; expected a record that begins with ":"`)
  const bytes = new Uint8Array((to - from - 1) >> 1)
  let sum = 0
  for (let i = 0; i < bytes.length; i++) {
    const high = digit(file[from + 1 + 2 * i]!)
    const low = digit(file[from + 2 + 2 * i]!)
    if (high < 0 || low < 0) {
      const column = high < 0 ? 2 + 2 * i : 3 + 2 * i
      throw fail(column, `${show(file[from + column - 1]!)}; expected a hexadecimal digit`)
    }
    bytes[i] = high * 16 + low
    sum += bytes[i]!
  }
  if ((to - from - 1) % 2 !== 0) throw fail(to - from, 'an odd number of digits; expected pairs')
  if (bytes.length < 5) throw fail(1, `a record of ${bytes.length} bytes; expected at least 5`)
  const expected = bytes[0]! + 5
  if (bytes.length !== expected) {
    throw fail(2, `a record that announces ${bytes[0]} data bytes but has ${bytes.length - 5}`)
  }
  if ((sum & 255) !== 0) {
    const given = bytes.at(-1)!
    const right = (given - sum) & 255
    throw fail(to - from - 1, `checksum ${hex2(given)}; expected ${hex2(right)}: the record is damaged`)
  }
  return bytes
}

function hex2(value: number): string {
  return value.toString(16).toUpperCase().padStart(2, '0')
}

function show(code: number): string {
  return code > 32 && code < 127 ? `"${String.fromCharCode(code)}"` : `byte 0x${hex2(code)}`
}

function digit(code: number): number {
  if (code >= 48 && code <= 57) return code - 48
  const lower = code | 32
  return lower >= 97 && lower <= 102 ? lower - 87 : -1
}
