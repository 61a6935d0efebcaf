import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { EdgeList, encodeSignal, GAP, HIGH, OFF, SignalReader } from '../../signal/index.js'
import { type Evidence, isShown, profileOf } from '../../standard/index.js'
import {
  ANALOG_CLAUSES,
  type AnalogReading,
  type AnalogSettings,
  AnalogTracker,
  judgeAnalog,
} from './index.js'

const PACKETS = Array.from({ length: 5 }, (_, i) => [3 + i, 0x3f, i * 9, (3 + i) ^ 0x3f ^ (i * 9)])
const SIGNAL = encodeSignal(PACKETS)
const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

interface Shape {
  volt?: number
  /** Slope of the edges, V/us. */
  slope?: number
  sampleUs?: number
  /** Added to the voltage `since` us after an edge; +1 when the edge rises. */
  ring?: (since: number, side: number) => number
  noise?: number
  /** Volts added to all. */
  offset?: number
  /** Silence in front, us. */
  quietUs?: number
  /** `volt` (0) from one time to the other, us. */
  off?: { from: number; to: number; volt?: number }
}

/** A trapezoid around the edges of SIGNAL: the crossing of the middle is at the edge. */
function samples(shape: Shape): { t: number; v: number }[] {
  const {
    volt = 15,
    slope = 10,
    sampleUs = 0.25,
    ring = () => 0,
    noise = 0,
    offset = 0,
    quietUs = 0,
    off,
  } = shape
  let seed = 7
  const random = () => {
    seed = (Math.imul(seed, 1103515245) + 12345) >>> 0
    return seed / 2 ** 31 - 1
  }
  const list: { t: number; v: number }[] = []
  for (let t = 0; t < quietUs; t += sampleUs) list.push({ t, v: offset + noise * random() })
  const end = SIGNAL.ticks[SIGNAL.count - 1]! / 1000
  let next = 0
  for (let k = 0; k * sampleUs < end; k++) {
    const t = k * sampleUs + 0.037
    while (next < SIGNAL.count && SIGNAL.ticks[next]! / 1000 <= t) next++
    // The nearest edge on either side shapes the sample.
    const shaped = (i: number) => {
      const since = t - SIGNAL.ticks[i]! / 1000
      const side = SIGNAL.levels[i] === HIGH ? 1 : -1
      return { since, side, v: Math.max(-volt, Math.min(volt, side * slope * since)) }
    }
    const before = next > 0 ? shaped(next - 1) : { since: 99, side: -1, v: -volt }
    const after = next < SIGNAL.count ? shaped(next) : before
    let v = Math.abs(before.v) < volt && before.since < volt / slope ? before.v : -after.side * volt
    if (after.since > -volt / slope) v = after.v
    v += ring(before.since, before.side)
    if (off && t > off.from && t < off.to) v = off.volt ?? 0
    list.push({ t: t + quietUs, v: v + offset + noise * random() })
  }
  return list
}

function read(shape: Shape): {
  edges: EdgeList
  reading: AnalogReading
  share: number
  packets: number
  evidence: Record<string, Evidence>
} {
  const edges = new EdgeList()
  let share = Number.NaN
  const tracker = new AnalogTracker(0.001, {
    begin: (start) => {
      share = start.share
    },
    change: (tick, level) => edges.add(tick, level),
  })
  for (const { t, v } of samples(shape)) tracker.add(t * 1000, v)
  const reading = tracker.finish()
  const reader = new SignalReader({ tickUs: 0.001, resolutionUs: (shape.sampleUs ?? 0.25) * share })
  reader.push(edges)
  const list = judgeAnalog(reading, PROFILE, { source: 'test', probe: 'rails' })
  return {
    edges,
    reading,
    share,
    packets: reader.finish(edges.ticks[edges.count - 1]!).packets.valid,
    evidence: Object.fromEntries(list.filter(isShown).map((e) => [e.clause, e])),
  }
}

