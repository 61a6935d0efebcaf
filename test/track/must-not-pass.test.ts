/** Railroads that would hurt something, or not work: none of them may be called met. All invented. */
import { describe, expect, it } from 'vitest'
import { type ClauseId, profileOf } from '../../src/standard/index.js'
import { calculateTrack, type DistrictSource, type TrackInput } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const profile = profileOf({ profile: 'nmra', edition: '2020', scale: 'H0', cutout: false })

function reportOf(
  track: object,
  stock: object = {},
  sources: Record<string, Partial<DistrictSource> & { volt?: number }> = { main: {} },
) {
  const input: TrackInput = {
    track: trackOf(track),
    rollingStock: stockOf(stock),
    sources: new Map(
      Object.entries(sources).map(([name, { volt = 15, ...own }]) => [name, sourceOf(volt, own)]),
    ),
    profile,
  }
  return calculateTrack(input)
}

type Report = ReturnType<typeof reportOf>

function about({ evidence }: Report, clause: ClauseId, district?: string) {
  const found = evidence.find((e) => e.clause === clause && (!district || e.about === district))
  if (!found) throw new Error(`no evidence for ${clause}`)
  return found
}

describe('a reversed stretch', () => {
  /** A balloon loop of 3 m behind a reverser that acts in good time. */
  const loop = (trainMm: number) =>
    reportOf(
      {
        bus: {
          bus: { wire: '2.5 mm2', length: '2 m' },
          turn: { from: 'bus', wire: '2.5 mm2', length: '1 m', reverser: { trip: '2 A', time: '5 ms' } },
        },
        sections: {
          stem: { length: '2 m', to: 'T.points', feeders: { bus: 'bus' } },
          loop: {
            count: 3,
            length: '1 m',
            from: 'T.straight',
            to: 'T.diverging',
            gaps: 'both',
            feeders: { bus: 'turn' },
          },
        },
        turnouts: { T: {} },
      },
      { express: { running: '0.4 A', stall: '0.8 A', length: `${trainMm} mm` } },
    )

  it('must be longer than the longest train, for a train on both gaps is a short whichever way it turns', () => {
    const evidence = about(loop(3200), 'polarity')
    expect(evidence.verdict).toBe('broken')
    expect(evidence.finding).toMatchObject({
      code: 'track/reversed-stretch-short',
      params: { stretchMm: 3000, trainMm: 3200 },
    })
    expect(about(loop(3000), 'polarity').verdict).toBe('broken')
    expect(about(loop(2900), 'polarity').verdict).toBe('met')
  })
})

describe('a stalled train', () => {
  /** Four metres of code 55 rail behind one feeder. */
  const siding = (stall: object) =>
    reportOf(
      {
        bus: { bus: { wire: '1.5 mm2', length: '2 m' } },
        defaults: { rail: 55 },
        sections: { siding: { length: '6 m', feeders: { place: '0 m' } } },
      },
      { goods: { running: '0.3 A', length: '1 m', ...stall } },
      { main: { tripAmp: 4 } },
    )

  it('is part of the track voltage: the rails have 13.6 V with it running and 6 V with it stalled', () => {
    // By hand: 2.4 Ohm and more of rails, wires and driver; 15 V less 2 A through them.
    const report = siding({ stall: '2.2 A' })
    const stalled = report.arrangements.find((a) => a.situation === 'stalled')!
    const running = report.arrangements.find((a) => a.situation === 'running')!
    expect(running.volt.low).toBeGreaterThan(13)
    expect((15 - stalled.volt.low) / (15 - running.volt.low)).toBeCloseTo(2.2 / 0.3, 2)
    for (const clause of ['track-voltage-min', 'voltage-drop'] as const)
      expect(about(report, clause)).toMatchObject({
        verdict: stalled.volt.high < 7 ? 'broken' : 'undecided',
        finding: { params: { situation: 'stalled', train: 'goods' } },
      })
    expect(stalled.volt.low).toBeLessThan(7)
  })

  it('breaks nothing by a current that nobody gave, and is not met by it either', () => {
    const report = siding({ running: '1.1 A' })
    expect(about(report, 'voltage-drop').verdict).not.toBe('met')
    const mild = siding({ running: '0.55 A' })
    expect(about(mild, 'track-voltage-min').verdict).toBe('met')
    expect(about(siding({ running: '0.9 A' }), 'track-voltage-min')).toMatchObject({
      verdict: 'undecided',
      finding: { params: { assumed: true, decides: 'stall current' } },
    })
  })

  it('never draws more than its district lets flow', () => {
    const report = reportOf(
      {
        bus: { bus: { wire: '2.5 mm2', length: '2 m' } },
        sections: { siding: { length: '1 m', feeders: {} } },
      },
      { goods: { running: '0.3 A', stall: '9 A' } },
      { main: { tripAmp: 2 } },
    )
    expect(report.arrangements.find((a) => a.situation === 'stalled')).toMatchObject({
      amp: 2,
      tripLimited: true,
    })
  })
})
