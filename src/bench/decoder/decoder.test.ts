// Sources: receiver windows S-9.1:2020 Table 1; packets S-9.2:2004, S-9.2.1:2012; CVs S-9.2.2:2012; service mode
// S-9.2.3:2012 E (all confirmed).
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { encodePacket, type Packet } from '../../packet/index.js'
import { SignalEncoder } from '../../signal/index.js'
import { profileOf } from '../../standard/index.js'
import { Cvs } from './cvs.js'
import { Decoder } from './decoder.js'
import { narrowestWindows, Receiver } from './receiver.js'

const windows = narrowestWindows(profileOf({ profile: 'nmra', edition: '2020', scale: 'H0', cutout: false }))

/** Feeds half-bits, us, and gives the packets that were read. */
function heard(halves: readonly number[]): string[] {
  const packets: string[] = []
  const receiver = new Receiver(windows, (bytes) => packets.push([...bytes].join(' ')))
  let us = 0
  receiver.edge(us)
  for (const half of halves) receiver.edge((us += half))
  return packets
}

function halvesOf(bytes: ArrayLike<number>, one = 58, zero = 100, preamble = 14): number[] {
  const encoder = new SignalEncoder({ oneHalfUs: one, zeroHalfUs: zero, preamble })
  encoder.packet(bytes)
  const { ticks, count } = encoder.edges
  const list: number[] = []
  for (let i = 1; i < count; i++) list.push((ticks[i]! - ticks[i - 1]!) / 1000)
  list.push(one)
  return list
}

const IDLE = encodePacket({ kind: 'idle' })
const speed = (address: number, step: number, forward = true): Packet => ({
  kind: 'speed-126',
  target: address < 128 ? { kind: 'short', address } : { kind: 'long', address },
  step,
  forward,
  emergency: false,
})

describe('a receiver with the narrowest windows', () => {
  it.each([
    [52, 90],
    [58, 100],
    [64, 100],
    [58, 10000],
  ])('reads ones of %f and zeros of %f us', (one, zero) => {
    expect(heard(halvesOf(IDLE, one, zero))).toEqual(['255 0 255'])
  })

  it.each([
    [51.9, 100],
    [64.1, 100],
    [58, 89.9],
    [58, 10000.1],
  ])('reads nothing with ones of %f and zeros of %f us', (one, zero) => {
    expect(heard(halvesOf(IDLE, one, zero))).toEqual([])
  })

  it('needs twelve complete ones', () => {
    expect(heard(halvesOf(IDLE, 58, 100, 12))).toHaveLength(1)
    expect(heard(halvesOf(IDLE, 58, 100, 11))).toHaveLength(0)
  })

  it('accepts halves of a one that differ by 6 us, not more', () => {
    const skewed = (by: number) =>
      halvesOf(IDLE).map((h, i) => (h === 58 ? (i % 2 ? 58 + by / 2 : 58 - by / 2) : h))
    expect(heard(skewed(6))).toHaveLength(1)
    expect(heard(skewed(6.2))).toHaveLength(0)
  })

  it('reads both polarities, and finds its bits again after damage', () => {
    const packet = halvesOf(encodePacket(speed(3, 60)))
    // A lone half before it shifts the pairs by one, as a loco put on the track in mid-stream would hear it.
    expect(heard([58, ...packet])).toHaveLength(1)
    const damaged = packet.map((h, i) => (i === 45 ? 75 : h))
    expect(heard([...damaged, ...packet])).toHaveLength(1)
  })

  it('takes no packet with a wrong error byte, whatever bits are turned', () => {
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 3, maxLength: 6 }), fc.nat(47), (bytes, bit) => {
        const body = bytes.slice(0, -1)
        const good = Uint8Array.of(
          ...body,
          body.reduce((a, b) => a ^ b, 0),
        )
        const bad = good.map((b, i) => (i === (bit >> 3) % good.length ? b ^ (1 << (bit & 7)) : b))
        expect(heard(halvesOf(good))).toEqual([[...good].join(' ')])
        expect(heard(halvesOf(bad))).toEqual([])
      }),
      { numRuns: runs(200) },
    )
  })

  it('forgets everything without power', () => {
    const packets: Uint8Array[] = []
    const receiver = new Receiver(windows, (bytes) => packets.push(bytes))
    let us = 0
    halvesOf(IDLE).forEach((half, i) => {
      receiver.edge((us += half))
      if (i === 40) receiver.off()
    })
    expect(packets).toEqual([])
    expect(receiver.counts.damaged).toBe(1)
  })
})

