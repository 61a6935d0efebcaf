import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { calculateTrack, curesConflict, expandPlan, findPhases, findPolarity } from '../../src/track/index.js'
import { runs } from '../runs.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const BUS = { bus: { wire: '14 AWG', length: '5 m' } }
const plan = (raw: object, stock: object = {}) =>
  expandPlan(trackOf({ bus: BUS, ...raw }), stockOf(stock), ['main'])
const f = { at: '1 m' }

/** A stem, a turnout, and a loop of six sections back into it. */
const LOOP = {
  sections: {
    stem: { length: '2 m', to: 'T.points', feeders: f },
    loop: { count: 6, length: '0.7 m', from: 'T.straight', to: 'T.diverging' },
  },
  turnouts: { T: {} },
}

describe('polarity', () => {
  it('finds a reversing loop, its length and its gaps', () => {
    const p = plan(LOOP, { train: { running: '0.5 A', length: '2.5 m' } })
    const { routes } = findPolarity(p)
    expect(routes).toHaveLength(1)
    const [route] = routes
    // Six sections and two half turnouts, by hand.
    expect(route!.lengthMm).toBeCloseTo(6 * 700 + 230, 6)
    expect(new Set(route!.gaps)).toEqual(new Set(['T.straight', 'T.diverging']))
    expect(route!.isolatedMm).toBeCloseTo(4200, 6)
    expect(route!.trainFits).toBe(true)
    expect(curesConflict(p, route!.gaps!)).toBe(true)
    expect(curesConflict(p, [route!.gaps![0]])).toBe(true)
    expect(curesConflict(p, [])).toBe(false)
  })

  it('says when the longest train does not fit between the gaps', () => {
    const { routes } = findPolarity(plan(LOOP, { train: { running: '0.5 A', length: '5 m' } }))
    expect(routes[0]!.trainFits).toBe(false)
  })

  it('finds a wye', () => {
    // Three turnouts in a triangle: out of each one's legs to a leg of the next.
    const p = plan({
      sections: {
        in: { length: '1 m', to: 'A.points', feeders: f },
        ab: { length: '1 m', from: 'A.straight', to: 'B.straight' },
        bc: { length: '1 m', from: 'B.diverging', to: 'C.straight' },
        ca: { length: '1 m', from: 'C.diverging', to: 'A.diverging' },
        east: { length: '1 m', from: 'B.points' },
        west: { length: '1 m', from: 'C.points' },
      },
      turnouts: { A: {}, B: {}, C: {} },
    })
    const { routes } = findPolarity(p)
    expect(routes).toHaveLength(1)
    expect(routes[0]!.lengthMm).toBeCloseTo(3000 + 3 * 230, 6)
    expect(curesConflict(p, routes[0]!.gaps!)).toBe(true)
  })

  it('finds nothing in an oval with a passing loop, whichever way sections are written', () => {
    const turned = fc.record({ a: fc.boolean(), b: fc.boolean(), c: fc.boolean() })
    fc.assert(
      fc.property(turned, (turn) => {
        const ends = (from: string, to: string, back: boolean) =>
          back ? { from: to, to: from } : { from, to }
        const p = plan({
          sections: {
            upper: { count: 3, length: '1 m', ...ends('T.straight', 'U.straight', turn.a), feeders: f },
            lower: { count: 3, length: '1 m', ...ends('T.diverging', 'U.diverging', turn.b), feeders: f },
            round: { count: 8, length: '1 m', ...ends('U.points', 'T.points', turn.c), feeders: f },
          },
          turnouts: { T: {}, U: {} },
        })
        expect(findPolarity(p).routes).toEqual([])
        // Rails that meet have the same phase once turning round in the file is allowed for.
        const { phase, conflicts } = findPhases(p)
        expect(conflicts).toEqual([])
        const sign = (name: string) => phase[p.tracks.findIndex((t) => t.name === name)]!
        expect(sign('upper.1') * (turn.a ? -1 : 1)).toBe(sign('lower.1') * (turn.b ? -1 : 1))
        const report = calculateTrack(
          { track: p.design, sources: new Map([['main', sourceOf()]]) },
          { ringing: false },
        )
        expect(Math.min(...report.sections.map((s) => s.volt.low))).toBeGreaterThan(14)
      }),
      { numRuns: runs(8) },
    )
  })

  it('is quiet about a loop that is gapped, and wants the reverser to act before the district', () => {
    const gapped = (trip: string, time: string) => ({
      ...LOOP,
      bus: { ...BUS, loop: { from: 'bus', wire: '14 AWG', length: '2 m', reverser: { trip, time } } },
      sections: {
        stem: { ...LOOP.sections.stem, feeders: { bus: 'bus', at: '1 m' } },
        loop: { ...LOOP.sections.loop, gaps: 'both', feeders: { bus: 'loop', at: '1 m' } },
      },
    })
    const run = (trip: string, time: string) =>
      calculateTrack({ track: trackOf(gapped(trip, time)), sources: new Map([['main', sourceOf()]]) })
    const good = run('2 A', '5 ms')
    expect(good.polarity.routes).toEqual([])
    expect(good.polarity.reversers[0]!.ok).toBe(true)
    expect(good.evidence.find((e) => e.clause === 'polarity')!.verdict).toBe('met')
    const late = run('2 A', '50 ms')
    expect(late.polarity.reversers[0]!.ok).toBe(false)
    expect(late.evidence.find((e) => e.clause === 'polarity')!.verdict).toBe('broken')
    expect(run('4 A', '5 ms').polarity.reversers[0]!.because).toMatch(/its district already at 3 A/)
  })

  it('is not quiet about a gapped loop that is fed like the rest: a train bridges its gaps', () => {
    const loop = (gaps: string, bus: object, feeders: object, extra: object = {}) =>
      calculateTrack({
        track: trackOf({
          ...LOOP,
          bus: { ...BUS, ...bus },
          sections: {
            stem: { ...LOOP.sections.stem, feeders: { bus: 'bus', at: '1 m' } },
            loop: { ...LOOP.sections.loop, gaps, feeders },
          },
        }),
        ...extra,
        sources: new Map([['main', sourceOf()]]),
      })
    const own = { bus: 'bus', at: '1 m' }
    const both = loop('both', {}, own)
    expect(both.polarity.routes).toEqual([])
    // The loop is 4.2 m between gaps at both legs; whichever way it is fed, just one of them has its rails opposed.
    expect(both.polarity.opposed).toHaveLength(1)
    expect(both.polarity.opposed[0]!.because).toMatch(/until a train bridges them.*automatic reverser/)
    const evidence = both.evidence.find((e) => e.clause === 'polarity')!
    expect(evidence).toMatchObject({
      verdict: 'broken',
      because: both.polarity.opposed[0]!.because.replace(/\.$/, ''),
    })
    const turned = loop('both', {}, { ...own, swapped: true })
    expect(turned.polarity.opposed).toEqual([])
    expect(turned.polarity.swapped.every((s) => s.harm === 'gaps')).toBe(true)
    // One cut only: the loop is one part with its stem, so no reverser on it could help.
    const reverser = {
      rev: { from: 'bus', wire: '14 AWG', length: '1 m', reverser: { trip: '2 A', time: '1 ms' } },
    }
    expect(loop('from', {}, own).polarity.opposed[0]!.because).toMatch(/cut both rails at a second place/)
    expect(loop('both', reverser, { bus: 'rev' }).polarity.opposed).toEqual([])
    // The feeders may hang on a run of their own behind the reverser.
    const behind = { ...reverser, far: { from: 'rev', wire: '14 AWG', length: '1 m' } }
    const good = loop('both', behind, { bus: 'far' })
    expect(good.polarity.opposed).toEqual([])
    expect(good.polarity.reversers[0]).toMatchObject({ ok: true })
  })

  it('finds the loop in which one rail only is cut, and still calculates it', () => {
    const report = calculateTrack({
      track: trackOf({
        bus: BUS,
        sections: {
          stem: { length: '3 m', to: 'T.points', feeders: f },
          loop: { count: 4, length: '1 m', from: 'T.straight', to: 'x' },
          out: { length: '1 m', from: 'x', to: 'T.diverging' },
        },
        turnouts: { T: {} },
        joints: { x: { gap: 'left' } },
      }),
      sources: new Map([['main', sourceOf()]]),
    })
    expect(report.cutForPolarity).toEqual(['x'])
    expect(report.polarity.routes).toHaveLength(1)
    // Five sections of 1 m and one way through the turnout, 0.23 m.
    expect(report.polarity.routes[0]!.lengthMm).toBeCloseTo(5230, 6)
    expect(report.evidence.find((e) => e.clause === 'polarity')!.verdict).toBe('broken')
  })

  it('finds the loop whose rails are cut at two places, with a feeder between them that closes it', () => {
    const report = calculateTrack({
      track: trackOf({
        bus: BUS,
        sections: {
          stem: { length: '3 m', to: 'T.points', feeders: f },
          loop: { length: '2 m', from: 'T.straight', to: 'x' },
          mid: { length: '1 m', from: 'x', to: 'y', feeders: f },
          out: { length: '1 m', from: 'y', to: 'T.diverging' },
        },
        turnouts: { T: {} },
        joints: { x: { gap: 'left' }, y: { gap: 'right' } },
      }),
      sources: new Map([['main', sourceOf()]]),
    })
    expect(report.cutForPolarity).toEqual(['y'])
    expect(report.polarity.routes).toHaveLength(1)
    expect(report.evidence.find((e) => e.clause === 'polarity')!.verdict).toBe('broken')
  })

  it('warns of a train longer than the part that a reverser turns', () => {
    const texts = (length: string) =>
      calculateTrack({
        track: trackOf({
          ...LOOP,
          bus: {
            ...BUS,
            rev: { from: 'bus', wire: '14 AWG', length: '1 m', reverser: { trip: '2 A', time: '1 ms' } },
          },
          sections: {
            stem: { ...LOOP.sections.stem, feeders: { bus: 'bus', at: '1 m' } },
            loop: { ...LOOP.sections.loop, gaps: 'both', feeders: { bus: 'rev' } },
          },
        }),
        rollingStock: stockOf({ goods: { running: '0.5 A', length } }),
        sources: new Map([['main', sourceOf()]]),
      }).findings.filter((f) => /gaps at both ends at once/.test(f.text))
    expect(texts('4.1 m')).toEqual([])
    expect(texts('4.3 m')).toHaveLength(1)
  })

  it('reports a turntable that keeps its polarity, and none that reverses', () => {
    const table = (turns: string) =>
      plan({
        sections: { road: { length: '1 m', to: 'TT.1', feeders: f } },
        turntables: { TT: { length: '300 mm', roads: 4, turns, feeders: f } },
      })
    expect(findPolarity(table('fixed')).routes).toHaveLength(1)
    expect(findPolarity(table('automatic')).routes).toEqual([])
    expect(findPolarity(table('split ring')).routes).toEqual([])
  })

  it('calculates the rest of a railroad that has a conflict, and says so', () => {
    const report = calculateTrack({
      track: trackOf({ bus: BUS, ...LOOP }),
      sources: new Map([['main', sourceOf()]]),
    })
    expect(report.cutForPolarity).toHaveLength(1)
    expect(report.findings.some((x) => /meets its opposite/.test(x.text))).toBe(true)
    expect(report.evidence.find((e) => e.clause === 'polarity')!.verdict).toBe('broken')
    expect(report.districts[0]!.worstVolt.low).toBeGreaterThan(14)
  })
})
