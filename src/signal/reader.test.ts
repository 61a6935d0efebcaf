import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { type EdgeClock, EdgeList, HIGH, LOW, OFF } from './edges.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING, SignalEncoder } from './encode.js'
import { readSignal } from './read.js'
import { SignalReader } from './reader.js'

const IDLE = [0xff, 0x00, 0xff]
const RESET = [0, 0, 0]
/** Locomotive 55 forward step 6 of 28: S-9.2:2004 Fig. 1 (printed). */
const LOCO_55 = [0x37, 0x74, 0x43]

function withCheck(bytes: number[]): number[] {
  return [...bytes, bytes.reduce((a, b) => a ^ b, 0)]
}
const packetBytes = fc.array(fc.integer({ min: 0, max: 255 }), { minLength: 2, maxLength: 5 }).map(withCheck)

function flip(edges: EdgeList): EdgeList {
  const out = new EdgeList()
  for (let i = 0; i < edges.count; i++) {
    const level = edges.levels[i]!
    out.add(edges.ticks[i]!, level === OFF ? OFF : 1 - level)
  }
  return out
}

/** The same signal seen by a probe that looks every `us`. */
function sample(edges: EdgeList, us: number, offsetUs = 0): { edges: EdgeList; clock: EdgeClock } {
  const out = new EdgeList()
  for (let i = 0; i < edges.count; i++) {
    out.add(Math.ceil((edges.ticks[i]! / 1000 - offsetUs) / us), edges.levels[i]!)
  }
  return { edges: out, clock: { tickUs: us, resolutionUs: us } }
}

const hexOf = (list: { bytes: Uint8Array }[]) => list.map((p) => Buffer.from(p.bytes).toString('hex'))

