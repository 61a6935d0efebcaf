/** The worst arrangement of trains against every arrangement there is, on small railroads. */
import { describe, expect, it } from 'vitest'
import { findEnvelope, modelTrack, type TrackInput } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'
import { random } from './random.js'

/** A railroad by dice: a line through two turnouts, a siding, feeders here and there; trains as long as the sections. */
function railroad(seed: number): TrackInput {
  const next = random(seed)
  const pick = <T>(list: readonly T[]) => list[Math.floor(next() * list.length)]!
  const mm = () => `${Math.round(300 + 600 * next())} mm`
  const fed = (at: string) => ({ feeders: [{ at, place: pick(['0 m', '0.2 m', '0.3 m']) }] })
  return {
    track: trackOf({
      temperature: '20 C',
      defaults: { rail: pick([55, 70, 83]), joiner: pick(['slip', 'soldered', 'bad']) },
      bus: { bus: { wire: pick(['18 AWG', '0.5 mm2', '1.5 mm2']), length: '5 m' } },
      sections: {
        a: { length: mm(), to: 'T.points', ...fed('1 m') },
        b: { length: mm(), from: 'T.straight', to: 'U.straight', ...(next() < 0.5 ? fed('2 m') : {}) },
        c: { length: mm(), from: 'T.diverging', to: 'U.diverging', ...(next() < 0.5 ? fed('3 m') : {}) },
        d: { length: mm(), from: 'U.points', to: 'e', ...(next() < 0.5 ? fed('4 m') : {}) },
        f: { length: mm(), from: 'e', ...(next() < 0.3 ? fed('5 m') : {}) },
      },
      turnouts: { T: {}, U: {} },
    }),
    rollingStock: stockOf({
      one: { running: `${(0.3 + next()).toFixed(3)} A`, length: '1 m' },
      two: { running: `${(0.2 + 0.5 * next()).toFixed(3)} A`, length: '1 m' },
      three: { running: `${(0.1 + 0.5 * next()).toFixed(3)} A`, length: '1 m' },
    }),
    // Sometimes the district carries all three, sometimes two of them only.
    sources: new Map([['main', sourceOf(15, { tripAmp: pick([1.2, 3]) })]]),
  }
}

/** The lowest voltage of every way to put up to three trains on three different sections or turnouts. */
function bruteForce(input: TrackInput): number {
  const { plan, net, worstCase } = modelTrack(input)
  const trains = Object.values(input.rollingStock!).map((t) => t.running)
  const trip = input.sources.get('main')!.tripAmp!
  const seat = (p: number) => {
    const t = plan.tracks[net.places[p]!.track]!
    return t.kind === 'section' ? t.name : t.group
  }
  const columns = net.places.map((p) => worstCase.unit(p.a, p.b))
  const ohm = columns.map((u) => net.places.map((p) => Math.abs(worstCase.across(u, p.a, p.b))))
  const open = net.places.map((p) => Math.abs(worstCase.across(worstCase.open, p.a, p.b)))
  const seats = net.places.map((_, p) => seat(p))
  let lowest = Number.POSITIVE_INFINITY
  // Volts lost at p by each train at each place; the district trips when it carries more than that.
  for (const [head, amp] of trains.entries()) {
    const others = trains.filter((_, i) => i !== head)
    for (let p = 0; p < net.places.length; p++) {
      const alone = open[p]! - amp * ohm[p]![p]!
      lowest = Math.min(lowest, alone)
      for (let q = 0; q < net.places.length; q++) {
        if (seats[q] === seats[p]) continue
        for (const [i, first] of others.entries()) {
          if (amp + first > trip) continue
          const two = alone - first * ohm[p]![q]!
          lowest = Math.min(lowest, two)
          const second = others[1 - i]!
          if (amp + first + second > trip) continue
          for (let r = 0; r < net.places.length; r++) {
            if (seats[r] === seats[p] || seats[r] === seats[q]) continue
            lowest = Math.min(lowest, two - second * ohm[p]![r]!)
          }
        }
      }
    }
  }
  return lowest
}

describe('worst arrangement', () => {
  it('is the worst of all there are, to a thousandth of a volt, and the bound is never above it', () => {
    for (let seed = 1; seed <= 24; seed++) {
      const input = railroad(seed)
      const { plan, worstCase } = modelTrack(input)
      const found = findEnvelope(plan, worstCase).running[0]!
      const lowest = bruteForce(input)
      expect(found.volt, `railroad ${seed}`).toBeLessThanOrEqual(lowest + 1e-9)
      expect(found.volt, `railroad ${seed}`).toBeGreaterThan(lowest - 1e-3)
      expect(found.boundVolt).toBeLessThanOrEqual(found.volt + 1e-9)
    }
  })

  it('is what a search of its own finds, whatever was asked of the circuit before', () => {
    for (let seed = 1; seed <= 40; seed++) {
      const asked = modelTrack(railroad(seed))
      const of = ({ plan, worstCase }: typeof asked, limit?: Parameters<typeof findEnvelope>[2]) =>
        findEnvelope(plan, worstCase, limit)
      const limits = [{ most: 2 }, {}, { tracks: new Set([1]) }, { running: true }, {}]
      for (const limit of limits) {
        expect(of(asked, limit)).toEqual(of(modelTrack(railroad(seed)), limit))
      }
    }
  })

  it('says by how much trains nose to nose could be worse', () => {
    // A siding of 3 m fed at its near end: two trains of 2 m can have both their locomotives at its far end.
    const input: TrackInput = {
      track: trackOf({
        bus: { bus: { wire: '1.5 mm2', length: '1 m' } },
        sections: {
          near: { length: '3 m', to: 'x', feeders: { place: '0 m' } },
          far: { length: '3 m', from: 'x' },
        },
      }),
      rollingStock: stockOf({ train: { count: 2, running: '0.5 A', length: '2 m' } }),
      sources: new Map([['main', sourceOf()]]),
    }
    const { plan, net, worstCase } = modelTrack(input)
    const found = findEnvelope(plan, worstCase).running[0]!
    const end = net.places.at(-1)!
    const both = worstCase.withLoads([{ ...end, amp: 1, law: 'current', minVolt: 7 }]).volt[0]!
    expect(found.boundVolt).toBeCloseTo(both, 9)
    expect(found.volt).toBeGreaterThan(found.boundVolt + 0.05)
  })
})
