import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { operations, service, speed14 } from '../../test/packet/any-packet.js'
import { runs } from '../../test/runs.js'
import { explainBytes } from './anatomy.js'
import { errorByte } from './bits.js'
import { decodePacket } from './decode.js'
import { encodePacket } from './encode.js'
import type { Packet, PacketOptions } from './packet.js'

/** Flag codes and analog outputs that S-9.2.1:2012 reserves (confirmed). */
function isReserved(p: Packet): boolean {
  if (p.kind === 'flags') return ![0, 4, 5, 8, 9, 15].includes(p.code)
  return p.kind === 'analog-function' && p.output !== 1
}

function roundTrip(list: fc.Arbitrary<Packet>[], options: PacketOptions) {
  for (const one of list) {
    fc.assert(
      fc.property(one, (packet) => {
        const bytes = encodePacket(packet)
        const decoded = decodePacket(bytes, options)
        expect(decoded.packet).toEqual(packet)
        expect(decoded.says.length).toBeGreaterThan(3)
        // What we make by the standards is no fault; reserved codes may be made, and are named.
        const faults = decoded.findings.filter((f) => f.kind !== 'note' && f.kind !== 'reserved')
        expect(faults).toEqual([])
        expect(decoded.findings.some((f) => f.kind === 'reserved')).toBe(isReserved(packet))
        const parts = explainBytes(bytes, options)
        expect(parts.map((part) => part.byte)).toEqual([...bytes])
        for (const { bits, pattern, says } of parts) {
          expect(pattern).toMatch(/^[01A-Za-z]{8}$/)
          expect(says).not.toMatch(/undefined|NaN|no meaning/)
          // A fixed digit of the pattern is the bit that is there.
          for (let i = 0; i < 8; i++) {
            if (pattern[i] === '0' || pattern[i] === '1')
              expect([pattern, bits[i]]).toEqual([pattern, pattern[i]])
          }
        }
      }),
      { numRuns: runs(200) },
    )
  }
}

