import { describe, expect, it } from 'vitest'
import { addresseeOf, BROADCAST, NOBODY, nameAddressee } from './address.js'
import { encodePacket } from './encode.js'
import type { Packet } from './packet.js'

const addressee = (packet: Packet) => {
  const bytes = encodePacket(packet)
  return addresseeOf(bytes, 0, bytes.length)
}
const access = { op: 'write', cv: 1, value: 1 } as const

describe('addressees', () => {
  it('tell a short address from the same long one', () => {
    const short = addressee({ kind: 'reset', target: { kind: 'short', address: 3 } })
    const long = addressee({ kind: 'reset', target: { kind: 'long', address: 3 } })
    expect(short).not.toBe(long)
    expect(nameAddressee(short)).toBe('3')
    expect(nameAddressee(long)).toBe('long 3')
  })

  it('are one for all that is sent to a basic accessory board', () => {
    const output = addressee({ kind: 'accessory', board: 300, pair: 2, output: 1, on: true })
    expect(nameAddressee(output)).toBe('accessory board 300')
    expect(addressee({ kind: 'accessory-cv', board: 300, output: 3, access })).toBe(output)
    expect(addressee({ kind: 'accessory-poll', board: 300, pair: 1, extended: false })).toBe(output)
    for (const cv of [1, 257, 1024]) {
      expect(addressee({ kind: 'accessory-cv-legacy', board: 300, cv, value: 1 })).toBe(output)
    }
  })

  it('are one for all that is sent to an extended accessory', () => {
    const aspect = addressee({ kind: 'extended-accessory', address: 1203, aspect: 4 })
    expect(nameAddressee(aspect)).toBe('extended accessory 1203')
    expect(addressee({ kind: 'extended-accessory-cv', address: 1203, access })).toBe(aspect)
    expect(addressee({ kind: 'accessory-poll', board: 300, pair: 3, extended: true })).toBe(aspect)
    expect(addressee({ kind: 'extended-accessory', address: 1202, aspect: 4 })).not.toBe(aspect)
  })

  it('know the broadcasts and who is nobody', () => {
    expect(addressee({ kind: 'reset', target: { kind: 'all' } })).toBe(BROADCAST)
    expect(addressee({ kind: 'accessory', board: 'all', pair: 0, output: 0, on: false })).toBe(BROADCAST)
    expect(addressee({ kind: 'extended-accessory', address: 'all', aspect: 0 })).toBe(BROADCAST)
    expect(addressee({ kind: 'idle' })).toBe(NOBODY)
    expect(addresseeOf([0xf0, 1, 0xf1], 0, 3)).toBe(NOBODY)
    expect([BROADCAST, NOBODY].map(nameAddressee)).toEqual(['everyone', 'nobody'])
  })
})
