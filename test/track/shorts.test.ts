/** Short map, faults, envelope and proposals against the same network solved again from the start. */
import { describe, expect, it } from 'vitest'
import {
  adviseTrack,
  Circuit,
  EDGE,
  findEnvelope,
  layOut,
  mapShorts,
  mapVoltage,
  modelTrack,
  type Network,
  type TrackInput,
  tryFaults,
} from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

function input(): TrackInput {
  return {
    track: trackOf({
      defaults: { rail: 70, feeder: { wire: '22 AWG', length: '200 mm' } },
      bus: {
        west: { district: 'west', wire: '16 AWG', length: '6 m' },
        spur: { from: 'west', at: '3 m', wire: '18 AWG', length: '2 m' },
        east: { district: 'east', wire: '18 AWG', length: '5 m' },
      },
      sections: {
        main: {
          count: 6,
          length: '0.9 m',
          from: 'a',
          to: 'T.points',
          feeders: { bus: 'west', at: '1 m', step: '1.5 m', every: 2 },
        },
        up: { length: '1.1 m', from: 'T.straight', to: 'b', feeders: { bus: 'spur', at: '1 m' } },
        down: { length: '1.4 m', from: 'T.diverging' },
        far: {
          count: 3,
          length: '1 m',
          from: 'b',
          gaps: 'from',
          feeders: { bus: 'east', at: '2 m', step: '1 m' },
        },
      },
      turnouts: { T: {} },
    }),
    rollingStock: stockOf({
      big: { running: '0.8 A', section: 'main.5' },
      small: { running: '0.4 A', section: 'down' },
      third: { running: '0.5 A', section: 'far.2' },
    }),
    sources: new Map([
      ['west', sourceOf(15)],
      ['east', sourceOf(14, { tripAmp: 2 })],
    ]),
  }
}

/** The network with another resistor in it. */
function withEdge(net: Network, a: number, b: number, ohm: number): Network {
  const push = (list: Float64Array) => Float64Array.of(...list, ohm)
  return {
    ...net,
    from: Int32Array.of(...net.from, a),
    to: Int32Array.of(...net.to, b),
    ohm: { low: push(net.ohm.low), usual: push(net.ohm.usual), high: push(net.ohm.high) },
    kind: Uint8Array.of(...net.kind, EDGE.joiner),
    owner: Int32Array.of(...net.owner, 0),
    conductorOf: Int16Array.of(...net.conductorOf, -1),
  }
}

describe('short map', () => {
  it('agrees with a network that has the short in it, at every place', () => {
    const { net, worstCase } = modelTrack(input())
    const map = mapShorts(worstCase, 0.05, 40)
    expect(map.places).toHaveLength(net.places.length)
    net.places.forEach((p, i) => {
      const shorted = new Circuit(layOut(withEdge(net, p.a, p.b, 0.05 + 1e-9)), 'high')
      const amp = Math.max(...net.districts.map((_, d) => shorted.sourceAmp(shorted.open, d)))
      expect(Math.abs(map.places[i]!.amp / amp - 1)).toBeLessThan(1e-7)
      expect(net.districts[map.places[i]!.district]).toBe(districtName(net, i))
    })
  })

  it('never draws more than the source can give, and never trips below the trip current', () => {
    const own = input()
    const sources = new Map([...own.sources].map(([n, s]) => [n, { ...s, limitAmp: 2.5 }]))
    const map = mapShorts(modelTrack({ ...own, sources }).worstCase, 0.05, 40)
    for (const p of map.places) {
      expect(p.amp).toBeLessThanOrEqual(2.5)
      expect(p.prospectiveAmp).toBeGreaterThan(2.5)
      if (p.district === 0) expect(p.timeUs).toBe(Number.POSITIVE_INFINITY)
    }
  })

  it('solves for the hottest conductor once the simple bound passes the limit', () => {
    const { worstCase } = modelTrack({
      ...input(),
      sources: new Map([
        ['west', sourceOf(15, { tripTimeUs: () => 5e6 })],
        ['east', sourceOf(14)],
      ]),
    })
    const bound = mapShorts(worstCase, 0.05, 1e9).heat!
    const exact = mapShorts(worstCase, 0.05, 1).heat!
    expect(bound.exact).toBe(false)
    expect(exact.exact).toBe(true)
    expect(exact.riseK).toBeLessThanOrEqual(bound.riseK)
    expect(exact.riseK).toBeGreaterThan(1)
  })
})

