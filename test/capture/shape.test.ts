/**
 * The four clauses of the shape against an independent computation: seeded records are made from a description, and what
 * the standard says of them (S-9.1:2020 B, Tables 2 and 3) is worked out from the description alone.
 */
import { describe, expect, it } from 'vitest'
import { type AnalogReading, AnalogTracker, analogAdvice, judgeAnalog } from '../../src/capture/index.js'
import { isShown, profileOf, type Statement } from '../../src/standard/index.js'
import { type Shape, shapeRecord } from './shape-record.js'

/** More on request: HALFBIT_SEEDS=1000. */
const SEEDS = Number(process.env.HALFBIT_SEEDS ?? 200)
const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

function judge(
  shape: Shape,
  settings: { subtracted?: boolean } = {},
): {
  reading: AnalogReading
  list: Statement[]
  verdicts: Record<string, string>
  says: Record<string, string>
} {
  const { sampleUs, volts } = shapeRecord(shape)
  const tracker = new AnalogTracker(sampleUs, { begin: () => {}, change: () => {} }, settings)
  for (let i = 0; i < volts.length; i++) tracker.add(i, volts[i]!)
  const reading = tracker.finish()
  const list = judgeAnalog(reading, PROFILE, { source: 'test', probe: 'rails' })
  return {
    reading,
    list,
    verdicts: Object.fromEntries(list.map((s) => [s.clause, s.verdict])),
    says: Object.fromEntries(list.map((s) => [s.clause, s.because])),
  }
}

describe('a dip', () => {
  // S-9.1:2020 Table 3: at least 8.5 V at the station output.
  it.each([7, 5.5, 4, 2])('to %s V for 0.8 ms breaks the minimum', (clip) => {
    const { verdicts, reading } = judge({ clip: { fromUs: 30_000, toUs: 30_800, volt: clip } })
    expect(verdicts['track-voltage-min']).toBe('broken')
    expect(reading.weakestVolt).toBeCloseTo(clip, 0)
    expect(verdicts['edge-rate']).toBe('met')
  })

  it('of one half-bit only breaks it too', () => {
    const { verdicts, reading } = judge({ clip: { fromUs: 30_000, toUs: 30_060, volt: 5 } })
    expect(verdicts['track-voltage-min']).toBe('broken')
    expect(reading.weakestAtUs).toBeGreaterThan(29_900)
    expect(reading.weakestAtUs).toBeLessThan(30_100)
  })

  it('by a load of 20 kHz from 15 to 8 V is seen, and nothing disappears', () => {
    const { list, verdicts, reading } = judge({ ripple: { volt: 7, hz: 20_000 } })
    expect(list.every(isShown)).toBe(true)
    expect(reading.weakestVolt).toBeLessThan(8.7)
    expect(verdicts['track-voltage-min']).not.toBe('met')
  })
})

describe('an uneven output about zero', () => {
  it.each([
    [15, -8, 'broken'],
    [15, -4, 'broken'],
    [15, -10, 'met'],
    [10, -15, 'met'],
    [7.9, -15, 'broken'],
  ] as const)(
    '%s and %s V: the minimum is %s, whether subtracted or from one channel',
    (high, low, verdict) => {
      for (const subtracted of [true, false]) {
        const { list, verdicts, says, reading } = judge({ high, low }, { subtracted })
        expect(list.every(isShown)).toBe(true)
        expect(verdicts['track-voltage-min']).toBe(verdict)
        expect(says['track-voltage-min']).toMatch(
          subtracted ? /zero of the difference of both channels/ : /from 0 V of the channel/,
        )
        expect(analogAdvice(reading, 'rails').map((f) => f.code)).toEqual(
          subtracted ? [] : ['capture/reference-zero'],
        )
      }
    },
  )

  it('one rail against the ground is another case, and said to be', () => {
    const { list } = judge({ high: 15, low: 0.1 })
    expect(new Set(list.map((s) => s.finding?.code))).toEqual(new Set(['capture/one-rail']))
    // The difference of two channels has its own zero, even where one polarity is nearly missing.
    expect(judge({ high: 15, low: -0.4 }, { subtracted: true }).verdicts['track-voltage-min']).not.toBe('met')
  })
})