describe('stated levels', () => {
  const at = (settings: AnalogSettings, shape: Shape = {}) => {
    const edges = new EdgeList()
    const seen: number[] = []
    const tracker = new AnalogTracker(
      0.001,
      { begin: () => {}, change: (t, l) => edges.add(t, l) },
      { ...settings, onSample: (_, v) => void seen.push(v) },
    )
    const list = samples(shape)
    for (const { t, v } of list) tracker.add(t * 1000, v)
    expect(seen).toHaveLength(list.length)
    return { edges, reading: tracker.finish() }
  }

  it('move the edges by as much as the signal takes to get there', () => {
    const found = at({})
    const moved = at({ thresholdVolt: 5, hysteresisVolt: 2 })
    expect(moved.reading.upVolt).toBe(7)
    expect(moved.reading.downVolt).toBe(3)
    // Between the ends of the record, where the signal comes from nowhere.
    const inner = ({ edges }: { edges: EdgeList }) =>
      Array.from({ length: edges.count }, (_, i) => [edges.ticks[i]!, edges.levels[i]!] as const).filter(
        ([t]) => t > 1e6 && t < 25e6,
      )
    const after = inner(moved)
    // 5 V at 10 V/us are half a microsecond, later on the way up and earlier on the way down.
    const shifts = inner(found).map(([t, level], i) => (level === HIGH ? 1 : -1) * (after[i]![0] - t))
    expect(shifts.length).toBeGreaterThan(200)
    expect(Math.min(...shifts)).toBeGreaterThan(475)
    expect(Math.max(...shifts)).toBeLessThan(525)
  })

  it('leave slope and crossings where they are judged: at zero', () => {
    const { reading } = at({ thresholdVolt: 5, hysteresisVolt: 2 })
    expect(reading.slope!.rising.slowest).toBeCloseTo(at({}).reading.slope!.rising.slowest, 6)
    const list = judgeAnalog(reading, PROFILE, { source: 'test', probe: 'rails' })
    expect(list.map((e) => [e.clause, e.verdict])).toEqual([
      ['edge-rate', 'met'],
      ['crossing-distortion', 'met'],
      ['track-voltage-max', 'met'],
      ['track-voltage-min', 'met'],
    ])
  })
})