function decoder(cvs: Record<number, number> = {}, timeoutUs = 0) {
  const d = new Decoder({ name: 'test', cvs, windows, timeoutUs })
  d.power(true, 0)
  let us = 0
  return {
    d,
    send(p: Packet, atUs = us + 8000) {
      us = atUs
      d.packet(encodePacket(p), us)
    },
  }
}

describe('a decoder in operations', () => {
  it('obeys its own address and the broadcasts only', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 10239 }), fc.integer({ min: 1, max: 126 }), (address, step) => {
        const { d, send } = decoder({ 1: 3 })
        send(speed(address, step))
        expect(d.target > 0).toBe(address === 3)
      }),
      { numRuns: runs(300) },
    )
    const { d, send } = decoder({ 17: 196, 18: 210, 29: 0x22 })
    send(speed(1234, 63, false))
    expect([d.target, d.forward]).toEqual([0.5, false])
    send({ kind: 'broadcast-stop', forward: true, directionIgnored: true, immediate: true })
    expect([d.target, d.speed]).toEqual([0, 0])
  })

  it('random packets never move a decoder that they are not for', () => {
    const { d } = decoder({ 1: 77 })
    let us = 0
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 2, maxLength: 5 }), (body) => {
        fc.pre(body[0] !== 77 && body[0] !== 0)
        d.packet(
          Uint8Array.of(
            ...body,
            body.reduce((a, b) => a ^ b, 0),
          ),
          (us += 8000),
        )
        expect(d.target).toBe(0)
      }),
      { numRuns: runs(10_000) },
    )
  })

  it('speeds up by CV3 and slows down by CV4: seconds per step are the value × 0.896 ÷ steps', () => {
    // CV3 = 10: 10 × 0.896 / 128 = 70 ms a step, so 60 steps take 4.2 s.
    const { d, send } = decoder({ 3: 10, 4: 5 })
    send(speed(3, 60), 1000)
    d.advance(1000 + 4.19e6)
    expect(d.speed).toBeLessThan(60 / 126)
    d.advance(1000 + 4.21e6)
    expect(d.speed).toBe(60 / 126)
    send(speed(3, 0), 5e6)
    d.advance(5e6 + 2.09e6)
    expect(d.speed).toBeGreaterThan(0)
    d.advance(5e6 + 2.11e6)
    expect(d.speed).toBe(0)
  })

  it('stops by itself when it hears nothing within its time-out, and by other packets not at all', () => {
    const { d, send } = decoder({}, 1e6)
    send(speed(3, 60), 1000)
    for (let us = 9000; us < 3e6; us += 8000) d.packet(IDLE, us)
    expect(d.target).toBe(0)
    expect(d.events.at(-1)).toMatchObject({ kind: 'timed out', timeUs: 1000 + 1e6 })
  })

  it('stores a CV after two identical packets, however far apart, unless another packet came between', () => {
    const write: Packet = {
      kind: 'cv',
      target: { kind: 'short', address: 3 },
      access: { op: 'write', cv: 5, value: 99 },
    }
    const { d, send } = decoder()
    send(write)
    expect(d.cvs.get(5)).toBe(0)
    d.packet(IDLE, 20e3)
    send(write, 40e3)
    expect(d.cvs.get(5)).toBe(99)
    const other = decoder()
    other.send(write)
    other.send(speed(3, 1))
    other.send(write)
    expect(other.d.cvs.get(5)).toBe(0)
  })

  it('keeps its CVs without power, and nothing else', () => {
    const { d, send } = decoder()
    send(speed(3, 60))
    send({ kind: 'functions', target: { kind: 'short', address: 3 }, group: 0, on: [0, 2] })
    expect([...d.functions]).toEqual([0, 2])
    d.cvs.write(4, 7, false)
    d.power(false, 1e6)
    d.power(true, 2e6)
    expect([d.target, d.functions.size, d.cvs.get(4)]).toEqual([0, 0, 7])
  })

  it('in a consist follows the consist, turned round if it is set so', () => {
    const { d, send } = decoder({ 19: 10 | 128 })
    send(speed(10, 63, true))
    expect([d.target, d.forward]).toEqual([0.5, false])
    send(speed(3, 20))
    expect(d.target).toBe(0.5)
  })
})