describe('packets', () => {
  it('are read back as they were made, in operations', () => roundTrip(operations, {}))
  it('are read back as they were made, in service mode', () => roundTrip(service, { mode: 'service' }))
  it('are read back with 14 steps', () => {
    roundTrip([speed14], { steps: 14 })
  })

  it('decode from any bytes at all, and what has a meaning encodes to the same bytes', () => {
    fc.assert(
      fc.property(
        fc.uint8Array({ maxLength: 9 }),
        fc.constantFrom<PacketOptions>({}, { mode: 'service' }, { steps: 14 }),
        (bytes, options) => {
          const { packet, findings, says } = decodePacket(bytes, options)
          expect(says).not.toBe('')
          if (packet === undefined) expect(findings.length).toBeGreaterThan(0)
          else if (findings.every((f) => f.kind === 'note')) {
            // Unused bits are reported and lost; everything else comes back.
            const again = [...encodePacket(packet)]
            if (!findings.some((f) => f.says.includes('unused'))) expect(again).toEqual([...bytes])
          }
        },
      ),
      { numRuns: runs(20_000) },
    )
  })

  it('looks at no more than a packet can have, however long the string', () => {
    for (const first of [0, 3, 0x81, 0xc0, 0xfd, 0xfe, 0xff]) {
      for (const length of [257, 4096, 65_536]) {
        let looks = 0
        const bytes = new Proxy(new Uint8Array(length).fill(first), {
          get: (target, key) => {
            if (key !== 'length') looks++
            return Reflect.get(target, key, target)
          },
        })
        expect(decodePacket(bytes).findings.map((f) => f.kind)).toEqual(['length'])
        expect(looks).toBeLessThan(1000)
      }
    }
  })

  it.each([[[]], [[0]], [[255]], [[3, 3]]])('%j is no packet', (bytes) => {
    const { packet, findings } = decodePacket(bytes)
    expect(packet).toBeUndefined()
    expect(findings.map((f) => f.kind)).toContain('length')
  })

  // Longer than S-9.2.1:2012 allows, by texts that are from memory: noted, not condemned.
  it('notes the long forms', () => {
    const long = encodePacket({
      kind: 'cv-extended',
      target: { kind: 'long', address: 5 },
      op: 'write',
      sequence: 0,
      cv: 70_000,
      data: [1, 2, 3, 4],
    })
    expect(long.length).toBe(11)
    expect(decodePacket(long).findings.map((f) => f.kind)).toEqual(['note', 'note'])
  })

  it('names a wrong CRC-8 and a missing content of first byte 254', () => {
    const bytes = encodePacket({ kind: 'automatic-logon', data: [1, 2, 3, 4, 5], crc: true })
    bytes[6]! ^= 1
    bytes[7]! ^= 1
    expect(decodePacket(bytes).findings.map((f) => f.kind)).toEqual(['note', 'error-byte'])
    expect(decodePacket([0xfe, 0xfe]).packet).toBeUndefined()
  })

  it('says what bytes 112 to 127 would mean on a service-mode track', () => {
    const { says, findings } = decodePacket([0x7c, 0x00, 0x03, 0x7f])
    expect(says).not.toContain('service')
    expect(findings.map((f) => f.says).join()).toContain('service mode, direct: write CV1 = 3')
    expect(decodePacket([0x7c, 0x00, 0x03, 0x7f], { mode: 'service' }).says).toBe(
      'service mode, direct: write CV1 = 3',
    )
  })

  // Instruction bytes printed in S-9.2.1:2012 (confirmed): clear all binary states.
  it.each([
    [[3, 0xc0, 0, 0, 0xc3], 'long'],
    [[3, 0xdd, 0, 0xde], 'short'],
  ])('%j clears all binary states', (bytes, form) => {
    expect(decodePacket(bytes)).toMatchObject({
      packet: { kind: 'binary-state', state: 0, on: false, form },
      findings: [],
    })
  })

  it.each([
    [[0xff, 0x01, 0xfe], 'undefined'],
    [[0xfa, 0x00, 0xfa], 'reserved'],
    [[0x03, 0x20, 0x23], 'reserved'],
    [[0x03, 0x62, 0x62], 'error-byte'],
    [[0x03, 0x62, 0x00, 0x61], 'undefined'],
    [[0x03, 0xe0, 0x00, 0x00, 0xe3], 'reserved'],
    [[0x03], 'length'],
  ])('%j is %s', (bytes, expected) => {
    expect(decodePacket(bytes).findings.map((f) => f.kind)).toContain(expected)
  })

  it('numbers accessories by the offset', () => {
    const bytes = encodePacket({ kind: 'accessory', board: 1, pair: 0, output: 0, on: true })
    expect(decodePacket(bytes, { accessoryOffset: 4 }).says).toContain('accessory 1 (board 1, pair 0)')
    expect(decodePacket(bytes, { accessoryOffset: 0 }).says).toContain('accessory 5 (board 1, pair 0)')
    const first = encodePacket({ kind: 'accessory', board: 0, pair: 0, output: 0, on: true })
    expect(decodePacket(first).says).toContain('accessory before number 1 (board 0, pair 0)')
    expect(decodePacket(first, { accessoryOffset: 0 }).says).toContain('accessory 1 (board 0, pair 0)')
  })

  it.each([
    [
      { kind: 'speed-126', target: { kind: 'short', address: 0 }, step: 1, forward: true, emergency: false },
      /short address/,
    ],
    [
      {
        kind: 'speed-126',
        target: { kind: 'long', address: 10240 },
        step: 1,
        forward: true,
        emergency: false,
      },
      /long address/,
    ],
    [
      {
        kind: 'speed-126',
        target: { kind: 'short', address: 3 },
        step: 127,
        forward: true,
        emergency: false,
      },
      /step/,
    ],
    [{ kind: 'service-direct', access: { op: 'write', cv: 1025, value: 0 } }, /CV/],
    [{ kind: 'automatic-logon', data: [1, 2, 3, 4, 5], crc: false }, /data has 5 bytes/],
    [{ kind: 'service-direct', access: { op: 'erase', cv: 1, value: 0 } }, /op is erase/],
    [{ kind: 'horn' }, /no packet of kind horn/],
    [{ kind: 'reset', target: { kind: 'someone', address: 1 } }, /target is someone/],
    [{ kind: 'speed', target: { kind: 'all' }, of: 27, step: 1, forward: true }, /of is 27/],
  ] as const)('refuses %j', (packet, says) =>
    expect(() => encodePacket(packet as unknown as Packet)).toThrow(says),
  )
})

// RCN-211, from memory: minute 0 to 59, hour 0 to 23; a date of the calendar.
describe('each byte of a time that there is not', () => {
  it.each([
    [[0, 0xc1, 61, 10, 1], 2, /minute 61, which is not 0 to 59/],
    [[0, 0xc1, 5, 0x3e, 1], 3, /Tuesday; hour 30, which is not 0 to 23/],
    [[0, 0xc1, 5, 10, 0x41], 4, /bit 6 is set, which must be 0; clock factor 1/],
    [[0, 0xc1, 0x40 | 29, 0x27, 0xe9], 2, /day 29, which is not 1 to 28/],
    [[0, 0xc1, 0x41, 0xd7, 0xe9], 3, /month 13, which is not 1 to 12/],
  ])('%j says what it means', (body, index, says) => {
    const parts = explainBytes([...body, errorByte(body)])
    expect(parts[index]?.says).toMatch(says)
    expect(parts.map((p) => p.says).join()).not.toContain('no meaning here')
  })
})