describe('analog samples', () => {
  it('cross where the signal crosses, better than the samples are spaced', () => {
    const { edges, packets, share } = read({})
    expect(packets).toBe(PACKETS.length)
    expect(share).toBe(0.1)
    for (let i = 2; i < edges.count; i++) {
      const wanted = SIGNAL.ticks[i]! - SIGNAL.ticks[i - 1]!
      expect(Math.abs(edges.ticks[i]! - edges.ticks[i - 1]! - wanted)).toBeLessThan(25)
    }
  })

  it.each<[string, Shape]>([
    ['with noise', { noise: 1.5 }],
    ['after a long silence', { quietUs: 40_000, noise: 0.1 }],
    ['at a low voltage', { volt: 5 }],
    ['on one rail, from 0 to 15 V', { volt: 7.5, offset: 7.5 }],
    ['on a logic pin', { volt: 1.65, offset: 1.65, slope: 50 }],
    ['ringing', { ring: (t, s) => (t > 1.6 && t < 12 ? -s * 4 * Math.exp(-t / 3) * Math.sin(t * 3) : 0) }],
    ['sampled at 200 kS/s', { sampleUs: 5 }],
  ])('are read %s', (_, shape) => {
    expect(read(shape).packets).toBe(PACKETS.length)
  })

  it('measure slope, voltage and crossings', () => {
    const { reading, evidence } = read({ slope: 3, volt: 14 })
    expect(reading.slope?.falling.slowest).toBeCloseTo(3, 2)
    expect(reading.highVolt).toBeCloseTo(14, 1)
    expect(reading.lowVolt).toBeCloseTo(-14, 1)
    expect(evidence['edge-rate']?.verdict).toBe('met')
    expect(evidence['crossing-distortion']?.value.high).toBe(0)
    expect(evidence['track-voltage-max']?.value.high).toBeCloseTo(14, 3)
    expect(evidence['track-voltage-min']?.value.low).toBeCloseTo(14, 3)
  })

  // S-9.1:2020 Table 2: at least 2.4 V/us sent, 2 V/us received.
  it.each([
    [2.5, 'met', undefined],
    [2.3, 'broken', /should still read/],
    [1.5, 'broken', /need not read/],
  ] as const)('a slope of %s V/us is %s', (slope, verdict, says) => {
    const { evidence } = read({ slope })
    expect(evidence['edge-rate']?.verdict).toBe(verdict)
    if (says) expect(evidence['edge-rate']?.because).toMatch(says)
  })

  it('cannot tell the slope from samples that lie outside the edges', () => {
    const { evidence, share } = read({ slope: 60, sampleUs: 5 })
    expect(share).toBe(1)
    expect(evidence['edge-rate']?.verdict).toBe('undecided')
    expect(evidence['edge-rate']?.because).toMatch(/S\/s would decide/)
    expect(evidence['crossing-distortion']?.verdict).toBe('undecided')
  })

  it('knows a slope that is fast enough, however coarse, when one sample interval proves it', () => {
    const { evidence } = read({ slope: 200, sampleUs: 1 })
    expect(evidence['edge-rate']?.verdict).toBe('met')
    expect(evidence['edge-rate']?.because).toMatch(/at least/)
  })

  // S-9.1:2020 B: non-monotonic distortion within 2 V.
  // Derived: what has left the band must not enter it again before the next half-bit; a reversal in it is allowed.
  it.each([
    ['to 1.6 V, back to -1.4 V and on', 1.6, -1.4, 'met'],
    ['to 3.5 V, back to -1 V and on', 3.5, -1, 'broken'],
    ['to 3.5 V, back to 1 V and on', 3.5, 1, 'broken'],
    ['to 14 V, back to 0.2 V and on', 14, 0.2, 'broken'],
    ['to 14 V, back to -3 V and on', 14, -3, 'broken'],
    ['to 14 V, back to 4 V and on', 14, 4, 'met'],
  ] as const)('a signal that goes %s is distorted: %s %s %s', (_, out, back, verdict) => {
    // The signal climbs at 10 V/us, is held at `out`, then for 0.8 us at `back`.
    const held = (t: number) => (t < 0 ? undefined : t < out / 10 + 0.5 ? Math.min(10 * t, out) : back)
    const ring = (t: number, side: number) => {
      const wanted = t < out / 10 + 1.3 ? held(t) : undefined
      return wanted === undefined ? 0 : side * (wanted - Math.min(15, 10 * t))
    }
    const { evidence, packets } = read({ ring, sampleUs: 0.1 })
    expect(packets).toBe(PACKETS.length)
    expect(evidence['crossing-distortion']?.verdict).toBe(verdict)
    if (verdict === 'broken') expect(evidence['crossing-distortion']?.value.high).toBeCloseTo(out, 0)
  })

  // S-9.1:2020 Table 3: 8.5 to 22 V.
  it.each([
    [21, 'met', 'met'],
    [23, 'broken', 'met'],
    [8, 'met', 'broken'],
  ] as const)('%s V: highest %s, lowest %s', (volt, highest, lowest) => {
    const { evidence } = read({ volt })
    expect(evidence['track-voltage-max']?.verdict).toBe(highest)
    expect(evidence['track-voltage-min']?.verdict).toBe(lowest)
  })

  it('sees a spike in the peak and a cut-out as off, not as a slow edge', () => {
    const { evidence, edges, reading } = read({ off: { from: 3000, to: 3450 } })
    expect([...edges.levels.subarray(0, edges.count)].filter((l) => l === OFF)).toHaveLength(1)
    expect(evidence['edge-rate']?.verdict).toBe('met')
    expect(reading.crossing.worstVolt).toBe(0)
    const spike = read({ ring: (t, s) => (t > 2 && t < 2.6 ? s * 9 : 0) })
    expect(spike.evidence['track-voltage-max']?.value.high).toBeCloseTo(24, 3)
    expect(spike.evidence['track-voltage-max']?.verdict).toBe('broken')
  })

  // A diode in the path of a detector leaves 0.7 V while decoders answer; probes are some percent off zero.
  it.each([-1.5, -0.7, 0.7, 1.5])('takes rails that differ by %s V in a cut-out for joined', (volt) => {
    const { edges, evidence, reading } = read({ volt: 14, off: { from: 3000, to: 3450, volt } })
    expect([...edges.levels.subarray(0, edges.count)].filter((l) => l === OFF)).toHaveLength(1)
    expect(evidence['track-voltage-min']?.verdict).toBe('met')
    expect(reading.crossing.worstVolt).toBe(0)
  })

  it.each([-3, 3])('does not take %s V for rails that are joined', (volt) => {
    const { edges } = read({ volt: 14, off: { from: 3000, to: 3450, volt } })
    expect([...edges.levels.subarray(0, edges.count)]).not.toContain(OFF)
  })

  it('judges the RMS where the edition asks for it', () => {
    const { reading } = read({ volt: 15 })
    const rcn = profileOf({ profile: 'rcn', edition: '2013', scale: 'H0', cutout: false })
    const list = judgeAnalog(reading, rcn, { source: 'test', probe: 'rails' })
    const rms = list.filter((e) => e.clause === 'track-voltage-max').map((e) => e.verdict)
    // NEM 670:2013 4.2a with NEM 630:1982: 14 V at H0; the RMS of a square wave is its peak.
    expect(rms).toEqual(['met', 'broken'])
  })

  it('says of each clause why one rail, a logic pin or bare counts do not show it', () => {
    const { reading } = read({ volt: 7.5, offset: 7.5 })
    const differential = read({}).reading
    for (const [code, list] of [
      ['capture/one-rail', judgeAnalog(reading, PROFILE, { source: 'test', probe: 'rails' })],
      ['capture/logic-probe', judgeAnalog(differential, PROFILE, { source: 'test', probe: 'logic' })],
      ['capture/no-volts', judgeAnalog(undefined, PROFILE, { source: 'test', probe: 'rails' }, 'counts')],
    ] as const) {
      expect(list.map((s) => [s.clause, s.verdict, s.finding?.code])).toEqual(
        ANALOG_CLAUSES.map((clause) => [clause, 'not shown', code]),
      )
    }
  })

  it('finds no signal in noise, and takes a gap in the record for one', () => {
    const none = new EdgeList()
    const events = { begin: () => {}, change: (t: number, l: number) => none.add(t, l) }
    const tracker = new AnalogTracker(1, events)
    for (let i = 0; i < 100_000; i++) tracker.add(i, Math.sin(i * i) * 2)
    tracker.finish()
    expect(none.count).toBe(0)

    const edges = new EdgeList()
    const gap = new AnalogTracker(1, { begin: () => {}, change: (t, l) => edges.add(t, l) })
    for (let i = 0; i < 40_000; i++) gap.add(i < 20_000 ? i : i + 5000, Math.floor(i / 58) % 2 ? 15 : -15)
    gap.finish()
    const levels = [...edges.levels.subarray(0, edges.count)]
    expect(levels.filter((l) => l === GAP)).toHaveLength(1)
    expect(levels).not.toContain(OFF)
  })

  it('never goes back in time and never repeats a level, whatever the samples', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 400 }), fc.double({ min: -30, max: 30, noNaN: true })), {
          maxLength: 400,
        }),
        (steps) => {
          let last = Number.NEGATIVE_INFINITY
          let level = -1
          const tracker = new AnalogTracker(1, {
            begin: () => {},
            change: (t, l) => {
              expect(t).toBeGreaterThanOrEqual(last)
              expect(l).not.toBe(level)
              last = t
              level = l
            },
          })
          let tick = 0
          for (const [step, volt] of steps) tracker.add((tick += step), volt)
          const reading = tracker.finish()
          expect(Number.isFinite(reading.rmsVolt)).toBe(true)
        },
      ),
      { numRuns: runs(500) },
    )
  })
})
