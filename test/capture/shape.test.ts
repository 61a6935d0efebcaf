/**
 * The four clauses of the shape against an independent computation: seeded records are made from a description, and what
 * the standard says of them (S-9.1:2020 B, Tables 2 and 3) is worked out from the description alone.
 */
import { describe, expect, it } from 'vitest'
import { analogAdvice } from '../../src/capture/index.js'
import { isShown } from '../../src/standard/index.js'
import { judgeShape as judge, shapeCampaign } from './shape-campaign.js'

/** More on request: HALFBIT_SEEDS=1000. */
const SEEDS = Number(process.env.HALFBIT_SEEDS ?? 200)

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
  it('a fault is never met and what is right is never broken', () => {
    const wrong: string[] = []
    const rows = shapeCampaign(SEEDS, 1, (seed, says) => wrong.push(`seed ${seed}, ${says}`))
    expect(wrong).toEqual([])
    expect(rows.map((r) => r.wrong)).toEqual([0, 0, 0, 0])
    // Undecided is always safe; but a reader that says nothing else is of no use.
    expect(rows.reduce((sum, r) => sum + r.told, 0)).toBeGreaterThan(2.5 * SEEDS)
  }, 600_000)
})