describe('noise', () => {
  it('does not break a slope that all edges together prove', () => {
    const { verdicts, says } = judge({ slope: 2.5, noise: 0.2, sampleUs: 0.1, packets: 12 })
    expect(verdicts['edge-rate']).toBe('met')
    expect(says['edge-rate']).toMatch(/all of one direction together decide/)
  })

  it('does not hide a slope that all edges together disprove', () => {
    const { verdicts, says } = judge({ slope: 2.3, noise: 0.2, sampleUs: 0.1, packets: 12 })
    expect(verdicts['edge-rate']).toBe('broken')
    expect(says['edge-rate']).toMatch(/all of one direction together decide/)
  })

  it('does not lift a plateau: the plateau counts, not the peak', () => {
    const { verdicts, says } = judge({ high: 7.5, low: -7.5, noise: 0.5, sampleUs: 1 })
    expect(verdicts['track-voltage-min']).toBe('broken')
    expect(says['track-voltage-min']).toMatch(/the plateau counts, not the peak: derived/)
    const ringing = judge({ high: 5, low: -5, ring: { volt: 6.5, us: 3 }, sampleUs: 0.2 })
    expect(ringing.reading.maxVolt).toBeGreaterThan(8.5)
    expect(ringing.verdicts['track-voltage-min']).toBe('broken')
  })

  it('is not taken for distortion, however slow the edge', () => {
    const { verdicts } = judge({ slope: 3, noise: 0.15, sampleUs: 0.05, packets: 10 })
    expect(verdicts['crossing-distortion']).toBe('met')
  })
})

describe('one slow direction', () => {
  it('is not lost in the mean of both', () => {
    const { verdicts } = judge({ slope: 30, fallingSlope: 2.2, sampleUs: 0.2 })
    expect(verdicts['edge-rate']).toBe('broken')
  })
})

it('a swing too small for rails brings a hint at the probe', () => {
  const { reading } = judge({ high: 1.5, low: -1.5, slope: 1 })
  expect(analogAdvice(reading, 'rails').map((f) => f.code)).toContain('capture/small-swing')
})

describe('seeded records', () => {
  /** What the description says; `undefined` too near to a limit for a record with noise to tell. */
  const expected = (
    shape: Required<Pick<Shape, 'high' | 'low' | 'slope' | 'noise' | 'sampleUs'>> & Shape,
  ) => {
    const near = 4 * shape.noise + 0.05
    const plateau = Math.min(shape.high, -shape.low)
    const peak = Math.max(shape.high, -shape.low) + (shape.ring ? 0.9 * shape.ring.volt : 0)
    return {
      'edge-rate': side(shape.slope, 2.4, (shape.slope * near) / 8),
      'track-voltage-min': side(plateau, 8.5, 0.15 + shape.noise),
      'track-voltage-max': side(-peak, -22, 0.15 + 1.5 * (shape.ring?.volt ?? 0) + 6 * shape.noise),
      'crossing-distortion': shape.dip === undefined ? 'met' : shape.dip < 2 - near ? 'broken' : undefined,
    }
  }
  const side = (value: number, limit: number, near: number) =>
    Math.abs(value - limit) < near ? undefined : value > limit ? 'met' : 'broken'

  it('a fault is never met and what is right is never broken', () => {
    let told = 0
    for (let seed = 1; seed <= SEEDS; seed++) {
      const shape = seededShape(seed)
      const { verdicts, says } = judge(shape, { subtracted: true })
      for (const [clause, wanted] of Object.entries(expected(shape))) {
        if (wanted === undefined) continue
        const opposite = wanted === 'met' ? 'broken' : 'met'
        expect(
          verdicts[clause],
          `seed ${seed}, ${clause}: ${says[clause]} ${JSON.stringify(shape)}`,
        ).not.toBe(opposite)
        if (verdicts[clause] === wanted) told++
      }
    }
    // Undecided is always safe; but a reader that says nothing else is of no use.
    expect(told).toBeGreaterThan(2.5 * SEEDS)
  }, 600_000)
})

/** Invented: an output at the rails with some fault or none. */
function seededShape(seed: number) {
  let state = (seed * 2654435761) >>> 0
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  for (let i = 0; i < 3; i++) random()
  const between = (low: number, high: number) => low + random() * (high - low)
  const high = random() < 0.3 ? between(6, 8.4) : between(8.6, 23)
  const low = -(random() < 0.5 ? high : random() < 0.3 ? between(6, 8.4) : between(8.6, 23))
  return {
    high,
    low,
    slope: random() < 0.4 ? between(1.6, 3.2) : between(3, 40),
    noise: random() < 0.4 ? 0 : between(0.01, 0.3),
    sampleUs: [0.1, 0.2, 0.25, 0.5][Math.floor(random() * 4)]!,
    ...(random() < 0.2 ? { ring: { volt: between(0.5, 3), us: between(1, 3) } } : {}),
    ...(random() < 0.2 ? { dip: between(-3, 5) } : {}),
    stepVolt: random() < 0.5 ? 0 : 0.05,
    seed,
    packets: 3,
  }
}
