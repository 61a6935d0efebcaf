/** What remedies say to do, with figures, and whether that helps a design. */
import type { Evidence } from '../../src/standard/index.js'
import { ofWest } from '../track/spoiled.js'
import { evidenceOf, type Part } from '../track/station.js'

export const supply = (own: Part) => ofWest('supplies', own)
export const driver = (own: Part) => ofWest('drivers', own)
export const district = (own: Part) => ofWest('districts', own)
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
export const WAYS: Record<string, Record<string, Part[]>> = {
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
    'Choose the rating': [...inAmps([2, 2.5, 3, 4], (fuse) => district({ fuse })), ...THICKER_WIRE],
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

const RANK = { met: 2, undecided: 1, broken: 0 } as const
const rankOf = (e: Evidence) => RANK[e.verdict as keyof typeof RANK]
export const verdicts = (evidence: readonly Evidence[]) => {
  const worst = new Map<string, number>()
  for (const e of evidence) {
    const key = `${e.clause} ${e.about ?? ''}`
    worst.set(key, Math.min(worst.get(key) ?? 2, rankOf(e)))
  }
  return worst
}

export function judged(design: Part): Evidence[] | undefined {
  try {
    return evidenceOf(design)
  } catch {
    // A figure that contradicts another: that way is none here.
    return undefined
  }
}

export const failing = (evidence: readonly Evidence[]) =>
  evidence.filter((e) => e.verdict !== 'met' && e.finding && WAYS[e.finding.code] !== undefined)
