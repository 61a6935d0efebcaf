import { describe, expect, it } from 'vitest'
import { lineAt, readLineTable } from './line-table.js'

const text = (s: string) => [...s].map((c) => c.charCodeAt(0)).concat(0)
const u32 = (n: number) => [n & 255, (n >> 8) & 255, (n >> 16) & 255, n >>> 24]

/** A unit with one sequence, by the tables of the DWARF specification, section 6.2.5. */
function unit(version: number, fileList: number[]): Uint8Array {
  const program = [
    ...[0, 5, 2, ...u32(0x100)], // set address 0x100
    ...[3, 9, 1], // advance the line by 9, a row: 0x100 is line 10
    ...[2, 4, 13 + 14 * 1 + 3], // advance 4; special opcode: 1 on, line −5 + 3 + …
    ...[4, version === 5 ? 1 : 2, 1], // the second file, a row
    ...[2, 6, 0, 1, 1], // six on, end of the sequence
  ]
  const lengths = [0, 1, 1, 1, 1, 0, 0, 0, 1, 0, 0, 1]
  const afterLength = [1, ...(version >= 4 ? [1] : []), 1, 0xfb, 14, 13, ...lengths, ...fileList]
  const rest = [...(version === 5 ? [4, 0] : []), ...u32(afterLength.length), ...afterLength, ...program]
  return Uint8Array.from([...u32(rest.length + 2), version, 0, ...rest])
}

const OLD_FILES = [...text('src'), 0, ...text('main.c'), 0, 0, 0, ...text('deep/line.c'), 1, 0, 0, 0]
// One folder; two files, each a path in .debug_line_str and the number of its folder.
const NEW_FILES = [1, 1, 0x08, 1, ...text('src'), 2, 1, 0x1f, 2, 0x0b, 2, ...u32(0), 0, ...u32(7), 0]
const LINE_STRINGS = Uint8Array.from([...text('main.c'), ...text('deep/line.c')])

describe('line tables', () => {
  for (const version of [2, 3, 4, 5]) {
    it(`of DWARF ${version} give file and line of every address of a sequence, and nothing beyond`, () => {
      const files = version === 5 ? NEW_FILES : OLD_FILES
      const table = readLineTable({
        line: unit(version, files),
        lineStrings: LINE_STRINGS,
        strings: undefined,
      })!
      const first = version === 5 ? 'line.c' : 'main.c'
      expect(lineAt(table, 0xff)).toBeUndefined()
      expect(lineAt(table, 0x100)).toEqual({ file: first, line: 10 })
      expect(lineAt(table, 0x104)).toEqual({ file: first, line: 10 })
      // Special opcode 30: address + (30 − 13) / 14, line − 5 + (30 − 13) mod 14.
      expect(lineAt(table, 0x105)).toEqual({ file: 'line.c', line: 8 })
      expect(lineAt(table, 0x10a)).toEqual({ file: 'line.c', line: 8 })
      expect(lineAt(table, 0x10b)).toBeUndefined()
    })
  }

  it('that are damaged give what was read before the damage, and never an error', () => {
    let state = 12345
    const chance = () => {
      state = (Math.imul(state, 1103515245) + 12345) >>> 0
      return state >>> 16
    }
    let read = 0
    for (let round = 0; round < 4000; round++) {
      const version = 2 + (round % 4)
      const line = unit(version, version === 5 ? NEW_FILES : OLD_FILES)
      const hits = 1 + (chance() % 4)
      for (let i = 0; i < hits; i++) line[chance() % line.length] = chance() & 255
      const cut = chance() % 3 === 0 ? line.subarray(0, chance() % line.length) : line
      const table = readLineTable({ line: cut, lineStrings: LINE_STRINGS, strings: undefined })
      if (table === undefined) continue
      read++
      for (const address of [0, 0x100, 0x10a, 0xffffffff]) {
        const found = lineAt(table, address)
        if (found) expect(found.line).toBeGreaterThan(0)
      }
    }
    expect(read).toBeGreaterThan(500)
  })
})
