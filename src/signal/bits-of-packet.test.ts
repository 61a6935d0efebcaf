import { describe, expect, it } from 'vitest'
import { explainBytes } from '../packet/index.js'
import { profileOf } from '../standard/index.js'
import { bitsOfPacket, sayBit, sayHalf } from './bits-of-packet.js'
import { EdgeList } from './edges.js'
import { encodeSignal } from './encode.js'
import { SignalReader } from './reader.js'
import type { PacketRecord } from './reading.js'

const BYTES = [3, 0x3f, 0x85, 3 ^ 0x3f ^ 0x85]
const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const LIMITS = {
  one: clauses['one-half'],
  zero: clauses['zero-half'],
  preamble: clauses.preamble,
  mode: 'operations',
} as const

function read(edges: EdgeList) {
  const packets: PacketRecord[] = []
  const reader = new SignalReader({ tickUs: 1e-3, resolutionUs: 0 }, { onPacket: (p) => packets.push(p) })
  reader.push(edges)
  reader.finish(edges.ticks[edges.count - 1]!)
  const timesUs = Float64Array.from(edges.ticks.subarray(0, edges.count), (t) => t / 1000)
  return packets.map((p) => ({
    packet: p,
    bits: bitsOfPacket(
      { timesUs, levels: edges.levels, count: edges.count },
      { startUs: p.timeUs, endUs: p.endUs, bytes: p.bytes, preamble: p.preamble },
      LIMITS,
    ),
  }))
}

describe('bits laid over the edges', () => {
  it('are the packet, its preamble in front', () => {
    const [, second] = read(encodeSignal([BYTES, BYTES, BYTES]))
    const { bits, packet } = second!
    expect(bits.filter((b) => b.role === 'preamble')).toHaveLength(16)
    expect(packet.preamble).toBe(16)
    expect(bits[0]).toMatchObject({ role: 'preamble', index: 1, value: 1 })
    expect(bits.at(-1)).toMatchObject({ role: 'end', value: 1, toUs: packet.endUs })
    const data = bits.filter((b) => b.role === 'data')
    expect(data.filter((b) => b.byte === 1).map((b) => b.value)).toEqual([0, 0, 1, 1, 1, 1, 1, 1])
    for (let i = 1; i < bits.length; i++) expect(bits[i]!.fromUs).toBe(bits[i - 1]!.toUs)
  })

  it('are found in spite of a glitch, and not where the edges carry other bytes', () => {
    const clean = encodeSignal([BYTES, BYTES])
    const [first] = read(clean)
    const spoiled = new EdgeList()
    const at = first!.packet.timeUs * 1000 + 30_000
    for (let i = 0; i < clean.count; i++) {
      spoiled.add(clean.ticks[i]!, clean.levels[i]!)
      if (clean.ticks[i]! > at || clean.ticks[i + 1]! < at) continue
      spoiled.add(at, 1 - clean.levels[i]!)
      spoiled.add(at + 2000, clean.levels[i]!)
    }
    expect(spoiled.count).toBe(clean.count + 2)
    expect(read(spoiled)[0]!.bits.map((b) => b.value)).toEqual(first!.bits.map((b) => b.value))
    const timesUs = Float64Array.from(clean.ticks.subarray(0, clean.count), (t) => t / 1000)
    const { timeUs, endUs } = first!.packet
    const other = { startUs: timeUs, endUs, bytes: [4, ...BYTES.slice(1)], preamble: 16 }
    expect(bitsOfPacket({ timesUs, levels: clean.levels, count: clean.count }, other, LIMITS)).toEqual([])
  })

  it('say what they are, how long, and what is allowed', () => {
    const { bits } = read(encodeSignal([BYTES, BYTES, BYTES]))[1]!
    const words = bits.map((b) => sayBit(b, explainBytes(BYTES), 16, LIMITS))
    expect(words[4]).toBe(
      '1, preamble bit 5 of 16, at least 14 wanted (S-9.2:2004 A). Halves 58 and 58 us; allowed are 55 to 61 us (S-9.1:2020 Table 1): 3 us from the nearer limit',
    )
    expect(words[16]).toMatch(
      /^0, start bit of the first byte: a zero ends the preamble\. Halves 100 and 100 us/,
    )
    expect(words[17]).toMatch(/^0, bit 7 of the first byte 03, always 0 in such a byte: .*short address 3/)
    expect(words.at(-2)).toMatch(/^1, bit 0 of the error byte B9, part of E: .* fits\. /)
    expect(words.at(-1)).toMatch(/^1, end bit/)
    const late = { ...bits[0]!, middleUs: bits[0]!.fromUs + 62.5 }
    expect(sayBit(late, [], 16, LIMITS)).toMatch(/outside by 1\.5 us$/)
    expect(sayHalf(62, LIMITS)).toMatch(/half of a one.*outside the limits$/)
    expect(sayHalf(3, LIMITS)).toMatch(/glitch$/)
  })
})
