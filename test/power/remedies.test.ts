/**
 * What would help: the remedy that a finding names, carried out with figures. For each design that fails, one of its remedy's ways
 * must make the clause met and no other clause worse; and each way must help somewhere, or it would be an empty word.
 */
import { describe, expect, it } from 'vitest'
import { POWER_FINDINGS } from '../../src/power/findings.data.js'
import type { Evidence } from '../../src/standard/index.js'
import { trackFindings } from '../../src/track/findings.data.js'
import { HOSTILE_PARTS } from '../track/hostile-parts.js'
import { OWN_BRIDGE, ofWest, READ_SHUNT } from '../track/spoiled.js'
import { changed, evidenceOf, one, type Part } from '../track/station.js'

const supply = (own: Part) => ofWest('supplies', own)
const driver = (own: Part) => ofWest('drivers', own)
const district = (own: Part) => ofWest('districts', own)
const inAmps = (amps: number[], of: (amp: string) => Part) => amps.map((a) => of(`${a} A`))

const LOWER_TRIP = inAmps([1.6, 1.3, 1, 0.7], (current) => district({ trip: { current } }))
const SOONER = ['10 ms', '1 ms', '0.1 ms'].map((after) => district({ trip: { after } }))
const AT_ONCE = { capacitance: '0 F', limitResponse: '0 us' }
const STRONGER_SUPPLY = inAmps([3, 4, 5], (amp) =>
  supply({ ...AT_ONCE, limit: 'constant', rating: amp, limitCurrent: amp }),
)
const LESS_SUPPLY = inAmps([4, 3.3, 3], (amp) =>
  supply({ ...AT_ONCE, limit: 'constant', rating: '3 A', limitCurrent: amp }),
)
const OTHER_DRIVER = [driver({ part: 'DRV8874', figures: null })]
const COOLER = [25, 18, 12, 8].map((k) => driver({ cooling: { junctionToAmbient: `${k} K/W` } }))
const THICKER_WIRE = ['0.75 mm2', '1.5 mm2', '2.5 mm2'].map((wire) => ({
  track: { bus: { west: { wire } }, sections: { line: { feeders: { wire } } } },
}))

/** By the code of the finding, what its remedy says to do: words of it, and figures to try from the least to the most. */
const WAYS: Record<string, Record<string, Part[]>> = {
  'power/short-trips': {
    'trip sooner': SOONER,
    'a supply that gives less': LESS_SUPPLY,
    'cool the driver better': COOLER,
    'use a driver': OTHER_DRIVER,
  },
  'power/short-unseen': {
    'Give the highest output': [district({ sense: { amplifierOutputMax: '4.98 V' } })],
    'lower the trip current': LOWER_TRIP,
    'the gain': [20, 10].map((gain) => district({ sense: { gain } })),
  },
  'power/short-stays': {
    'Lower the trip current': LOWER_TRIP,
    'a supply that is sure to give more': STRONGER_SUPPLY,
  },
  'power/short-cannot-trip': {
    'Let a breaker trip': [district({ trip: { by: 'breaker', after: '1 ms' } })],
    'with another driver': [
      {
        power: {
          districts: { west: { trip: { by: 'breaker' } } },
          drivers: { west: { part: 'DRV8874', figures: null } },
        },
      },
    ],
  },
  'power/short-again': {
    'trip sooner': SOONER,
    'wait longer': ['2 s', '20 s', '200 s'].map((again) => district({ trip: { again } })),
  },
  'power/short-unrated': {
    'Enter the missing figures': ['10 A', '40 A', '300 A'].map((peak) =>
      driver({ figures: { continuous: '8 A', peak } }),
    ),
  },
  'power/short-pulse': {
    'a driver that limits its current': OTHER_DRIVER,
    'enter the supply’s output capacitance': [supply({ capacitance: '0 F', limitResponse: '0 us' })],
  },
  'power/service-flows': {
    'Set its trip so low': [district({ trip: { current: '0.22 A' } })],
  },
  'power/driver-heat': {
    'Cool it better': COOLER,
    'lower the trip current': LOWER_TRIP,
  },
  'power/driver-supply': {
    'another voltage': [13, 14, 15, 16, 18].map((v) => supply({ voltage: `${v} V` })),
    'thicker cable': [supply({ resistance: '20 mOhm' })],
    'another driver': OTHER_DRIVER,
  },
  'power/driver-current': { 'Lower the trip current': LOWER_TRIP, 'a stronger driver': OTHER_DRIVER },
  'power/supply-trips': { 'a stronger supply': STRONGER_SUPPLY, 'lower the trip current': LOWER_TRIP },
  'power/sense-stress': {
    'lower resistance': [0.1, 0.05].map((ohm) => district({ sense: { resistance: `${ohm} Ohm` } })),
    'higher power rating': [2, 5, 20].map((w) => district({ sense: { power: `${w} W` } })),
    'a resistor in series': [district({ sense: { series: '10 kOhm' } })],
  },
  'power/fuse': {
    'Choose the rating': inAmps([2, 2.5, 3, 4], (fuse) => district({ fuse })),
    'a kind that can interrupt': [supply({ fuseBreaking: '500 A' }), district({ fuseBreaking: '500 A' })],
  },
  'power/supply-overload': {
    'a stronger supply': STRONGER_SUPPLY,
    'lower the trip current': LOWER_TRIP,
    'let a breaker trip': [district({ trip: { by: 'breaker', after: '1 ms' } })],
  },
  'power/dead-level': {
    'a pull resistor': [
      driver({
        pins: [
          { name: 'IN1', role: 'direction', wired: 'PB6' },
          { name: 'sleep', role: 'enable', wired: 'PA0', pull: 'low' },
        ],
      }),
    ],
  },
  'track/conductor-heat': {
    'thicker wire': THICKER_WIRE,
    'lower the trip current': LOWER_TRIP,
    'by itself': [{ track: { bus: { west: { laid: 'alone' } } } }],
  },
  'track/joint-heat': {
    'Solder the joint': [{ track: { sections: { line: { joiner: 'soldered' } } } }],
    'a higher rating': [10, 20, 50].map((a) => ({
      track: { bus: { west: { connector: { rating: `${a} A` } } } },
    })),
    'cleaner contacts': [
      { track: { bus: { west: { connector: { contact: '10 mOhm' } } } } },
      { track: { bus: { west: { switch: { contact: '10 mOhm' } } } } },
    ],
  },
  'track/terminator-heat': {
    'higher rated power': [{ track: { bus: { west: { terminator: { power: '2 W' } } } } }],
    'a smaller capacitor': [{ track: { bus: { west: { terminator: { capacitance: '50 nF' } } } } }],
  },
}

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

const RANK = { met: 2, undecided: 1, broken: 0 } as const
const rankOf = (e: Evidence) => RANK[e.verdict as keyof typeof RANK]
const verdicts = (evidence: readonly Evidence[]) => {
  const worst = new Map<string, number>()
  for (const e of evidence) {
    const key = `${e.clause} ${e.about ?? ''}`
    worst.set(key, Math.min(worst.get(key) ?? 2, rankOf(e)))
  }
  return worst
}

function judged(design: Part): Evidence[] | undefined {
  try {
    return evidenceOf(design)
  } catch {
    // A figure that contradicts another: that way is none here.
    return undefined
  }
}

const failing = (evidence: readonly Evidence[]) =>
  evidence.filter((e) => e.verdict !== 'met' && e.finding && WAYS[e.finding.code] !== undefined)

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
