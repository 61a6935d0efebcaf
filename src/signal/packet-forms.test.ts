/** Longer packets and forms of which only some texts were seen, in a record of the signal. */
import { describe, expect, it } from 'vitest'
import { profileOf, signalLimitsOf } from '../standard/index.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING } from './encode.js'
import { judgeSignal } from './evidence.js'
import { readSignal } from './read.js'

type ProfileName = 'nmra' | 'rcn'

/** Verdicts of a record in which a packet comes among idles. */
function judge(bytes: number[], name: ProfileName, edition?: string) {
  const profile = profileOf({ profile: name, scale: 'H0', cutout: false, ...(edition ? { edition } : {}) })
  const check = bytes.reduce((a, b) => a ^ b, 0)
  const idle = [0xff, 0, 0xff]
  const packets = [idle, idle, [...bytes, check], idle, idle]
  const edges = encodeSignal(packets, { ...NOMINAL_TIMING, preamble: 20 })
  const { reading } = readSignal(edges, ENCODER_CLOCK, { limits: signalLimitsOf(profile) })
  const list = judgeSignal(reading, profile, { origin: 'measured', source: 'test' })
  return (id: string) => list.find((e) => e.clause === id)
}

/** CRC-8, polynomial x^8+x^5+x^4+1, reflected, start 0 (from memory of RCN-218). */
function crc(bytes: number[]): number {
  let sum = 0
  for (const byte of bytes) {
    sum ^= byte
    for (let i = 0; i < 8; i++) sum = sum & 1 ? (sum >> 1) ^ 0x8c : sum >> 1
  }
  return sum
}

describe('nine bytes to first byte 253', () => {
  const body = [253, 1, 2, 3, 4, 5, 6]

  it('are a fault where their CRC is wrong', () => {
    for (const name of ['nmra', 'rcn'] as const) {
      const of = judge([...body, crc(body) ^ 0x40], name)
      expect(of('instruction')?.verdict, name).toBe('broken')
      expect(of('packet-length')?.verdict, name).toBe('met')
    }
  })

  it('are none where it fits', () => {
    for (const name of ['nmra', 'rcn'] as const)
      expect(judge([...body, crc(body)], name)('instruction')?.verdict, name).not.toBe('broken')
  })
})

describe('forms that are not in S-9.2.1:2012', () => {
  it('break the length under nmra where they have more than six bytes', () => {
    const form3C = [3, 0x3c, 0x80, 1, 2, 3, 4]
    expect(judge(form3C, 'nmra')('packet-length')?.verdict).toBe('broken')
    const rcn = judge(form3C, 'rcn')('packet-length')
    expect(rcn?.verdict).not.toBe('broken')
    expect(rcn?.because).toContain('from memory')
  })

  // F61 to F68 and the layout time: RCN-212 and RCN-211, from memory.
  it.each([
    ['functions 61 to 68', [3, 0xdc, 1]],
    ['the time of the layout', [0, 0xc1, 5, 0x0a, 0x01]],
  ])('are undecided under nmra: %s', (_, bytes) => {
    for (const edition of ['2006', '2020']) {
      const found = judge(bytes, 'nmra', edition)('instruction')
      expect(found?.verdict, edition).toBe('undecided')
      expect(found?.because).toContain('from memory')
    }
  })
})
