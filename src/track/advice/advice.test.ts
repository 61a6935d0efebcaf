import { describe, expect, it } from 'vitest'
import { sourceOf, stockOf, trackOf } from '../../../test/track/fill.js'
import { modelTrack, type TrackInput } from '../model.js'
import type { DistrictSource } from '../network/network.js'
import { adviseTrack, LEAST } from './advice.js'

function advise(bus: object, feeders: object, own: { amp?: string; source?: Partial<DistrictSource> } = {}) {
  const input: TrackInput = {
    track: trackOf({
      bus: { bus },
      sections: { line: { count: 4, length: '250 mm', rail: 250, joiner: 'soldered', feeders } },
    }),
    rollingStock: stockOf({ train: { running: own.amp ?? '0.5 A', section: 'line.4' } }),
    sources: new Map([['main', sourceOf(15, own.source)]]),
  }
  return adviseTrack(modelTrack(input), input)
}
const SHORT = { wire: '4 mm2', length: '100 mm' }
const LONG = { wire: '1.5 mm2', length: '20 m' }
const NEAR = { wire: '1.5 mm2', length: '50 mm', at: '100 mm' }

describe('proposals', () => {
  it('leave out what nobody would notice', () => {
    // 100 mm of 4 mm2 at half an ampere lose about half a millivolt.
    const { now, list } = advise(SHORT, NEAR, { amp: '0.1 A', source: { tripAmp: 1, limitAmp: 2 } })
    expect(now.worstVolt).toBeGreaterThan(14.8)
    for (const a of list) expect(Math.max(a.gainVolt, a.gainShare)).toBeGreaterThanOrEqual(LEAST.volt)
    expect(list.filter((a) => a.kind === 'thicker bus' && a.gainVolt < 1e-3 && a.gainShare < 1e-3)).toEqual(
      [],
    )
  })

  it('name a thicker bus where its wire loses most, with what that gives', () => {
    const { now, list } = advise(LONG, { ...NEAR, at: '20 m' })
    const bus = list.filter((a) => a.kind === 'thicker bus')
    expect(bus.map((a) => a.what)).toEqual(
      expect.arrayContaining([
        'Lay bus run "bus" in 2.5 mm2 instead of 1.5 mm2.',
        'Lay bus run "bus" in 4 mm2 instead of 1.5 mm2.',
      ]),
    )
    for (const a of bus) {
      expect(a.gainVolt).toBeGreaterThan(LEAST.volt)
      expect(a.after.worstVolt - now.worstVolt).toBeCloseTo(a.gainVolt, 12)
      expect(a.wireM).toBe(40)
    }
    // What the bus loses less is in proportion to its resistance: 13.3, 7.98 and 4.95 mOhm/m (IEC 60228, class 5).
    const [thin, thick] = [bus.find((a) => /2\.5/.test(a.what))!, bus.find((a) => / 4 /.test(a.what))!]
    expect(thin.gainVolt / thick.gainVolt).toBeCloseTo((13.3 - 7.98) / (13.3 - 4.95), 2)
  })

  it('are in the order of their worth, each once', () => {
    const { list } = advise(LONG, { ...NEAR, at: '20 m' })
    expect(list.length).toBeGreaterThan(1)
    for (let i = 1; i < list.length; i++) expect(list[i - 1]!.worth).toBeGreaterThanOrEqual(list[i]!.worth)
    expect(new Set(list.map((a) => a.what)).size).toBe(list.length)
  })

  it('cut an overloaded district in two, though no volt is gained', () => {
    const input: TrackInput = {
      track: trackOf({
        bus: { bus: SHORT },
        sections: { line: { count: 4, length: '250 mm', rail: 250, joiner: 'soldered', feeders: NEAR } },
      }),
      rollingStock: stockOf({
        a: { running: '2 A', section: 'line.1' },
        b: { running: '2 A', section: 'line.4' },
      }),
      sources: new Map([['main', sourceOf(15, { tripAmp: 3 })]]),
    }
    const { now, list } = adviseTrack(modelTrack(input), input)
    expect(now.overloadAmp).toBeCloseTo(1, 2)
    const cut = list.find((a) => a.kind === 'another district')!
    expect(cut.after.overloadAmp).toBe(0)
    expect(cut.what).toMatch(/^Make \d sections? of district "main"/)
    expect(cut.parts).toMatch(/1 pair of gaps/)
  })
})
