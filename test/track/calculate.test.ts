import { describe, expect, it } from 'vitest'
import { profileOf } from '../../src/standard/index.js'
import { Circuit, calculateTrack, layOut, modelTrack, wireConductor } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

/** One bus, a row of equal sections, a feeder at each. */
function row(own: { count?: number; every?: number; extra?: object; sections?: object } = {}) {
  const count = own.count ?? 10
  return trackOf({
    bus: { bus: { wire: '14 AWG', length: '10 m' } },
    sections: {
      main: {
        count,
        length: '1 m',
        feeders: { at: '0 m', step: `${(10 * (own.every ?? 1)) / count} m`, every: own.every ?? 1 },
        ...own.sections,
      },
    },
    ...own.extra,
  })
}

const one = new Map([['main', sourceOf()]])

describe('closed forms', () => {
  it('gives Ohm’s law for one train behind one feeder', () => {
    const track = trackOf({
      temperature: '20 C',
      bus: { bus: { wire: '14 AWG', length: '6 m' } },
      sections: { only: { length: '2 m', feeders: { wire: '20 AWG', length: '200 mm', place: '0 m' } } },
    })
    const stock = stockOf({ train: { running: '1 A', section: 'only', at: '0 m' } })
    const model = modelTrack({ track, rollingStock: stock, sources: one })
    const usual = new Circuit(layOut(model.net), 'usual')
    const bus = wireConductor('14 AWG').ohmPerM.usual * 6 * 2
    const feeder = wireConductor('20 AWG').ohmPerM.usual * 0.2 * 2
    const { a, b } = model.net.standPlace[0]!
    const got = usual.withLoads([{ a, b, amp: 1, law: 'current', minVolt: 7 }])
    expect(got.volt[0]).toBeCloseTo(15 - 0.1 - bus - feeder, 6)
    const power = usual.withLoads([{ a, b, amp: 1, law: 'power', minVolt: 7 }])
    const r = 0.1 + bus + feeder
    expect(power.volt[0]).toBeCloseTo(7.5 + Math.sqrt(56.25 - 15 * r), 6)
    const lamp = usual.withLoads([{ a, b, amp: 1, law: 'resistor', minVolt: 7 }])
    expect(lamp.volt[0]).toBeCloseTo((15 * 15) / (15 + r), 6)
  })

  it('loses half as much along a line loaded evenly as with all of it at the end', () => {
    // Closed form: ∫ r·(1 − x)·I dx = r·I/2; here 200 loads stand for an even one, which misses by 1/(2·200).
    const n = 200
    const sections = { line: { count: n, length: '100 mm', feeders: { first: 1, every: n, place: '0 m' } } }
    const track = trackOf({
      bus: { bus: { wire: '10 AWG', length: '1 mm' } },
      defaults: { joiner: 'soldered' },
      sections,
    })
    const even = Object.fromEntries(
      Array.from({ length: n }, (_, i) => [`t${i}`, { running: '10 mA', section: `line.${i + 1}` }]),
    )
    const volt = (stock: object) => {
      const model = modelTrack({ track, rollingStock: stockOf(stock), sources: one })
      const c = new Circuit(layOut(model.net), 'usual')
      const loads = model.plan.stands.map((s, i) => ({
        ...model.net.standPlace[i]!,
        amp: s.amp,
        law: s.law,
        minVolt: 0.1,
      }))
      const x = c.withLoads(loads).x
      const [first, last] = [model.net.places[0]!, model.net.places.at(-1)!]
      return c.across(x, first.a, first.b) - c.across(x, last.a, last.b)
    }
    const ratio = volt(even) / volt({ all: { running: '2 A', section: `line.${n}`, at: '100 mm' } })
    expect(ratio).toBeGreaterThan(0.495)
    expect(ratio).toBeLessThan(0.505)
  })

  it('feeds two-ended spans: the middle of an evenly fed ring is worst', () => {
    const report = calculateTrack({
      track: row({ every: 5 }),
      rollingStock: stockOf({ a: { running: '1 A' } }),
      sources: one,
    })
    expect(report.envelope!.place).toMatch(/^main\.(9|10)/)
    for (const s of report.sections) expect(s.boundVolt!).toBeLessThanOrEqual(s.envelopeVolt! + 1e-9)
  })
})

describe('report', () => {
  it('judges every clause of the track', () => {
    const report = calculateTrack({
      track: row(),
      rollingStock: stockOf({ a: { running: '1 A', section: 'main.9' } }),
      sources: one,
      profile,
    })
    expect(new Set(report.evidence.map((e) => e.clause))).toEqual(
      new Set([
        'voltage-drop',
        'decoder-withstand',
        'track-voltage-min',
        'short-current',
        'short-trip',
        'polarity',
        'gap-bridging',
        'isolation',
        'conductor-heat',
        'joint-heat',
        'edge-rate',
        'crossing-distortion',
      ]),
    )
    for (const e of report.evidence) {
      expect(e.origin).toBe('calculated')
      expect(Number.isFinite(e.margin)).toBe(true)
      expect(Number.isFinite(e.value.low) && Number.isFinite(e.value.high)).toBe(true)
    }
    expect(JSON.parse(JSON.stringify(report)).sections).toHaveLength(10)
    expect(report.cautions.length).toBeGreaterThan(3)
  })
})
