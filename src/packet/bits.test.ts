import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { crc8, errorByte, packetBits, packetDurationUs, packetFromBits } from './bits.js'

const bytesOf = fc.uint8Array({ minLength: 1, maxLength: 300 })
const preambleOf = fc.integer({ min: 1, max: 60 })

describe('bits of a packet', () => {
  it('are preamble, start bit and byte each, end bit; and come back', () => {
    fc.assert(
      fc.property(bytesOf, preambleOf, (bytes, preamble) => {
        const bits = packetBits(bytes, preamble)
        // S-9.2:2004 A: preamble + 9 · bytes + 1 (derived).
        expect(bits.replace(/ /g, '').length).toBe(preamble + 9 * bytes.length + 1)
        expect(packetFromBits(bits)).toEqual({ bytes: [...bytes], preamble })
        expect(packetFromBits(`${bits.replace(/ /g, '')}111`)).toEqual({ bytes: [...bytes], preamble })
      }),
    )
  })

  it('last as long as they do one by one', () => {
    fc.assert(
      fc.property(bytesOf, preambleOf, (bytes, preamble) => {
        const each = [...packetBits(bytes, preamble)].map((b) => ({ '1': 116, '0': 200 })[b] ?? 0)
        expect(packetDurationUs(bytes, preamble)).toBe(each.reduce((sum, us) => sum + us, 0))
      }),
    )
  })

  it('never have nine ones in a row inside a packet', () => {
    fc.assert(
      fc.property(bytesOf, (bytes) => {
        const inside = packetBits(bytes, 1).replace(/ /g, '').slice(1, -1)
        expect(inside).not.toContain('111111111')
      }),
    )
  })

  it.each([
    ['0111', /expected a preamble/],
    ['1111', /no start bit/],
    ['111 0 0000', /byte 1 ends after 4 bits/],
    ['111 0 00000000', /no end bit after byte 1/],
    ['111 0 00000000 1 0', /bit 14 is 0 after the end bit/],
    ['111 0 0000x000 1', /bit 9 is "x"/],
  ])('%s is refused', (text, says) => expect(() => packetFromBits(text)).toThrow(says))

  it('check themselves: with its error byte a packet is zero, and any one wrong bit is seen', () => {
    fc.assert(
      fc.property(bytesOf, fc.nat(), (bytes, where) => {
        const whole = [...bytes, errorByte(bytes)]
        expect(errorByte(whole)).toBe(0)
        whole[where % whole.length]! ^= 1 << (where % 8)
        expect(errorByte(whole)).not.toBe(0)
      }),
    )
  })

  // Check value of this polynomial in catalogues of CRCs, over the digits 1 to 9 (from memory).
  it('have a CRC-8 that is A1 over "123456789"', () => {
    const digits = Uint8Array.from('123456789', (c) => c.charCodeAt(0))
    expect(crc8(digits)).toBe(0xa1)
    expect(crc8([...digits, 0xa1])).toBe(0)
  })
})
