/** Faults of supply, driver, current sense and trip. Weights and degrees are common practice, no source. */
import type { DistrictFacts, Station } from '../model/station.js'
import { type Effects, type FaultAt, type FaultKindEntry, readingKey, type Wave } from './effects.js'

const DEAD: Wave = { ac: 0, dc: 0 }

function eachSupply(
  station: Station,
  words: (name: string) => string,
  share: [number, number],
  ohm: [number, number],
  extra: Partial<Effects> = {},
): FaultAt[] {
  const names = new Set([...station.districts.values()].map((d) => d.stage.supplyName))
  return [...names].map((name) => ({
    place: `supply ${name}`,
    words: words(name),
    forms: [
      {
        supplies: new Map([
          [name, { share: { low: share[0], high: share[1] }, ohm: { low: ohm[0], high: ohm[1] } }],
        ]),
        ...extra,
      },
    ],
  }))
}

export function districtsOf(station: Station, isMeant: (d: DistrictFacts) => boolean): string[] {
  return [...station.districts].flatMap(([name, d]) => (isMeant(d) ? [name] : []))
}

function waves(station: Station, driver: string, wave: Wave): Map<string, Wave> {
  return new Map(districtsOf(station, (d) => d.stage.driverName === driver).map((name) => [name, wave]))
}

function eachDriver(station: Station, fault: (name: string) => Omit<FaultAt, 'place'>): FaultAt[] {
  const names = new Set([...station.districts.values()].map((d) => d.stage.driverName))
  return [...names].map((name) => ({ place: `driver ${name}`, ...fault(name) }))
}

/** One half stays at a level while the other one switches. */
function half(station: Station, driver: string, side: 'A' | 'B', level: string): Partial<Effects> {
  const up = (level === 'high') === (side === 'A')
  return {
    waves: waves(station, driver, { ac: 0.5, dc: up ? 0.5 : -0.5 }),
    words: new Map([[readingKey(`driver ${driver}`, side === 'A' ? 'half A' : 'half B'), level]]),
    trains: 'perhaps',
  }
}

function eachDistrict(
  station: Station,
  isMeant: (d: DistrictFacts) => boolean,
  fault: (name: string, d: DistrictFacts) => Omit<FaultAt, 'place'>,
): FaultAt[] {
  return districtsOf(station, isMeant).map((name) => ({
    place: `district ${name}`,
    ...fault(name, station.districts.get(name)!),
  }))
}

/** The station believes in so many times the true current. */
function sensed(name: string, low: number, high: number, bySense: boolean): Partial<Effects> {
  const reported = readingKey(`district ${name}`, 'reported current')
  const trip = readingKey(`district ${name}`, 'trip current')
  return {
    figures: new Map([
      [reported, { times: { low, high } }],
      ...(bySense ? ([[trip, { times: { low: 1 / high, high: 1 / low } }]] as const) : []),
    ]),
  }
}

const hasSense = (d: DistrictFacts) => d.stage.district.sense !== undefined

/** The reference that is taken by mistake: the logic supply for the chip's own, and the other way round. */
function otherReference(volt: number): number {
  return volt > 2.5 ? 1.1 : 5
}

