import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import {
  decodePacket,
  encodePacket,
  errorByte,
  type Packet,
  packetBits,
  packetDurationUs,
} from '../../src/packet/index.js'

interface Vector {
  case: string
  mode: 'operations' | 'service'
  hex: string
  bits: string
  us: number
  source: string
  status: 'confirmed' | 'computed'
}
const file = new URL('packets.json', import.meta.url)
const { vectors } = JSON.parse(readFileSync(file, 'utf8')) as { vectors: Vector[] }
const bytesOf = (hex: string) => Uint8Array.from(hex.split(' '), (b) => Number.parseInt(b, 16))

/** What each case means, written from its description, not from the decoder. */
const MEANING: Record<string, Packet> = {
  '37 74 43': {
    kind: 'speed',
    target: { kind: 'short', address: 55 },
    of: 28,
    step: 6,
    forward: true,
    emergency: false,
    directionIgnored: false,
    headlight: false,
  },
  'FF 00 FF': { kind: 'idle' },
  '00 00 00': { kind: 'reset', target: { kind: 'all' } },
  '00 71 71': { kind: 'broadcast-stop', forward: true, directionIgnored: true, immediate: true },
  '00 40 40': { kind: 'broadcast-stop', forward: false, directionIgnored: false, immediate: false },
  '03 62 61': {
    kind: 'speed',
    target: { kind: 'short', address: 3 },
    of: 28,
    step: 1,
    forward: true,
    emergency: false,
    directionIgnored: false,
    headlight: false,
  },
  '03 5F 5C': {
    kind: 'speed',
    target: { kind: 'short', address: 3 },
    of: 28,
    step: 28,
    forward: false,
    emergency: false,
    directionIgnored: false,
    headlight: false,
  },
  '03 3F FF C3': {
    kind: 'speed-126',
    target: { kind: 'short', address: 3 },
    step: 126,
    forward: true,
    emergency: false,
  },
  '03 3F 01 3D': {
    kind: 'speed-126',
    target: { kind: 'short', address: 3 },
    step: 0,
    forward: false,
    emergency: true,
  },
  'C4 D2 3F B3 9A': {
    kind: 'speed-126',
    target: { kind: 'long', address: 1234 },
    step: 50,
    forward: true,
    emergency: false,
  },
  'E7 FF 91 89': { kind: 'functions', target: { kind: 'long', address: 10239 }, group: 0, on: [0, 1] },
  '03 99 9A': { kind: 'functions', target: { kind: 'short', address: 3 }, group: 0, on: [0, 1, 4] },
  '03 B2 B1': { kind: 'functions', target: { kind: 'short', address: 3 }, group: 5, on: [6] },
  '03 A8 AB': { kind: 'functions', target: { kind: 'short', address: 3 }, group: 9, on: [12] },
  '03 DE 81 5C': { kind: 'functions', target: { kind: 'short', address: 3 }, group: 13, on: [13, 20] },
  '03 DF 80 5C': { kind: 'functions', target: { kind: 'short', address: 3 }, group: 21, on: [28] },
  '03 DD 85 5B': {
    kind: 'binary-state',
    target: { kind: 'short', address: 3 },
    state: 5,
    on: true,
    form: 'short',
  },
  '03 C0 AC 02 6D': {
    kind: 'binary-state',
    target: { kind: 'short', address: 3 },
    state: 300,
    on: true,
    form: 'long',
  },
  '03 12 0A 1B': { kind: 'consist', target: { kind: 'short', address: 3 }, consist: 10, reversed: false },
  '03 13 0A 1A': { kind: 'consist', target: { kind: 'short', address: 3 }, consist: 10, reversed: true },
  '03 EC 1C 06 F5': {
    kind: 'cv',
    target: { kind: 'short', address: 3 },
    access: { op: 'write', cv: 29, value: 6 },
  },
  '03 E8 1C FD 0A': {
    kind: 'cv',
    target: { kind: 'short', address: 3 },
    access: { op: 'write-bit', cv: 29, bit: 5, value: 1 },
  },
  '03 E7 FF FF E4': {
    kind: 'cv',
    target: { kind: 'short', address: 3 },
    access: { op: 'verify', cv: 1024, value: 255 },
  },
  '81 F8 79': { kind: 'accessory', board: 1, pair: 0, output: 0, on: true },
  '81 F1 70': { kind: 'accessory', board: 1, pair: 0, output: 1, on: false },
  '81 71 00 F0': { kind: 'extended-accessory', address: 4, aspect: 0 },
  'BF 07 00 B8': { kind: 'extended-accessory', address: 'all', aspect: 0 },
  '7D 01 7C': { kind: 'service-register', op: 'write', register: 6, value: 1 },
  '7F 08 77': { kind: 'service-register', op: 'write', register: 8, value: 8 },
  '7C 00 03 7F': { kind: 'service-direct', access: { op: 'write', cv: 1, value: 3 } },
  '74 1C 06 6E': { kind: 'service-direct', access: { op: 'verify', cv: 29, value: 6 } },
  '78 07 EF 90': { kind: 'service-direct', access: { op: 'verify-bit', cv: 8, bit: 7, value: 1 } },
  '78 1C FD 99': { kind: 'service-direct', access: { op: 'write-bit', cv: 29, bit: 5, value: 1 } },
  '7F FF FF 7F': { kind: 'service-direct', access: { op: 'write', cv: 1024, value: 255 } },
  '78 03 7B': { kind: 'service-register', op: 'write', register: 1, value: 3 },
  '70 03 73': { kind: 'service-register', op: 'verify', register: 1, value: 3 },
  '7D 11 6C': { kind: 'service-register', op: 'write', register: 6, value: 17 },
}

describe('published and computed packets', () => {
  it('are all there, each with its status', () => {
    expect(vectors.length).toBe(37)
    for (const { status, source } of vectors) {
      expect(status).toBe(source.startsWith('printed') ? 'confirmed' : 'computed')
    }
  })

  it.each(vectors)('$case: $hex ($source)', ({ hex, bits, us, mode }) => {
    const bytes = bytesOf(hex)
    const preamble = bits.indexOf(' ')
    expect(packetBits(bytes, preamble)).toBe(bits)
    expect(packetDurationUs(bytes, preamble)).toBe(us)
    expect(errorByte(bytes, bytes.length - 1)).toBe(bytes.at(-1))
    const { packet, findings, says } = decodePacket(bytes, { mode })
    expect(findings.filter((f) => f.kind !== 'note')).toEqual([])
    expect(says).not.toBe('')
    expect([...encodePacket(packet!)]).toEqual([...bytes])
    expect(packet).toEqual(MEANING[hex])
  })
})