function districtName(net: Network, place: number): string {
  return net.districts[net.districtOfTrack[net.places[place]!.track]!]!
}

describe('faults', () => {
  it('agree with a network that has the fault in it', () => {
    const own = input()
    const { plan, net, worstCase } = modelTrack(own)
    const { solution } = mapVoltage(plan, worstCase)
    const { list, skipped } = tryFaults(plan, worstCase, solution, 0.05)
    expect(skipped).toBe(0)
    const joints = plan.joints.filter((j) => !j.gapL).length
    expect(list.filter((f) => f.kind === 'bad joiner')).toHaveLength(2 * joints)
    expect(list.filter((f) => f.kind === 'open feeder')).toHaveLength(2 * plan.feeders.length)
    expect(list.filter((f) => f.kind === 'swapped feeder')).toHaveLength(plan.feeders.length)
    const loads = plan.stands.map((s, i) => ({ ...net.standPlace[i]!, amp: s.amp, law: s.law, minVolt: 0.1 }))
    const again = (change: (ohm: Float64Array) => void) => {
      const ohm = net.ohm.high.slice()
      change(ohm)
      const c = new Circuit(layOut({ ...net, ohm: { ...net.ohm, high: ohm } }), 'high')
      const x = c.withLoads(loads).x
      const volts = net.places.map((p) => Math.abs(c.across(x, p.a, p.b)))
      const shares = mapShorts(c, 0.05, 40).places.map((p) => p.share!)
      return { volt: Math.min(...volts), short: Math.min(...shares) }
    }
    let seen = 0
    for (let e = 0; e < net.from.length; e++) {
      if (net.kind[e] !== EDGE.feeder && net.kind[e] !== EDGE.joiner) continue
      const open = net.kind[e] === EDGE.feeder
      const fault = list.filter((f) => f.kind !== 'swapped feeder')[seen++]!
      const exact = again((ohm) => {
        ohm[e] = open ? 1e6 : 2
      })
      expect(Math.abs(fault.volt! - exact.volt)).toBeLessThan(1e-4)
      expect(Math.abs(fault.short! - exact.short)).toBeLessThan(1e-4)
    }
    expect(seen).toBe(list.filter((f) => f.kind !== 'swapped feeder').length)
  })

  it('a swapped feeder is a short that is seen at once or not', () => {
    const own = input()
    const { plan, net, worstCase } = modelTrack(own)
    const { list } = tryFaults(plan, worstCase, mapVoltage(plan, worstCase).solution, 0.05)
    const fault = list.find((f) => f.kind === 'swapped feeder' && f.name === 'main.1')!
    const swapped = modelTrack({
      ...own,
      track: trackOf({
        ...JSON.parse(JSON.stringify(rawSwapped())),
      }),
    })
    const c = swapped.worstCase
    const amp = c.sourceAmp(c.open, net.districts.indexOf('west'))
    expect(Math.abs(fault.idle! - amp / 3)).toBeLessThan(1e-4)
    expect(fault.idle).toBeGreaterThan(1)
  })
})

/** The same railroad with the feeder of main.1 written as a feeder of its own, swapped. */
function rawSwapped() {
  return {
    defaults: { rail: 70, feeder: { wire: '22 AWG', length: '200 mm' } },
    bus: {
      west: { district: 'west', wire: '16 AWG', length: '6 m' },
      spur: { from: 'west', at: '3 m', wire: '18 AWG', length: '2 m' },
      east: { district: 'east', wire: '18 AWG', length: '5 m' },
    },
    sections: {
      main: {
        count: 6,
        length: '0.9 m',
        from: 'a',
        to: 'T.points',
        feeders: [
          { bus: 'west', at: '1 m', every: 100, swapped: true },
          { bus: 'west', at: '2.5 m', step: '1.5 m', every: 2, first: 3 },
        ],
      },
      up: { length: '1.1 m', from: 'T.straight', to: 'b', feeders: { bus: 'spur', at: '1 m' } },
      down: { length: '1.4 m', from: 'T.diverging' },
      far: {
        count: 3,
        length: '1 m',
        from: 'b',
        gaps: 'from',
        feeders: { bus: 'east', at: '2 m', step: '1 m' },
      },
    },
    turnouts: { T: {} },
  }
}