export const POWER_FAULTS = {
  'supply-dead': {
    title: 'supply off or dead',
    weight: 4,
    causes: ['nothing moves'],
    at: (s) => eachSupply(s, (n) => `the supply ${n} gives nothing`, [0, 0], [0, 0], { trains: 'stand' }),
  },
  'supply-weak': {
    title: 'supply set or chosen too low',
    weight: 3,
    causes: ['stops at one place'],
    at: (s) => eachSupply(s, (n) => `the supply ${n} gives too little voltage`, [0.65, 0.85], [0, 0]),
  },
  'supply-sagging': {
    title: 'supply that sags under load',
    weight: 3,
    causes: ['stops at one place', 'forgets', 'trips while running'],
    at: (s) => eachSupply(s, (n) => `the supply ${n} sags under load`, [0.99, 1.01], [1.5, 4]),
  },
  'half-dead': {
    title: 'one half-bridge dead',
    weight: 2,
    causes: ['does not move', 'runs away', 'reads fail', 'hot driver'],
    at: (s) =>
      eachDriver(s, (n) => ({ words: '', forms: [] as Partial<Effects>[], n })).flatMap(({ place }) =>
        (['A', 'B'] as const).map((side) => ({
          place,
          words: `half ${side} of ${place} is dead and stays at one level`,
          forms: ['low', 'high'].map((level) => half(s, place.slice('driver '.length), side, level)),
        })),
      ),
  },
  'half-wave': {
    title: 'half-wave output',
    weight: 2,
    causes: ['does not move', 'runs away', 'reads fail'],
    at: (s) =>
      eachDriver(s, () => ({ words: '', forms: [] })).flatMap(({ place }) =>
        (['A', 'B'] as const).map((side) => ({
          place,
          words: `half ${side} of ${place} no longer drives one of its levels: half-wave output`,
          forms: [half(s, place.slice('driver '.length), side, 'floats')],
        })),
      ),
  },
  'driver-hot': {
    title: 'driver badly cooled',
    weight: 3,
    causes: ['hot driver', 'trips while running'],
    at: (s) =>
      eachDriver(s, (n) => ({
        words: `the driver ${n} is badly cooled`,
        forms: [
          {
            figures: new Map([
              [readingKey(`driver ${n}`, 'temperature'), { times: { low: 1.6, high: 2.6 } }],
            ]),
          },
        ],
      })),
  },
  'fuse-blown': {
    title: 'fuse blown',
    weight: 5,
    causes: ['nothing moves'],
    at: (s) =>
      eachDistrict(
        s,
        (d) => d.stage.district.fuse !== undefined,
        (n) => ({
          words: `the fuse of district ${n} is blown`,
          forms: [
            { waves: new Map([[n, DEAD]]), words: new Map([[readingKey(`district ${n}`, 'fuse'), 'blown']]) },
          ],
        }),
      ),
  },
  'sense-gain': {
    title: 'wrong gain of the current sense',
    weight: 3,
    causes: ['never trips', 'trips at power-up', 'trips while running', 'reads fail'],
    at: (s) =>
      eachDistrict(s, hasSense, (n, d) => ({
        words: `the current sense of district ${n} has a wrong gain or resistor`,
        forms: [
          sensed(n, 0.08, 0.12, d.trip?.bySense ?? false),
          sensed(n, 0.4, 0.6, d.trip?.bySense ?? false),
          sensed(n, 1.8, 2.4, d.trip?.bySense ?? false),
          sensed(n, 8, 12, d.trip?.bySense ?? false),
        ],
      })),
  },
  'sense-reference': {
    title: 'wrong reference of the converter',
    weight: 4,
    causes: ['never trips', 'trips at power-up', 'reads fail'],
    at: (s) => {
      const meant = districtsOf(s, hasSense)
      if (meant.length === 0) return []
      const effects = meant.map((n) => {
        const d = s.districts.get(n)!
        const { reference } = d.stage.district.sense!
        const times = reference / otherReference(reference)
        return { n, reference, effect: sensed(n, times * 0.95, times * 1.05, d.trip?.bySense ?? false) }
      })
      const other = otherReference(effects[0]!.reference)
      return [
        {
          place: 'controller',
          words: `the converter takes a reference of about ${other} V instead of ${effects[0]!.reference} V`,
          forms: [
            {
              figures: new Map([
                ...effects.flatMap((e) => [...e.effect.figures!]),
                [readingKey('controller', 'reference'), { set: { low: other * 0.97, high: other * 1.03 } }],
              ]),
            },
          ],
        },
      ]
    },
  },
  'trip-set-wrong': {
    title: 'trip current set wrong',
    weight: 3,
    causes: ['never trips', 'trips at power-up', 'trips while running'],
    at: (s) =>
      eachDistrict(
        s,
        (d) => d.trip !== undefined,
        (n) => ({
          words: `the trip current of district ${n} is set wrong`,
          forms: [
            [0.3, 0.6],
            [1.7, 2.5],
          ].map(([low, high]) => ({
            figures: new Map([
              [readingKey(`district ${n}`, 'trip current'), { times: { low: low!, high: high! } }],
            ]),
          })),
        }),
      ),
  },
} as const satisfies Record<string, FaultKindEntry>
