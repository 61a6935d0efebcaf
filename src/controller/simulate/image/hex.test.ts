import { describe, expect, it } from 'vitest'
import { InputError } from '../../../units/index.js'
import { loadFirmware } from './load.js'

const bytes = (text: string) => new TextEncoder().encode(text)

function complaint(text: string): string {
  try {
    loadFirmware(bytes(text), 'a.hex')
  } catch (error) {
    if (error instanceof InputError) return error.describe()
    throw error
  }
  return 'accepted'
}

const END = ':00000001FF\n'

describe('Intel HEX', () => {
  // Example record of the Intel Hexadecimal Object File Format Specification (1988) as widely reprinted, from memory.
  const EXAMPLE = ':10010000214601360121470136007EFE09D2190140\n'

  it('reads data at its address', () => {
    const image = loadFirmware(bytes(EXAMPLE + END), 'a.hex')
    expect(image.flash).toHaveLength(1)
    expect(image.flash[0]!.start).toBe(0x100)
    expect(image.flash[0]!.bytes.slice(0, 3)).toEqual(Uint8Array.of(0x21, 0x46, 0x01))
  })

  it('adds the bases of record types 02 and 04 and takes 03 and 05 as given', () => {
    const text = `:020000021000EC\r\n:0100000055AA\r\n:020000040001F9\r\n:01FFFE0066 9C\r\n`.replace(' ', '')
    const image = loadFirmware(bytes(`${text}:0400000300003800C1\r\n:04000005000000CD2A\r\n${END}`), 'a.hex')
    expect(image.flash.map((p) => p.start)).toEqual([0x10000, 0x1fffe])
  })

  it('says what is wrong and where', () => {
    expect(complaint(EXAMPLE.replace('40\n', '41\n') + END)).toBe(
      'a.hex:1:42: checksum 41; expected 40: the record is damaged',
    )
    expect(complaint(`${EXAMPLE}${EXAMPLE}${END}`)).toMatch(/^a.hex:2:4: .*0x100, which an earlier record/)
    expect(complaint(EXAMPLE)).toMatch(/end-of-file record/)
    expect(complaint(`${END}${EXAMPLE}`)).toMatch(/^a.hex:2:1: data after/)
    expect(complaint(`:0200000400FFFB\n:0100000055AA\n${END}`)).toMatch(
      /^a.hex:2:4: data for address 0xff0000/,
    )
    expect(complaint(`:00000009F7\n${END}`)).toMatch(/^a.hex:1:8: record type 09; expected 00 to 05/)
    expect(complaint(`:0G000001FF\n`)).toMatch(/^a.hex:1:3: "G"; expected a hexadecimal digit/)
    expect(complaint(`:000000\n`)).toMatch(/at least 5/)
    expect(complaint(`:05000000AA51\n${END}`)).toMatch(/announces 5 data bytes but has 1/)
    expect(complaint('hello\n')).toMatch(/^a.hex:1:1: "h"; expected a record/)
    expect(complaint(END)).toMatch(/holds no data/)
    expect(complaint('')).toMatch(/is empty/)
    expect(complaint(`:${'0'.repeat(1e6)}`)).toMatch(/longer than any HEX record/)
  })
})
