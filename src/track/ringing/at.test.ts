import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { sourceOf, stockOf, trackOf } from '../../../test/track/fill.js'
import { resolveDriver } from '../../power/index.js'
import { profileOf } from '../../standard/index.js'
import { calculateTrack } from '../calculate.js'
import { findPlace, wayToFeeder } from '../layout/nearest-feeder.js'
import { modelTrack } from '../model.js'
import type { DistrictSource } from '../network/network.js'
import { ringingAt } from './at.js'
import { driverEdge } from './edge.js'
import { measureEdge } from './measure.js'
import { ringCircuit } from './report.js'
import { simulateEdge } from './simulate.js'

const BUS = { wire: '2.5 mm2', length: '9 m', geometry: 'twisted' }
const STOCK = { train: { running: '0.5 A', section: 'main.1' } }

function input(source: Partial<DistrictSource> = {}, ringing?: object) {
  return {
    track: trackOf({
      bus: { bus: BUS },
      sections: {
        main: { count: 9, length: '1 m', feeders: { at: '1 m', step: '4 m', every: 4 }, to: 'T.points' },
        side: { length: '3 m', from: 'T.diverging' },
      },
      turnouts: { T: { length: '230 mm' } },
      ...(ringing ? { ringing } : {}),
    }),
    rollingStock: stockOf(STOCK),
    sources: new Map([['main', sourceOf(15, source)]]),
    profile: profileOf({ profile: 'nmra', scale: 'H0', cutout: false }),
  }
}
const model = (source?: Partial<DistrictSource>, ringing?: object) => modelTrack(input(source, ringing))

describe('way to a feeder', () => {
  const { plan, net } = model()
  const way = (section: string, atMm?: number) => wayToFeeder(plan, net, findPlace(plan, section, atMm))!

  it('goes along the rails to the nearest', () => {
    // Fed are main.1, main.5 and main.9, in their middles.
    expect(way('main.5')).toMatchObject({ railMm: 0 })
    expect(way('main.1', 100)).toMatchObject({ railMm: 400 })
    expect(way('main.3')).toMatchObject({ railMm: 2000 })
    expect(way('main.4', 250).railMm).toBe(1250)
    expect(plan.feeders[way('main.4', 250).feeder]!.name).toBe('main.5')
    // 500 mm of main.9, 230 mm of the turnout, 3 m of the siding.
    expect(way('side', 3000).railMm).toBeCloseTo(3730, 9)
    expect(way('T').railMm).toBeCloseTo(615, 9)
  })

  it('says what is not there', () => {
    expect(() => findPlace(plan, 'mian.3')).toThrow(/no section "mian\.3"; the nearest is "main\.3"/)
    expect(() => findPlace(plan, 'main')).toThrow(/9 sections; say which: main\.1 to main\.9/)
    expect(() => findPlace(plan, 'side', 3001)).toThrow(/not on "side", which is 3 m long/)
  })
})

describe('an edge at a place', () => {
  it('is told with its way from the station', () => {
    const at = ringingAt(model(), { section: 'main.4', atMm: 250 })!
    expect(at.place).toBe('main.4, 0.25 m')
    expect(at.way).toMatchObject({
      district: 'main',
      run: 'bus',
      feeder: 'main.5',
      busMm: 5000,
      railMm: 1250,
    })
    expect(at.netlist).toMatch(new RegExp(`n${at.circuit.farNode} is main.4  0.25 m`))
    expect(at.edges.far.place).toBe(at.place)
    expect(at.edges.far.finalVolt).toBeCloseTo(15, 0)
  })

  it('keeps all the capacitance, and settles at the same voltage as the feeder does', () => {
    const m = model()
    const whole = ringCircuit(m.plan, m.net, 0)!
    const sum = (list: number[]) => list.reduce((a, b) => a + b, 0)
    for (const section of ['main.3', 'main.7', 'side']) {
      const { circuit, edges } = ringingAt(m, { section })!
      expect(sum(circuit.farad) / sum(whole.farad)).toBeGreaterThan(0.97)
      expect(sum(circuit.farad) / sum(whole.farad)).toBeLessThan(1.1)
      expect(Math.abs(edges.far.finalVolt - edges.worst.finalVolt)).toBeLessThan(0.5)
    }
  })

  it('rings more with a quicker edge, never less than without overshoot', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 9 }), fc.integer({ min: 0, max: 1000 }), (n, atMm) => {
        const peak = (edge: string) =>
          ringingAt(model({}, { edge }), { section: `main.${n}`, atMm })!.edges.far.peakVolt
        expect(peak('50 ns')).toBeGreaterThan(peak('4 us') - 0.2)
      }),
      { numRuns: runs(8) },
    )
  })
})

