/** The worst of joiners and contacts against every combination of them, on small looped railroads. All invented. */
import { describe, expect, it } from 'vitest'
import { modelTrack, type TrackModel } from '../../src/track/index.js'
import { Circuit, type ElectricalLoad } from '../../src/track/network/circuit.js'
import { EDGE } from '../../src/track/network/network.js'
import { worstJoints } from '../../src/track/voltage/joint-corners.js'
import { sourceOf, trackOf } from './fill.js'
import { random } from './random.js'

/** A ring of sections, fed at one or two of them, with a connector on the way. */
function ring(sections: number, fed: readonly number[], mm: readonly number[]): TrackModel {
  return modelTrack({
    track: trackOf({
      defaults: { joiner: 'bad', rail: 55 },
      bus: { bus: { wire: '1.5 mm2', length: '4 m', connector: { rating: '10 A', contact: '30 mOhm' } } },
      sections: Object.fromEntries(
        Array.from({ length: sections }, (_, i) => [
          `s${i}`,
          {
            length: `${mm[i]} mm`,
            from: `j${i}`,
            to: `j${(i + 1) % sections}`,
            ...(fed.includes(i) ? { feeders: { bus: 'bus', at: '3 m' } } : {}),
          },
        ]),
      ),
    }),
    sources: new Map([['main', sourceOf(15, { tripAmp: 9 })]]),
  })
}

/** The lowest voltage over every combination of joiners and contacts at the given levels between least and greatest. */
function byForce(
  { worstCase, net }: TrackModel,
  loads: readonly ElectricalLoad[],
  at: { a: number; b: number },
  levels: readonly number[],
): { volt: number; combinations: number } {
  const free: number[] = []
  for (let e = 0; e < net.from.length; e++)
    if (net.kind[e] === EDGE.joiner || net.kind[e] === EDGE.reverser) free.push(e)
  const combinations = levels.length ** free.length
  const ohm = net.ohm.high.slice()
  let volt = Number.POSITIVE_INFINITY
  for (let c = 0; c < combinations; c++) {
    let rest = c
    for (const e of free) {
      const level = levels[rest % levels.length]!
      rest = Math.floor(rest / levels.length)
      ohm[e] = net.ohm.low[e]! + level * (net.ohm.high[e]! - net.ohm.low[e]!)
    }
    const circuit = new Circuit(worstCase.layout, 'high', undefined, ohm)
    volt = Math.min(volt, Math.abs(circuit.across(circuit.withLoads(loads).x, at.a, at.b)))
  }
  return { volt, combinations }
}

function loadsOn({ net }: TrackModel, next: () => number, count: number, law: ElectricalLoad['law']) {
  return Array.from({ length: count }, (): ElectricalLoad => {
    const { a, b } = net.places[Math.floor(next() * net.places.length)]!
    return { a, b, amp: 0.2 + next(), law, minVolt: 6 }
  })
}

describe('the worst joiners and contacts', () => {
  it.each([
    [1, 5, [0], 'current', [0, 1]],
    [2, 5, [0, 2], 'current', [0, 1]],
    [3, 6, [1], 'current', [0, 1]],
    [4, 6, [0, 3], 'resistor', [0, 1]],
    [5, 6, [0], 'power', [0, 1]],
    [6, 4, [0, 1], 'current', [0, 0.5, 1]],
  ] as const)(
    'are no better than every combination, and within 1 % (%i)',
    (seed, sections, fed, law, levels) => {
      const next = random(seed)
      const model = ring(
        sections,
        fed,
        Array.from({ length: sections }, () => Math.round(300 + 1500 * next())),
      )
      const loads = loadsOn(model, next, 3, law)
      const at = loads[0]!
      const found = worstJoints(model.worstCase, loads, at.a, at.b)
      const force = byForce(model, loads, at, levels)
      expect(force.combinations).toBeGreaterThan(4000)
      expect(found.volt).toBeGreaterThanOrEqual(force.volt - 1e-9)
      expect(found.volt).toBeLessThanOrEqual(force.volt * 1.01)
    },
  )

  it('are not all at their greatest on a ring where a bad joiner keeps another train off', () => {
    const model = ring(6, [0], [500, 500, 500, 500, 500, 500])
    const place = (name: string) => {
      const track = model.plan.tracks.findIndex((t) => t.name === name)
      return model.net.places[model.net.placeStart[track]! + 1]!
    }
    const load = (name: string, amp: number): ElectricalLoad => ({
      ...place(name),
      amp,
      law: 'current',
      minVolt: 6,
    })
    const loads = [load('s1', 0.1), load('s5', 1.2)]
    const { a, b } = loads[0]!
    const all = Math.abs(model.worstCase.across(model.worstCase.withLoads(loads).x, a, b))
    const found = worstJoints(model.worstCase, loads, a, b)
    expect(found.volt).toBeLessThan(all - 0.01)
    expect(found.atLeast).toBeGreaterThan(0)
  })
})