describe('a decoder in service mode', () => {
  const reset: Packet = { kind: 'reset', target: { kind: 'all' } }
  const direct = (op: 'write' | 'verify', cv: number, value: number): Packet => ({
    kind: 'service-direct',
    access: { op, cv, value },
  })
  function answers(packets: readonly Packet[], cvs: Record<number, number> = {}) {
    const { d, send } = decoder(cvs)
    const list: string[] = []
    d.onAcknowledge = (p) => list.push(`${p.what} CV${p.cv} = ${p.value}`)
    for (const p of packets) send(p)
    return { list, d }
  }

  it('acts on the second of two identical packets after a reset, once', () => {
    const write = direct('write', 29, 6)
    expect(answers([reset, write]).list).toEqual([])
    const { list, d } = answers([reset, write, write, write, write, write])
    expect(list).toEqual(['written CV29 = 6'])
    expect(d.cvs.get(29)).toBe(6)
  })

  it('does nothing without a reset just before, or with another packet in between', () => {
    const write = direct('write', 29, 6)
    expect(answers([{ kind: 'idle' }, write, write]).list).toEqual([])
    expect(answers([reset, { kind: 'idle' }, write, write]).list).toEqual([])
    expect(answers([reset, write, { kind: 'idle' }, write]).list).toEqual([])
  })

  it('answers a verify only when the value is right', () => {
    const read = (value: number) =>
      answers([reset, direct('verify', 1, value), direct('verify', 1, value)]).list
    expect(read(3)).toEqual(['verified CV1 = 3'])
    expect(read(4)).toEqual([])
  })

  it('leaves the mode 20 ms after the last packet of it', () => {
    const { d, send } = decoder()
    const list: string[] = []
    d.onAcknowledge = (p) => list.push(p.what)
    send(reset, 1000)
    send(direct('write', 29, 6), 9000)
    send(direct('write', 29, 6), 30_000)
    expect(list).toEqual([])
  })

  it('reaches CV65 through page 17, data register 1 (the example printed in S-9.2.3 E)', () => {
    const register = (n: number, value: number): Packet => ({
      kind: 'service-register',
      op: 'write',
      register: n,
      value,
    })
    const { d } = answers([reset, register(6, 17), register(6, 17), reset, register(1, 42), register(1, 42)])
    expect(d.cvs.get(65)).toBe(42)
  })

  it('writing CV1 clears the long address and the consist', () => {
    const { d } = answers([reset, direct('write', 1, 9), direct('write', 1, 9)], { 29: 0x26, 19: 5 })
    expect([d.cvs.get(1), d.cvs.get(29), d.cvs.get(19)]).toEqual([9, 0x06, 0])
  })
})