describe('the driver’s edge', () => {
  it('is the quicker of rise and fall, from 10 to 90 % made whole', () => {
    const given = (figures: object) =>
      driverEdge(resolveDriver({ part: 'custom', figures: figures as never }))
    expect(given({ riseTime: 0.4, fallTime: 0.2 })!.us).toBeCloseTo(0.25, 9)
    expect(given({ riseTime: 0.4 })!.us).toBeCloseTo(0.5, 9)
    expect(given({ riseTime: 0.4 })!.because).toMatch(
      /400 ns rise of custom part, 10 to 90 %, from the design/,
    )
    expect(given({ highOhm: 0.1 })).toBeUndefined()
  })

  it('goes before an assumed one, the design’s own before both', () => {
    const edge = (source: Partial<DistrictSource>, ringing?: object) => {
      const m = model(source, ringing)
      return ringCircuit(m.plan, m.net, 0)!.edge
    }
    const own = { edge: { us: 0.2, because: 'so' } }
    expect(edge(own)).toMatchObject({ us: 0.2, from: 'driver' })
    expect(edge(own, { edge: '0.3 us' })).toMatchObject({ us: 0.3, from: 'given' })
    expect(edge({})).toMatchObject({ us: 0.5, from: 'assumed' })
  })
})

describe('evidence on the edges', () => {
  const judged = (source: Partial<DistrictSource>, ringing?: object) => {
    const report = calculateTrack(input(source, ringing), { faults: false })
    return new Map(report.evidence.map((e) => [e.clause, e]))
  }

  it('holds the peak against what decoders must withstand', () => {
    const slow = judged({}, { edge: '5 us' }).get('decoder-withstand')!
    expect(slow.verdict).toBe('met')
    expect(slow.value.high).toBeLessThan(18)
    const quick = judged({}, { edge: '50 ns' }).get('decoder-withstand')!
    expect(quick.verdict).toBe('broken')
    expect(quick.value.high).toBeGreaterThan(27)
    expect(quick.margin).toBeLessThan(0)
    expect(quick.because).toMatch(/decoders must withstand 27 V/)
  })

  it('counts the highest supply voltage, and leaves open what only that one breaks', () => {
    const spread = { edge: { us: 5, because: 'so' }, openVolt: { low: 15, usual: 15, high: 30 } }
    expect(judged(spread).get('decoder-withstand')!.verdict).toBe('undecided')
  })

  it('is undecided where an assumed edge decides, and says that it is assumed', () => {
    const open = judged({}).get('decoder-withstand')!
    expect(open.verdict).toBe('undecided')
    expect(open.because).toMatch(/assumed/)
    expect(open.value.high).toBeGreaterThan(27)
    expect(open.value.low).toBeLessThan(27)
    // At 5 V no edge comes near the limit.
    const low = { openVolt: { low: 5, usual: 5, high: 5 } }
    expect(judged(low).get('decoder-withstand')!.verdict).toBe('met')
  })
})

describe('very short wires', () => {
  it('do not upset the steps', () => {
    const given = input()
    given.track = trackOf({
      bus: { bus: { ...BUS, length: '1 mm' } },
      sections: { main: { count: 1, length: '1 mm', feeders: { length: '1 mm' } } },
    })
    const { edges } = ringingAt(modelTrack(given), { section: 'main.1' })!
    expect(edges.far.peakVolt).toBeGreaterThan(13)
    expect(edges.far.peakVolt).toBeLessThan(46)
  })
})

describe('the lone decoder', () => {
  it('is judged whatever stands on the rails: nothing, trains, or lamps', () => {
    const peak = (stock: object, accessories: object = {}) => {
      const given = input()
      given.rollingStock = stockOf(stock)
      given.track = { ...given.track, ...accessories }
      const { plan, net } = modelTrack(given)
      const c = ringCircuit(plan, net, 0)!
      const { timeUs, volt } = simulateEdge(c, 6)
      return measureEdge(timeUs, volt.get(c.farNode)!).peakVolt
    }
    const alone = peak({})
    expect(alone).toBeGreaterThan(16)
    for (const n of [1, 5, 9])
      expect(peak({ a: { running: '1 A', section: `main.${n}` } })).toBeCloseTo(alone, 9)
    const lamp = { lamp: { current: 0.5, load: 'resistor' as const, section: 'main.9' } }
    expect(peak({}, { accessories: lamp })).toBeCloseTo(alone, 6)
  })

  it('holds its peak down by a capacitor behind its bridge, and only by that', () => {
    const report = calculateTrack(input({}, { edge: '0.1 us' }), { faults: false })
    const r = report.ringing!.districts[0]!
    expect(r.withCapacitor.peakVolt).toBeLessThan(r.worst.peakVolt - 3)
    expect(report.evidence.find((e) => e.clause === 'decoder-withstand')!.verdict).toBe('broken')
  })

  it('sees a peak that a finer ladder does not move by 2 %', () => {
    for (const edge of ['0.05 us', '0.1 us', '0.2 us', '0.4 us']) {
      const { plan, net } = model({}, { edge })
      const peak = (fine: number) => {
        const c = ringCircuit(plan, net, 0, { fine })!
        const { timeUs, volt } = simulateEdge(c, 3)
        return measureEdge(timeUs, volt.get(c.farNode)!).peakVolt
      }
      const [usual, finer, finest] = [peak(1), peak(2), peak(4)]
      expect(Math.abs(usual / finest - 1), edge).toBeLessThan(0.02)
      expect(Math.abs(finer / finest - 1), edge).toBeLessThan(0.015)
    }
  })
})
