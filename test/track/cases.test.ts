/** Cases that railroads really have: one shared rail, brown-outs, accessories on the bus, trains that reverse nothing. */
import { describe, expect, it } from 'vitest'
import { trackText } from '../../src/cli/track-text.js'
import { calculateTrack, modelTrack } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const two = new Map([
  ['one', sourceOf(15)],
  ['two', sourceOf(15)],
])
const BUS = {
  west: { district: 'one', wire: '14 AWG', length: '4 m' },
  east: { district: 'two', wire: '14 AWG', length: '4 m' },
}

describe('one shared rail', () => {
  const track = (gap: string, turned: boolean) =>
    trackOf({
      bus: BUS,
      sections: {
        a: { length: '1 m', to: 'j', feeders: { bus: 'west', at: '1 m' } },
        b: { length: '1 m', ...(turned ? { to: 'j' } : { from: 'j' }), feeders: { bus: 'east', at: '1 m' } },
      },
      joints: { j: { gap } },
    })

  it.each(['left', 'right'])('is remarked and solved, with the %s rail cut', (gap) => {
    for (const turned of [false, true]) {
      const input = {
        track: track(gap, turned),
        rollingStock: stockOf({ t: { running: '1 A', section: 'b' } }),
        sources: two,
      }
      const report = calculateTrack(input, { ringing: false })
      expect(report.findings.map((f) => f.text).join(' ')).toMatch(/share one rail/)
      const amp = Object.fromEntries(report.districts.map((d) => [d.name, d.loadAmp.low]))
      expect(amp['two']).toBeCloseTo(1, 6)
      expect(amp['one']).toBeCloseTo(0, 6)
      // "left" is told along section a, which comes first: the rail on its left is cut, whichever way b is written.
      const { plan } = modelTrack(input)
      expect([plan.joints[0]!.gapL, plan.joints[0]!.gapR]).toEqual(
        gap === 'left' ? [true, false] : [false, true],
      )
    }
  })
})

describe('too little voltage', () => {
  it('browns out behind thin wire, and is said to', () => {
    const report = calculateTrack({
      track: trackOf({
        bus: { bus: { district: 'one', wire: '30 AWG', length: '12 m' } },
        sections: { a: { length: '1 m', feeders: { wire: '30 AWG', length: '1 m' } } },
      }),
      rollingStock: stockOf({ big: { running: '1.5 A', section: 'a' } }),
      sources: two,
    })
    const [train] = report.trains
    expect(train!.brownOut).toBe(true)
    expect(train!.volt.low).toBeGreaterThan(0)
    expect(train!.volt.low).toBeLessThan(7)
    // A decoder that is off draws less than it wants.
    expect(train!.amp.low).toBeLessThan(1.5)
    expect(report.findings.some((f) => f.severity === 'error' && /browns out/.test(f.text))).toBe(true)
    expect(report.evidence.find((e) => e.clause === 'voltage-drop')!.verdict).toBe('broken')
    expect(report.envelope).toMatchObject({ place: expect.stringMatching(/^a/), brownOut: true })
    expect(trackText(report, { width: 2000, all: false }).join('\n')).toMatch(
      /Decoders would switch off there/,
    )
  })

  it('is not met by a range that only its better end would meet', () => {
    const at = (length: string) =>
      calculateTrack({
        track: trackOf({
          bus: { bus: { district: 'one', wire: '18 AWG', length: '3 m' } },
          defaults: { rail: 55 },
          sections: { a: { length, feeders: { place: '0 m' } } },
        }),
        rollingStock: stockOf({ big: { running: '1 A', section: 'a', at: length } }),
        sources: two,
      }).evidence.find((e) => e.clause === 'voltage-drop')!.verdict
    expect(at('0.5 m')).toBe('met')
    expect(at('2.2 m')).toBe('undecided')
    expect(at('9 m')).toBe('broken')
  })
})

describe('accessories', () => {
  it('draw from the bus where they hang on it', () => {
    const volt = (extra: object) =>
      calculateTrack({
        track: trackOf({
          bus: { bus: { district: 'one', wire: '20 AWG', length: '5 m' } },
          sections: { a: { length: '1 m', feeders: { at: '5 m' } } },
          ...extra,
        }),
        sources: two,
      }).sections[0]!.volt.high
    const bare = volt({})
    const lamps = volt({
      accessories: { lamps: { current: '0.5 A', load: 'resistor', bus: 'bus', at: '4 m' } },
    })
    expect(bare).toBeCloseTo(15, 6)
    // 4 m of two wires AWG 20 and the source, in series with 30 Ohm.
    const wire = ((2 * 4 * 33.3) / 1000) * (1 + 0.00393 * 10)
    expect(lamps).toBeCloseTo((15 * 30) / (30 + wire + 0.1), 2)
  })
})

describe('a train on no section', () => {
  it('counts in the worst case only', () => {
    const report = calculateTrack({
      track: trackOf({
        bus: { bus: { district: 'one', wire: '18 AWG', length: '5 m' } },
        sections: { a: { length: '3 m', feeders: {} } },
      }),
      rollingStock: stockOf({ shelf: { running: '1 A' } }),
      sources: two,
    })
    expect(report.districts[0]!.loadAmp.high).toBeCloseTo(0, 9)
    expect(report.envelope!.volt).toBeLessThan(14.9)
  })
})
