import { describe, expect, it } from 'vitest'
import { sourceOf, trackOf } from '../../test/track/fill.js'
import { calculateTrack } from './calculate.js'
import type { DistrictSource } from './network/network.js'

/** One section behind a bus whose shorts draw some 5 to 9 A. */
function shortTrip(own: Partial<DistrictSource>, limits: object = {}) {
  const report = calculateTrack(
    {
      track: trackOf({
        bus: { bus: { wire: '20 AWG', length: '10 m' } },
        sections: { only: { length: '4 m', feeders: {} } },
        limits,
      }),
      sources: new Map([['main', sourceOf(15, own)]]),
    },
    { ringing: false, faults: false },
  )
  const evidence = report.evidence.find((e) => e.clause === 'short-trip')!
  return { ...evidence, section: report.sections[0]! }
}

/** Trips after 20 ms from this current on. */
const trips = (tripAmp: number, ms = 20) => ({
  tripAmp,
  tripTimeUs: (amp: number) => (amp > tripAmp ? ms * 1000 : Number.POSITIVE_INFINITY),
})

describe('a short that must trip', () => {
  const { shortAmp } = shortTrip(trips(1)).section

  it('draws less in the unfavourable case than in the favourable one', () => {
    expect(shortAmp.high).toBeGreaterThan(1.1 * shortAmp.low)
  })

  it('is met where it trips in both', () => {
    expect(shortTrip(trips(0.9 * shortAmp.low))).toMatchObject({ verdict: 'met', value: { high: 20_000 } })
  })

  it('is undecided where only the favourable case trips', () => {
    const between = shortTrip(trips((shortAmp.low + shortAmp.high) / 2))
    expect(between.verdict).toBe('undecided')
    expect(between.because).toMatch(
      /in the unfavourable case and never trips; in the favourable one every short is off after 20 ms/,
    )
    expect(between.section).toMatchObject({ tripUs: null, tripBestUs: 20_000 })
    expect(between.value.low).toBe(20_000)
  })

  it('is broken where neither trips', () => {
    const never = shortTrip(trips(1.1 * shortAmp.high))
    expect(never.verdict).toBe('broken')
    expect(never.because).toMatch(/never trips\.$/)
    expect(never.section.tripBestUs).toBeNull()
  })

  it('is broken where it takes too long, or a conductor gets too hot meanwhile', () => {
    expect(shortTrip(trips(1, 600)).verdict).toBe('broken')
    expect(shortTrip(trips(1, 400), { rise: 1 }).verdict).toBe('broken')
    expect(shortTrip(trips(1, 400)).verdict).toBe('met')
  })
})
