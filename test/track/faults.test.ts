import { describe, expect, it } from 'vitest'
import { calculateTrack } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const sources = new Map([['main', sourceOf(16)]])
const bus = { bus: { wire: '14 AWG', length: '10 m' } }
const feeders = { wire: '20 AWG', length: '200 mm' }
const short = { only: { length: '100 mm', feeders } }

describe('one fault with its loads solved again', () => {
  const report = calculateTrack({
    track: trackOf({ bus, sections: short }),
    rollingStock: stockOf({ loco: { running: '2 A', section: 'only' } }),
    sources,
  })

  it('an open feeder leaves no feed and no figure', () => {
    const open = report.faults.list.filter((f) => f.kind === 'open feeder')
    expect(open).toHaveLength(2)
    for (const f of open) {
      expect(f.state).toBe('no feed')
      expect(f.volt).toBeUndefined()
    }
  })

  it('a swapped feeder never lifts the rails above the supply', () => {
    const swapped = report.faults.list.find((f) => f.kind === 'swapped feeder')!
    expect(swapped.state).toBe('solved')
    expect(swapped.volt).toBeCloseTo(report.trains[0]!.volt.low, 3)
  })

  it('no fault of a row of sections lifts the rails above the supply', () => {
    const row = { line: { count: 5, length: '1 m', feeders: { ...feeders, at: '0 m', step: '2 m' } } }
    const list = calculateTrack({
      track: trackOf({ bus, sections: row }),
      rollingStock: stockOf({
        a: { running: '2 A', section: 'line.2' },
        b: { running: '1 A', load: 'power', section: 'line.5' },
      }),
      sources,
    }).faults.list
    expect(list.length).toBeGreaterThan(20)
    for (const f of list) if (f.volt !== undefined) expect(f.volt).toBeLessThanOrEqual(16)
  })
})

it('the worst is never better than the trains where they stand', () => {
  const report = calculateTrack({
    track: trackOf({ bus, sections: { only: { length: '1 m', feeders } } }),
    rollingStock: stockOf({
      a: { running: '1 A', section: 'only' },
      b: { running: '1 A', section: 'only' },
    }),
    sources,
  })
  const standing = Math.min(...report.trains.map((t) => t.volt.low))
  expect(report.envelope!.volt).toBeLessThanOrEqual(standing + 1e-9)
  expect(report.envelope!.boundVolt).toBeLessThanOrEqual(report.envelope!.volt + 1e-9)
})

it('a feeder the wrong way round breaks polarity', () => {
  const judge = (swapped: boolean) =>
    calculateTrack({
      track: trackOf({
        bus,
        sections: {
          line: { count: 2, length: '1 m', feeders: [feeders, { ...feeders, first: 2, swapped }] },
        },
      }),
      sources,
    }).evidence.find((e) => e.clause === 'polarity')!.verdict
  expect(judge(false)).toBe('met')
  expect(judge(true)).toBe('broken')
})

it('as many trains stand on a section as its length holds', () => {
  const worst = (length: string) =>
    calculateTrack({
      track: trackOf({ bus, sections: { only: { length: '3 m', feeders } } }),
      rollingStock: stockOf({ a: { running: '0.5 A', length, count: 3 } }),
      sources,
    }).envelope!
  expect(worst('1 m').arrangement).toHaveLength(3)
  expect(worst('2 m').arrangement).toHaveLength(1)
  expect(worst('1 m').volt).toBeLessThan(worst('2 m').volt)
})

it('nothing that stands draws nothing, not even a rounding error', () => {
  const { districts } = calculateTrack({ track: trackOf({ bus, sections: short }), sources })
  expect(Object.is(districts[0]!.loadAmp.low, 0) && Object.is(districts[0]!.loadAmp.high, 0)).toBe(true)
})
