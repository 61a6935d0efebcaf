/**
 * What would help: the remedy that a finding names, carried out with figures. For each design that fails, one of its remedy's ways
 * must make the clause met and no other clause worse; and each way must help somewhere, or it would be an empty word.
 */
import { describe, expect, it } from 'vitest'
import { POWER_FINDINGS } from '../../src/power/findings.data.js'
import { trackFindings } from '../../src/track/findings.data.js'
import { HOSTILE_PARTS } from '../track/hostile-parts.js'
import { OWN_BRIDGE, READ_SHUNT } from '../track/spoiled.js'
import { changed, evidenceOf, one, type Part } from '../track/station.js'
import { district, driver, failing, judged, supply, verdicts, WAYS } from './ways.js'

const AT_ONCE = { capacitance: '0 F', limitResponse: '0 us' }
const CUSTOM = { part: 'custom', figures: OWN_BRIDGE }
const shunt = (own: Part) =>
  district({ trip: { by: 'sense', samples: 5, after: '100 us' }, sense: { ...READ_SHUNT, ...own } })

/** Each wrong in one thing, at several strengths. */
const SPOILED: Record<string, Part> = {
  ...Object.fromEntries(
    [0.35, 0.6, 2].map((s) => [
      `a breaker that takes ${s} s on a bridge of 10 A behind 8 A`,
      one(
        {},
        changed(
          driver(CUSTOM),
          changed(
            supply({ ...AT_ONCE, rating: '8 A', limitCurrent: '8 A' }),
            district({ trip: { after: `${s} s` } }),
          ),
        ),
      ),
    ]),
  ),
  ...Object.fromEntries(
    [4, 5].map((amp) => [
      `a trip of ${amp} A on a supply of 3 A`,
      one({}, district({ trip: { current: `${amp} A` } })),
    ]),
  ),
  ...Object.fromEntries(
    [60, 80, 120].map((k) => [
      `a driver with ${k} K/W`,
      one({}, driver({ cooling: { junctionToAmbient: `${k} K/W` } })),
    ]),
  ),
  ...Object.fromEntries(
    ['28 AWG', '0.14 mm2', '0.2 mm2'].map((wire) => [
      `feeders of ${wire}`,
      one({ sections: { line: { feeders: { bus: 'west', wire } } } }),
    ]),
  ),
  ...Object.fromEntries(
    [1, 1.5, 2].map((a) => [
      `a connector of ${a} A`,
      one({ bus: { west: { connector: { rating: `${a} A` } } } }),
    ]),
  ),
  ...Object.fromEntries([0.1, 0.4].map((w) => [`a shunt of ${w} W`, one({}, shunt({ power: `${w} W` }))])),
  'a shunt of 0.5 Ohm without a series resistor': one(
    {},
    shunt({ resistance: '0.5 Ohm', series: null, power: '10 W' }),
  ),
  'a fuse of 0.5 A': one({}, district({ fuse: '0.5 A' })),
  'a terminator of 1/2 W': one({ bus: { west: { terminator: { power: '0.5 W' } } } }),
  'bad joiners': one({
    sections: { line: { count: 3, joiner: 'bad', feeders: { bus: 'west', every: 3 } } },
  }),
  'an L298 on any capacitors': one({}, changed(supply({ capacitance: null }), driver({ part: 'L298' }))),
  'a bus of 28 AWG': one({ bus: { west: { wire: '28 AWG' } } }),
  'firmware that cannot switch off': one(
    {},
    changed(
      shunt({}),
      driver({
        pins: [
          { name: 'IN1', role: 'direction', wired: 'PB6' },
          { name: 'sleep', role: 'enable', tied: 'high' },
        ],
      }),
    ),
  ),
  'an enable that is tied': one(
    {},
    driver({
      pins: [
        { name: 'IN1', role: 'direction', wired: 'PB6' },
        { name: 'sleep', role: 'enable', tied: 'high' },
      ],
    }),
  ),
}

describe('what would help', () => {
  const designs = {
    ...SPOILED,
    ...Object.fromEntries(Object.entries(HOSTILE_PARTS).map(([k, v]) => [k, v.design])),
  }
  const helped = new Map<string, number>()
  const tried = new Map<string, number>()

  it.each(Object.entries(designs))('%s: one of the ways mends the clause and harms no other', (_, design) => {
    const before = evidenceOf(design)
    const was = verdicts(before)
    for (const e of failing(before)) {
      const { code } = e.finding!
      const cured = Object.entries(WAYS[code]!).filter(([way, figures]) => {
        tried.set(`${code}: ${way}`, (tried.get(`${code}: ${way}`) ?? 0) + 1)
        return figures.some((change) => {
          const after = judged(changed(design, change))
          if (!after) return false
          const is = verdicts(after)
          const key = `${e.clause} ${e.about ?? ''}`
          // A statement that is gone mends nothing and harms nothing only where others of its clause are all met.
          const ranked = (k: string) => {
            const others = after.filter((x) => x.clause === k.split(' ')[0])
            return is.get(k) ?? (others.length > 0 && others.every((x) => x.verdict === 'met') ? 2 : -1)
          }
          return ranked(key) > was.get(key)! && [...was].every(([k, rank]) => ranked(k) >= rank)
        })
      })
      for (const [way] of cured) helped.set(`${code}: ${way}`, (helped.get(`${code}: ${way}`) ?? 0) + 1)
      expect(cured.length, `${code} of ${e.because}`).toBeGreaterThan(0)
    }
  })

  it('each way that was tried has helped somewhere, and stands in the words of its remedy', () => {
    const idle = [...tried.keys()].filter(
      (way) => !helped.has(way) && WAYS[way.split(': ')[0]!]![way.split(': ')[1]!]!.length > 0,
    )
    expect(idle).toEqual([])
    for (const code of Object.keys(WAYS)) {
      const [room, name] = code.split('/') as [string, never]
      const { remedy } = (room === 'power' ? POWER_FINDINGS : trackFindings).meanings[name] as {
        remedy: string
      }
      for (const way of Object.keys(WAYS[code]!)) expect(remedy).toContain(way)
    }
  })
})