describe('envelope', () => {
  it('is as low as any arrangement tried by hand, one train per section, and its bound is lower', () => {
    const own = input()
    const { plan, net, worstCase } = modelTrack(own)
    const env = findEnvelope(plan, worstCase)
    const amps = [0.8, 0.5, 0.4]
    // All ways to put three trains on three different sections of district west, at their middles.
    const spots = plan.tracks.flatMap((t, i) =>
      t.kind === 'section' && districtName(net, net.placeStart[i]!) === 'west' ? [env.places[i]!.place] : [],
    )
    let lowest = Number.POSITIVE_INFINITY
    for (const a of spots)
      for (const b of spots)
        for (const c of spots) {
          if (a === b || b === c || a === c) continue
          const loads = [a, b, c].map((p, i) => ({
            ...net.places[p]!,
            amp: amps[i]!,
            law: 'current' as const,
            minVolt: 0.1,
          }))
          const x = worstCase.withLoads(loads).x
          const q = net.places[a]!
          lowest = Math.min(lowest, worstCase.across(x, q.a, q.b))
        }
    const west = env.places.filter((_, i) => districtName(net, net.placeStart[i]!) === 'west')
    expect(Math.min(...west.map((p) => p!.volt))).toBeLessThanOrEqual(lowest + 1e-9)
    for (const p of env.places) expect(p!.boundVolt).toBeLessThanOrEqual(p!.volt + 1e-9)
  })
})

describe('proposals', () => {
  const overloaded = (wire: string): TrackInput => ({
    track: trackOf({
      bus: { bus: { wire, length: '10 m' } },
      sections: { line: { count: 10, length: '1 m', feeders: { at: '0.5 m', step: '1 m' } } },
    }),
    rollingStock: stockOf(
      Object.fromEntries([1, 3, 5, 7, 9].map((n) => [`t${n}`, { running: '0.8 A', section: `line.${n}` }])),
    ),
    sources: new Map([['main', sourceOf(15)]]),
  })

  it('names the standard’s next sections, and a second district for what overloads one', () => {
    const thin = overloaded('1 mm2')
    expect(
      adviseTrack(modelTrack(thin), thin)
        .list.map((a) => a.what)
        .join(),
    ).toMatch(/in 1\.5 mm2 instead of 1 mm2/)
    const own = overloaded('1.5 mm2')
    const { now, list } = adviseTrack(modelTrack(own), own)
    expect(now.overloadAmp).toBeCloseTo(1, 3)
    expect(list.some((a) => /in 2\.5 mm2 instead of 1\.5 mm2/.test(a.what))).toBe(true)
    const split = list.find((a) => a.kind === 'another district')!
    expect(split.what).toMatch(/cut both rails at line\.5\/6/)
    expect(split.after.overloadAmp).toBe(0)
    expect(split.gainPlannedVolt).toBeGreaterThan(0.1)
  })

  it('refuse a second district whose wires are not sure to carry all trains at once', () => {
    const own = overloaded('1 mm2')
    const { list, refused } = adviseTrack(modelTrack(own), own)
    expect(list.some((a) => a.kind === 'another district')).toBe(false)
    const split = refused.find((r) => /cut both rails at line\.5\/6/.test(r.what))!
    expect(split.because).toMatch(/^District main 2: .*it depends on how close the trains can stand/)
  })

  it('gain what they say when they are carried out', () => {
    const own = input()
    const model = modelTrack(own)
    const { now, list } = adviseTrack(model, own)
    expect(list.length).toBeGreaterThan(2)
    expect(new Set(list.map((a) => a.kind)).size).toBeGreaterThan(1)
    const worth = list.map((a) => a.worth)
    expect(worth).toEqual([...worth].sort((a, b) => b - a))
    for (const a of list) {
      expect(a.after.worstVolt - now.worstVolt).toBeCloseTo(a.gainVolt, 9)
      expect(a.wireM).toBeGreaterThan(0)
    }
    const thicker = list.find((a) => /Lay bus run "west" in 14 AWG/.test(a.what))!
    const track = {
      ...own.track,
      bus: { ...own.track.bus, west: { ...own.track.bus['west']!, wire: '14 AWG' } },
    }
    const done = adviseTrack(modelTrack({ ...own, track }), { ...own, track }).now
    expect(done.worstVolt).toBeCloseTo(thicker.after.worstVolt, 9)
    expect(done.shortShare).toBeCloseTo(thicker.after.shortShare!, 9)
  })
})