describe('the reader', () => {
  it('reads the printed packet with its preamble and times', () => {
    // 5900 us with twelve ones, as drawn in S-9.2:2004 Fig. 1 (58/100 us).
    const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 12 })
    encoder.packet(LOCO_55)
    expect(encoder.timeUs).toBe(5900)
    encoder.ones(2)
    const { reading, packets } = readSignal(encoder.finish(), ENCODER_CLOCK)
    expect(hexOf(packets)).toEqual(['377443'])
    expect(packets[0]).toMatchObject({ valid: true, preamble: 12, timeUs: 12 * 116, endUs: 5900 })
    // The record may begin in the middle of a preamble, so a short first one proves nothing.
    expect(reading.preamble.short).toBe(0)
    expect(reading.one).toMatchObject({ outside: 0 })
    expect(reading.one.minUs).toBeCloseTo(58, 9)
    expect(reading.zero.maxUs).toBeCloseTo(100, 9)
  })

  it('reads back whatever was encoded, in either polarity and in any blocks', () => {
    fc.assert(
      fc.property(
        fc.array(packetBytes, { minLength: 1, maxLength: 12 }),
        fc.record({
          oneHalfUs: fc.double({ min: 52, max: 64, noNaN: true }),
          zeroHalfUs: fc.double({ min: 90, max: 9900, noNaN: true }),
          preamble: fc.integer({ min: 10, max: 30 }),
        }),
        fc.boolean(),
        fc.integer({ min: 1, max: 300 }),
        (list, timing, inverted, size) => {
          const edges = inverted ? flip(encodeSignal(list, timing)) : encodeSignal(list, timing)
          const packets: string[] = []
          const reader = new SignalReader(ENCODER_CLOCK, {
            onPacket: (p) => packets.push(Buffer.from(p.bytes).toString('hex')),
          })
          for (let i = 0; i < edges.count; i += size) {
            const to = Math.min(i + size, edges.count)
            reader.push({
              ticks: edges.ticks.slice(i, to),
              levels: edges.levels.slice(i, to),
              count: to - i,
            })
          }
          const reading = reader.finish(edges.ticks[edges.count - 1]!)
          expect(packets).toEqual(list.map((b) => Buffer.from(b).toString('hex')))
          expect(reading.packets).toMatchObject({ total: list.length, valid: list.length, framing: 0 })
          expect(reading.glitches.count).toBe(0)
        },
      ),
      { numRuns: runs(300) },
    )
  })

  it('resynchronises by the next preamble after any dropped or extra edge, and reports it at most once', () => {
    const list = Array.from({ length: 6 }, (_, i) => withCheck([3 + i, 0x3f, 0x80 + i]))
    const clean = encodeSignal(list)
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: clean.count - 2 }),
        fc.integer({ min: 1, max: 2 }),
        (at, drop) => {
          const broken = new EdgeList()
          for (let i = 0; i < clean.count; i++) {
            if (i < at || i >= at + drop) broken.add(clean.ticks[i]!, clean.levels[i]!)
          }
          // One dropped edge inverts everything after it on a two-level record.
          if (drop === 1) for (let i = at; i < broken.count; i++) broken.levels[i] = 1 - broken.levels[i]!
          const { reading, packets } = readSignal(broken, ENCODER_CLOCK)
          // Edges of one packet only are touched; the others are read.
          expect(packets.filter((p) => p.valid).length).toBeGreaterThanOrEqual(4)
          const { framing, errorByte, length } = reading.packets
          expect(framing + errorByte + length).toBeLessThanOrEqual(1)
          expect(reading.preamble.short).toBe(0)
        },
      ),
      { numRuns: runs(500) },
    )
  })

  it('bridges glitches: they are reported, the packet is still read', () => {
    const clean = encodeSignal([IDLE, LOCO_55, IDLE])
    fc.assert(
      fc.property(
        fc.integer({ min: 2, max: clean.count - 3 }),
        fc.double({ min: 0.2, max: 0.8, noNaN: true }),
        fc.double({ min: 0.05, max: 8, noNaN: true }),
        (at, where, lengthUs) => {
          const dirty = new EdgeList()
          for (let i = 0; i < clean.count; i++) {
            dirty.add(clean.ticks[i]!, clean.levels[i]!)
            if (i !== at) continue
            const middle = clean.ticks[i]! + (clean.ticks[i + 1]! - clean.ticks[i]!) * where
            dirty.add(middle, 1 - clean.levels[i]!)
            dirty.add(middle + lengthUs * 1000, clean.levels[i]!)
          }
          const { reading, packets } = readSignal(dirty, ENCODER_CLOCK)
          expect(hexOf(packets)).toEqual(['ff00ff', '377443', 'ff00ff'])
          expect(reading.glitches.count).toBeGreaterThanOrEqual(1)
          expect(reading.packets.framing).toBe(0)
          expect(reading.one.outside).toBe(0)
          expect(reading.zero.outside).toBe(0)
        },
      ),
      { numRuns: runs(300) },
    )
  })

  it('takes a bouncing edge as one crossing', () => {
    const clean = encodeSignal([IDLE, LOCO_55])
    const bouncing = new EdgeList()
    for (let i = 0; i < clean.count; i++) {
      bouncing.add(clean.ticks[i]!, clean.levels[i]!)
      bouncing.add(clean.ticks[i]! + 300, 1 - clean.levels[i]!)
      bouncing.add(clean.ticks[i]! + 600, clean.levels[i]!)
    }
    const { reading, packets } = readSignal(bouncing, ENCODER_CLOCK)
    expect(hexOf(packets)).toEqual(['ff00ff', '377443'])
    expect(reading.glitches.count).toBeGreaterThan(0)
  })

  it('counts short preambles between packets, with and without the end bit', () => {
    const edges = encodeSignal([IDLE, IDLE, IDLE], { ...NOMINAL_TIMING, preamble: 12 })
    const { reading, packets } = readSignal(edges, ENCODER_CLOCK)
    expect(packets.map((p) => p.preamble)).toEqual([12, 12, 12])
    expect(reading.preamble.short).toBe(2)
    expect(reading.preamble.sent).toMatchObject({ low: 12, high: 12 })
    expect(reading.preamble.allowed).toMatchObject({ low: 13, high: 13 })
  })

  it('accepts stretched zeros up to the limit and counts them', () => {
    const encoder = new SignalEncoder()
    encoder.ones(16)
    for (const byte of RESET) {
      encoder.bit(false, 100, 9800)
      for (let i = 0; i < 8; i++) encoder.bit((byte & (0x80 >> i)) !== 0)
    }
    encoder.bit(true)
    encoder.ones(2)
    const { reading, packets } = readSignal(encoder.finish(), ENCODER_CLOCK)
    expect(hexOf(packets)).toEqual(['000000'])
    expect(reading.zeroTotal).toMatchObject({ stretched: 3, outside: 0 })
    expect(reading.zeroTotal.high).toBeCloseTo(9900, 6)
  })

  it('finds a missed compare: one half of 4154 us inside a one bit', () => {
    const encoder = new SignalEncoder()
    encoder.packet(IDLE)
    encoder.ones(16)
    encoder.bit(false)
    encoder.bit(true, 58, 4154)
    for (let i = 0; i < 7; i++) encoder.bit(true)
    encoder.packet(IDLE)
    encoder.packet(IDLE)
    encoder.ones(2)
    const { reading } = readSignal(encoder.finish(), ENCODER_CLOCK)
    expect(reading.packets).toMatchObject({ valid: 3, framing: 1 })
    expect(reading.findings[0]?.text).toContain('4154 us')
  })

  it('reads through cut-outs and measures them', () => {
    const timing = { ...NOMINAL_TIMING, preamble: 17, cutout: { startUs: 29, endUs: 470 } }
    const { reading, packets } = readSignal(encodeSignal([IDLE, LOCO_55, IDLE], timing), ENCODER_CLOCK)
    expect(hexOf(packets)).toEqual(['ff00ff', '377443', 'ff00ff'])
    expect(reading.cutout.start).toMatchObject({ count: 3 })
    expect(reading.cutout.start.low).toBeCloseTo(29, 6)
    expect(reading.cutout.end.high).toBeCloseTo(470, 6)
    expect(reading.packets.framing).toBe(0)
    expect(reading.glitches.count).toBe(0)
    expect(packets.map((p) => p.preamble)).toEqual([17, 17, 17])
    // 470 us hide five ones of a running bit clock.
    expect(reading.preamble.allowed).toMatchObject({ low: 17, high: 22 })
  })

  it('counts the packets without a cut-out, whether or not the record ends with one', () => {
    const cutouts = (after: readonly boolean[]) => {
      const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 17 })
      for (const cutout of after) {
        encoder.packet(IDLE)
        if (!cutout) continue
        encoder.half(29)
        encoder.silence(441)
      }
      encoder.ones(2)
      return readSignal(encoder.finish(), ENCODER_CLOCK, { cutout: true }).reading.cutout
    }
    expect(cutouts([true, false, true, false, true])).toMatchObject({ chances: 5, seen: 3 })
    // Whether a cut-out was to follow the last packet is not in the record.
    expect(cutouts([true, false, true, false])).toMatchObject({ chances: 3, seen: 2 })
  })

  it.each([HIGH, LOW])('reads cut-outs on a record of one rail that rests at %s', (rest) => {
    const timing = { ...NOMINAL_TIMING, preamble: 17, cutout: { startUs: 29, endUs: 470 } }
    const both = encodeSignal([IDLE, LOCO_55, IDLE], timing)
    const one = new EdgeList()
    for (let i = 0; i < both.count; i++) {
      const level = both.levels[i] === OFF ? rest : both.levels[i]!
      if (one.count === 0 || one.levels[one.count - 1] !== level) one.add(both.ticks[i]!, level)
    }
    const { reading, packets } = readSignal(one, ENCODER_CLOCK, { cutout: true })
    expect(hexOf(packets)).toEqual(['ff00ff', '377443', 'ff00ff'])
    expect(reading.packets.framing).toBe(0)
    expect(reading.glitches.count).toBe(0)
    // The end shows on one rail only if the level happens to change there, so it is never judged.
    expect(reading.cutout.end.count).toBe(0)
    expect(reading.preamble.short).toBe(0)
  })

  it('takes rails that are equal for a moment at each edge as one crossing', () => {
    const clean = encodeSignal([IDLE, LOCO_55])
    const skewed = new EdgeList()
    for (let i = 0; i < clean.count; i++) {
      skewed.add(clean.ticks[i]! - 200, OFF)
      skewed.add(clean.ticks[i]! + 200, clean.levels[i]!)
    }
    const { reading, packets } = readSignal(skewed, ENCODER_CLOCK)
    expect(hexOf(packets)).toEqual(['ff00ff', '377443'])
    expect(reading.one.minUs).toBeCloseTo(58, 6)
    expect(reading.gaps.count).toBe(0)
  })

  it('tells silence inside a packet from silence between packets', () => {
    const encoder = new SignalEncoder()
    encoder.packet(IDLE)
    encoder.silence(50_000)
    encoder.packet(IDLE)
    encoder.ones(16)
    encoder.bit(false)
    encoder.bit(true)
    encoder.silence(50_000)
    encoder.packet(IDLE)
    encoder.ones(2)
    const { reading, packets } = readSignal(encoder.finish(), ENCODER_CLOCK)
    expect(packets.length).toBe(3)
    expect(reading.gaps.count).toBe(2)
    expect(reading.packets.framing).toBe(1)
    expect(reading.packetInterval.outside).toBe(2)
  })

  it('learns a constant shift of one polarity and still reads', () => {
    const clean = encodeSignal(Array.from({ length: 40 }, () => LOCO_55))
    const shifted = new EdgeList()
    // A slow optocoupler: falling edges come 20 us late.
    for (let i = 0; i < clean.count; i++) {
      shifted.add(clean.ticks[i]! + (clean.levels[i] === LOW ? 20_000 : 0), clean.levels[i]!)
    }
    const { reading, packets } = readSignal(shifted, ENCODER_CLOCK)
    expect(packets.length).toBe(40)
    expect(reading.shift.constant).toBe(true)
    expect(reading.shift.highUs).toBeCloseTo(20, 6)
    expect(reading.one.high.meanUs - reading.shift.highUs).toBeCloseTo(58, 6)
  })

  it('does not call a difference constant that ones alone have', () => {
    const encoder = new SignalEncoder()
    for (let i = 0; i < 30; i++) {
      for (let k = 0; k < 16; k++) encoder.bit(true, 60, 56)
      for (let n = 0; n < 3; n++) {
        encoder.bit(false)
        for (let k = 0; k < 8; k++) encoder.bit(n !== 1, ...(n !== 1 ? ([60, 56] as const) : []))
      }
      encoder.bit(true, 60, 56)
    }
    encoder.ones(2)
    const { reading } = readSignal(encoder.finish(), ENCODER_CLOCK)
    expect(reading.packets.valid).toBe(30)
    expect(reading.shift.constant).toBe(false)
    expect(reading.oneDifference.outside).toBeGreaterThan(0)
  })

  it('counts differences between the halves of ones, of either sign and as large as they come', () => {
    const encoder = new SignalEncoder()
    const ones = [[58, 58], [58.5, 57.5], [57, 59], [60, 56]] as const // biome-ignore format: one line
    for (let i = 0; i < 40; i++) {
      for (let k = 0; k < 16; k++) encoder.bit(true, ...ones[k % 4]!)
      for (let n = 0; n < 3; n++) {
        encoder.bit(false)
        for (let k = 0; k < 8; k++) encoder.bit(false)
      }
      encoder.bit(true, 58, 58)
    }
    encoder.ones(2)
    for (const plainly of [false, true]) {
      const { reading } = readSignal(encoder.finish(), ENCODER_CLOCK, { plainly })
      const { histogram, count } = reading.oneDifference
      const found = new Map(
        histogram.counts.flatMap((n, i) => (n > 0 ? [[histogram.firstUs + i * histogram.binUs, n]] : [])),
      )
      expect([...found.keys()]).toEqual([-2, 0, 1, 4])
      expect([...found.values()].reduce((a, b) => a + b, 0)).toBe(count)
      expect(found.get(-2)).toBe(found.get(4))
    }
  })

  it.each([0.125, 0.25, 1, 4])('reads a record sampled every %s us', (us) => {
    const list = Array.from({ length: 20 }, (_, i) => withCheck([i, 0x60 + i]))
    const { edges, clock } = sample(encodeSignal(list), us, 0.37)
    const { reading, packets } = readSignal(edges, clock)
    expect(packets.length).toBe(20)
    expect(reading.packets.valid).toBe(20)
    expect(reading.one.outside).toBe(0)
  })

  // S-9.2:2004 note 11 binds stations for 112 to 127 alone (confirmed); elsewhere a decoder may need the time (C).
  it.each([
    [115, 'sameAddressGap'],
    [55, 'otherAddressGap'],
  ] as const)('measures gaps to address %s and between packets', (address, which) => {
    const encoder = new SignalEncoder()
    const loco = [address, 0x74, address ^ 0x74]
    encoder.packet(loco)
    const end = encoder.timeUs
    encoder.packet(loco)
    encoder.packet(IDLE)
    encoder.packet(loco)
    encoder.ones(2)
    const { reading } = readSignal(encoder.finish(), ENCODER_CLOCK)
    // Sixteen ones lie between the first two.
    expect(reading[which].low).toBeCloseTo(16 * 116, 6)
    expect(reading.sameAddressGap.outside).toBe(address === 115 ? 1 : 0)
    expect(reading.otherAddressGap.short).toBe(address === 115 ? 0 : 1)
    expect(reading.packetInterval.high).toBeCloseTo(end, 0)
    expect(reading.addresses).toMatchObject([{ addressee: address, count: 3 }])
  })

  it('survives any edges at all', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(
            fc.oneof(fc.double({ min: 0, max: 3e5, noNaN: true }), fc.constantFrom(58e3, 100e3)),
            fc.integer({ min: 0, max: 2 }),
          ),
          { maxLength: 2000 },
        ),
        (steps) => {
          const edges = new EdgeList()
          let tick = 0
          for (const [step, level] of steps) edges.add((tick += step), level)
          const { reading } = readSignal(edges, ENCODER_CLOCK)
          expect(reading.packets.valid).toBeLessThanOrEqual(reading.packets.total)
        },
      ),
      { numRuns: runs(300) },
    )
  })

  it('refuses time that goes backwards', () => {
    const edges = new EdgeList()
    for (let i = 0; i < 20; i++) edges.add(i === 10 ? 3 : i * 58_000, i % 2)
    expect(() => readSignal(edges, ENCODER_CLOCK)).toThrow(/backwards/)
  })
})