describe('CVs', () => {
  it('have the long address A = (CV17 − 192)·256 + CV18', () => {
    expect(new Cvs({ 17: 231, 18: 255, 29: 0x20 }).address).toBe(10239)
  })

  it('take CV17 once CV18 is written', () => {
    const cvs = new Cvs({ 29: 0x20, 17: 192, 18: 3 })
    cvs.write(17, 196, false)
    expect(cvs.address).toBe(3)
    cvs.write(18, 210, false)
    expect(cvs.address).toBe(1234)
  })

  it('bend the speed curve through start, middle and full voltage', () => {
    const cvs = new Cvs({ 2: 51, 6: 102, 5: 204 })
    expect(cvs.motorShare(0)).toBe(0)
    expect(cvs.motorShare(0.5)).toBeCloseTo(0.4)
    expect(cvs.motorShare(1)).toBeCloseTo(0.8)
  })

  it('multiply the drive by the trim of its direction, and by nothing where that is 0 (S-9.2.2:2012, CV66 and CV95)', () => {
    const cvs = new Cvs({ 66: 96, 95: 160 })
    expect(cvs.motorShare(0.8, true)).toBeCloseTo(0.8 * 0.75)
    expect(cvs.motorShare(0.4, false)).toBeCloseTo(0.4 * 1.25)
    // No more than full voltage.
    expect(cvs.motorShare(1, false)).toBe(1)
    expect(new Cvs({ 66: 0, 95: 0 }).motorShare(0.8, false)).toBeCloseTo(0.8)
  })
})

describe('a decoder without a signal', () => {
  it('runs on direct current where CV29 bit 2 and CV12 allow it, by its polarity, and stops at the next packet', () => {
    for (const [cvs, runs] of [
      [{ 29: 6 }, true],
      [{ 29: 2 }, false],
      [{ 29: 6, 12: 0 }, false],
    ] as const) {
      const { d } = decoder(cvs)
      d.analog(false, 30e3)
      expect([d.motorShare > 0, d.forward]).toEqual(runs ? [true, false] : [false, true])
      d.packet(IDLE, 40e3)
      expect(d.motorShare).toBe(0)
    }
  })
})

describe('CVs that guard others', () => {
  it('refuse every write while CV15 and CV16 differ, but to CV15', () => {
    const cvs = new Cvs({ 16: 2 })
    expect(cvs.write(3, 9, true)).toBe(false)
    expect(cvs.write(15, 2, true)).toBe(true)
    expect(cvs.write(3, 9, true)).toBe(true)
  })

  it('let a function obey the consist address by CV21 and CV22 only', () => {
    const { d, send } = decoder({ 19: 10, 21: 1 })
    send({ kind: 'functions', target: { kind: 'short', address: 10 }, group: 0, on: [0, 1, 2] })
    expect([...d.functions]).toEqual([1])
    // Its own address reaches all of them.
    send({ kind: 'functions', target: { kind: 'short', address: 3 }, group: 0, on: [0, 2] })
    expect([...d.functions].sort()).toEqual([0, 2])
  })

  it('bend speed through the 28 entries of the table (CV67 to CV94) where CV29 bit 4 is set', () => {
    const table = Object.fromEntries(Array.from({ length: 28 }, (_, i) => [67 + i, 9 * i]))
    const cvs = new Cvs({ ...table, 29: 0x12 })
    expect(cvs.motorShare(1)).toBeCloseTo(243 / 255)
    expect(cvs.motorShare(14 / 27)).toBeCloseTo((9 * 14) / 255, 2)
  })
})

describe('steps', () => {
  it.each([
    [14, 2],
    [28, 2],
  ] as const)('of a baseline packet in %i', (of, cv29) => {
    const { d, send } = decoder({ 29: of === 14 ? 0 : cv29 })
    send({
      kind: 'speed',
      target: { kind: 'short', address: 3 },
      of,
      step: of / 2,
      forward: true,
      emergency: false,
      directionIgnored: false,
      headlight: of === 14,
    })
    expect(d.target).toBeCloseTo(0.5)
  })

  it('of 14 have the headlight with them, and none in function group one (S-9.2.1:2012 C)', () => {
    const group = {
      kind: 'functions',
      target: { kind: 'short', address: 3 },
      group: 0,
      on: [0, 2],
    } satisfies Packet
    const in14 = decoder({ 29: 0 })
    in14.send(group)
    expect([...in14.d.functions]).toEqual([2])
    const in28 = decoder({ 29: 2 })
    in28.send(group)
    expect([...in28.d.functions].sort()).toEqual([0, 2])
  })
})
