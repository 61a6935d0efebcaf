/**
 * Stations whose drivers, senses, contacts and supplies do not do what the figures seem to say, each with a sound neighbour that
 * must stay met. What must come out was worked out by hand before they were run; the sums stand beside them. All invented.
 */
import type { Hostile } from './hostile-designs.js'
import { loop, OWN_BRIDGE, ofWest, READ_SHUNT } from './spoiled.js'
import { changed, one, type Part } from './station.js'

const AT_ONCE = { capacitance: '0 F', limitResponse: '0 us' }

const all = (...parts: Part[]) => parts.reduce((a, b) => joined(a, b), {})

/** As `changed`, but what is taken out is handed on to be taken out. */
function joined(a: Part, b: Part): Part {
  const isPart = (x: unknown): x is Part => typeof x === 'object' && x !== null && !Array.isArray(x)
  const out: Part = { ...a }
  for (const [key, value] of Object.entries(b))
    out[key] = isPart(value) && isPart(out[key]) ? joined(out[key] as Part, value) : value
  return out
}

const supply = (own: Part) => ofWest('supplies', own)
const district = (own: Part) => ofWest('districts', own)
const custom = (own: Part = {}) => ofWest('drivers', { part: 'custom', figures: { ...OWN_BRIDGE, ...own } })
const sensed = (own: Part, trip: Part = {}) =>
  district({
    sense: { ...READ_SHUNT, ...own },
    trip: { by: 'sense', samples: 5, after: '100 us', ...trip },
  })
/** A locomotive that decoders are set in. */
const CALM: Part = { rollingStock: { loco: { running: '0 A', stall: '0.1 A' } } }
const inService: Part = { signal: { outputs: { main: { mode: 'service' } } } }
/** 0.05 Ohm and a gain of 40: 2 V for each ampere. */
const amplified = (own: Part) =>
  sensed({ resistance: '0.05 Ohm', gain: 40, amplifierInputMax: '10 V', ...own })
const hall = (own: Part) =>
  sensed({
    kind: 'hall',
    resistance: null,
    power: null,
    series: null,
    sensitivity: '100 mV',
    amplifierSupply: '5 V',
    ...own,
  })
/** A limit of 4 A that is held, behind a supply that gives 8.9 A. */
const held = (after: string) =>
  one(
    {},
    all(
      supply({ ...AT_ONCE, rating: '8 A', limitCurrent: '8.5 A' }),
      custom({ limit: '4 A', limitMin: '3.8 A', limitMax: '4.2 A', limitDelay: '2 us', atLimit: 'holds' }),
      district({ trip: { after } }),
    ),
  )
/** Half an ohm in the supply's cable: at the 0.6 A of a stalled train, 0.3 V. */
const sagging = (supplyMin: string) =>
  one({}, all(supply({ ...AT_ONCE, voltage: '12.4 V', resistance: '0.5 Ohm' }), custom({ supplyMin })))
/** A rake of lit coaches beside the locomotive. */
const coaches = (running: string, load: string) =>
  one({}, { rollingStock: { coaches: { running, load, length: '600 mm' } } })
const strongSupply = (amp: string) => supply({ ...AT_ONCE, rating: amp, limitCurrent: amp })

export const HOSTILE_PARTS: Record<string, Hostile> = {
  // An LM358 on 5 V reaches 3 to 3.5 V; the trip at 2 A needs 4 V.
  'an amplifier that may saturate below the trip': {
    design: one({}, amplified({ amplifierSupply: '5 V' })),
    clauses: { 'short-trip': 'undecided', 'short-current': 'undecided' },
    says: /anywhere above 1\.\d+ A, as how high its amplifier goes is not given, and may be 2 V below its supply/,
  },
  // 4 V of a reference 5 % too high are 4.2 V.
  'an amplifier that ends between the nominal trip and that of a high reference': {
    design: one(
      {},
      amplified({ amplifierSupply: '5 V', amplifierOutputMax: '4.1 V', referenceTolerance: '5 %' }),
    ),
    clauses: { 'short-trip': 'undecided' },
    says: /as its amplifier goes no higher/,
  },
  // 4.75 V at rest and 0.2 V at 2 A; such sensors end half a volt below their supply.
  'a Hall sensor at the end of its range': {
    design: one({}, hall({ zero: '4.75 V' })),
    clauses: { 'short-trip': 'undecided' },
    says: /how high its sensor goes is not given/,
  },
  // 0.3 A lit; cold filaments have about a tenth of the resistance, and 3 A for a tenth of a second trip at 2 A.
  'lamps that trip the breaker while they are cold': {
    design: coaches('0.3 A', 'resistor'),
    clauses: { inrush: 'undecided' },
    says: /cold lamps/,
  },
  // 0.3 A lit in all, 1.3 A cold: more than the 1 A that a foldback supply gives into little voltage, so it may never come up.
  'cold lamps on a supply that folds back': {
    design: one(
      {},
      all(
        { rollingStock: { coaches: { running: '0.1 A', load: 'resistor', length: '600 mm' } } },
        supply({ limit: 'foldback', shortCurrent: '1 A' }),
        district({ trip: { current: '3 A' } }),
      ),
    ),
    clauses: { inrush: 'undecided' },
    says: /a foldback supply, which may latch.*cold lamps/,
  },
  // The peak is for 10 us, the breaker takes 1.2 ms; whether 3.5 A may flow for longer nobody says.
  'a driver of which only a peak of 10 us is known': {
    design: one({}, all(supply(AT_ONCE), custom({ continuous: null, peakTime: '10 us' }))),
    clauses: { 'short-trip': 'undecided' },
    says: /withstands up to 10 A for 10 us, and what it carries continuously is not given/,
  },
  // 18.9 A: above the peak of 10 A, and far below the limit of 50 A.
  'a driver whose own limit lies far above its peak': {
    design: one(
      {},
      all(
        strongSupply('18 A'),
        custom({ limit: '50 A', limitDelay: '2 us', atLimit: 'holds', shortProof: true }),
        district({ trip: { current: '4 A' } }),
      ),
    ),
    clauses: { 'short-trip': 'undecided', inrush: 'broken' },
    says: /18\.9 A lie above its stated peak of 10 A, and its own limit does not hold them back/,
  },
  // 15.03 V over 40 mOhm, and 1 mOhm at the least in the supply, are some 370 A until the comparator acts; 10 A are its peak.
  'a limit of the builder, of which no data sheet promises that the bridge survives the time until it acts': {
    design: one(
      {},
      all(
        supply({ rating: '8 A', limitCurrent: '8.5 A' }),
        custom({ limit: '9.5 A', limitMin: '9 A', limitMax: '9.9 A', limitDelay: '4 us', atLimit: 'holds' }),
      ),
    ),
    clauses: { 'short-trip': 'undecided' },
    says: /until custom part limits its current, up to \d+ A may flow; that it withstands a short until then is not in the design/,
  },
  'the same with a battery behind it, and no peak given': {
    design: one(
      {},
      all(
        supply({ limit: 'battery', limitCurrent: null, rating: '20 A', resistance: '20 mOhm', fuse: '5 A' }),
        custom({
          limit: '9 A',
          limitMin: '8 A',
          limitMax: '9.9 A',
          limitDelay: '4 us',
          atLimit: 'holds',
          peak: null,
        }),
      ),
    ),
    clauses: { 'short-trip': 'undecided' },
    says: /until custom part limits its current/,
  },
  // Up to 2.2 A beside nothing: for ever more than the 1.5 A that the supply is rated for, and less than its 3.3 A.
  'a supply between its rating and its limit for ever': {
    design: one({}, supply({ rating: '1.5 A' })),
    clauses: { 'supply-current': 'broken' },
    says: /1\.8 A to 2\.2 A may flow in district west continuously.*rated 1\.5 A/,
  },
  'a supply whose rating lies within the band of the trip': {
    design: one({}, supply({ rating: '2 A' })),
    clauses: { 'supply-current': 'undecided' },
  },
  // At 70 °C a resettable fuse holds 0.65 − 10 · 0.0095 = 0.555 of its 1 A.
  'a resettable fuse in hot air': {
    design: one(
      {},
      all(
        { power: { ambient: '70 C' }, rollingStock: { loco: { stall: '0.62 A' } } },
        district({ fuse: '1 A', fuseKind: 'resettable' }),
      ),
    ),
    clauses: { fuse: 'undecided' },
    says: /in air of up to 70 °C it carries 55\.5 % of its rating/,
  },
  // 2.2² A² · 0.5 Ohm are 2.4 W; clean contacts of 10 A have 10 mOhm, and 1 W at their rating.
  'a large connector with burnt contacts': {
    design: one({ bus: { west: { connector: { rating: '10 A', contact: '0.5 Ohm' } } } }),
    clauses: { 'joint-heat': 'undecided' },
    says: /2\.42 times the heat that clean ones make at their rating/,
  },
  'a driver that holds its limit in place of a trip': {
    design: one(
      {},
      all(
        strongSupply('5 A'),
        custom({ limit: '2 A', limitMin: '1.9 A', limitMax: '2.1 A', limitDelay: '2 us', atLimit: 'holds' }),
        district({ trip: { by: 'driver' } }),
      ),
    ),
    clauses: { 'short-trip': 'broken' },
    says: /at its own limit the driver holds the current and never switches off/,
  },
  // 15 V and 4.2 A are 63 W; 1.5 K/W of the die warm by 95 K, and those behind it go on.
  'a driver that holds a short at its own limit for 300 ms': {
    design: held('300 ms'),
    clauses: { 'short-trip': 'broken' },
    says: /held by custom part at its own limit with up to 15 V across it/,
  },
  // 2.2² A² · 1 Ohm are 4.8 W in a contact that is rated for 5 A.
  'a corroded connector': {
    design: one({ bus: { west: { connector: { rating: '5 A', contact: '1 Ohm' } } } }),
    clauses: { 'joint-heat': 'undecided' },
    says: /contacts of bus west, rated 5 A, may have 1000 mOhm/,
  },
  'a hand switch with burnt contacts': {
    design: one({
      bus: { west: { switch: { kind: 'off-on', contact: '1 Ohm' }, connector: { rating: '5 A' } } },
    }),
    clauses: { 'joint-heat': 'undecided' },
  },
  // 12.38 V less 0.3 V.
  'a supply that falls below what its driver needs at the worst load': {
    design: sagging('12.2 V'),
    clauses: { 'driver-current': 'broken' },
    says: /12\.1 V at the worst load of 600 mA, below the 12\.2 V it needs/,
  },
  'a service track that lets 1.8 A flow for ever': {
    design: one({}, all(inService, CALM, district({ trip: { after: '50 ms' } }))),
    clauses: { 'short-trip': 'broken' },
    says: /up to 2.2 A can flow on the service track and not trip; more than 250 mA may flow there for no longer than 100 ms/,
  },
  // 250 mA less or more the 10 % of a breaker.
  'a service track that trips at its limit, give or take': {
    design: one({}, all(inService, CALM, district({ trip: { current: '0.25 A', after: '50 ms' } }))),
    clauses: { 'short-trip': 'undecided' },
    says: /up to 275 mA can flow on the service track/,
  },
  'a service track that trips a little above its limit': {
    design: one({}, all(inService, district({ trip: { current: '270 mA' } }))),
    clauses: { 'short-trip': 'undecided' },
  },
  // 15 V over 0.2 Ohm and the driver's 0.2 Ohm are 36 A for 3 us, before it limits its current.
  'a converter pin in the microseconds before the driver limits its current': {
    design: one({}, sensed({ resistance: '0.2 Ohm', series: null, filter: '0 us' })),
    clauses: { 'sense-stress': 'undecided' },
    says: /a short of 3\d(\.\d)? A puts 7\.\d+ V on the converter pin/,
  },
  // The trip lies anywhere from 1.8 to 2.26 A: that makes 157 °C, 2.1 A would make 140 °C.
  'a reference inside the controller, whose tolerance nobody gives': {
    design: one(
      {},
      all(
        ofWest('drivers', { cooling: { junctionToAmbient: '59 K/W' } }),
        sensed({ reference: '1.1 V', resistance: '0.2 Ohm' }),
      ),
    ),
    clauses: { 'driver-heat': 'undecided' },
    says: /± 11 %|2\.2\d A/,
  },
}

export const SOUND_PARTS: Record<string, Part> = {
  'a limit of the builder that holds, with the promise of its data sheet': one(
    {},
    all(
      supply({ rating: '8 A', limitCurrent: '8.5 A' }),
      custom({
        limit: '9.5 A',
        limitMin: '9 A',
        limitMax: '9.9 A',
        limitDelay: '4 us',
        atLimit: 'holds',
        shortProof: true,
      }),
    ),
  ),
  'firmware that trips over a shunt': one({}, sensed({})),
  'an amplifier whose output reaches its supply': one(
    {},
    amplified({ amplifierSupply: '5 V', amplifierOutputMax: '4.95 V' }),
  ),
  'an amplifier far from its end': one({}, amplified({ amplifierSupply: '5 V', gain: 20 })),
  'a Hall sensor in the middle of its range': one({}, hall({ zero: '2.5 V', sensitivity: '185 mV' })),
  'a custom bridge with its peak for a time and its continuous current': one(
    {},
    all(supply(AT_ONCE), custom({ peakTime: '10 us' })),
  ),
  'a custom bridge with a limit above what a short draws': one(
    {},
    all(supply(AT_ONCE), custom({ limit: '12 A', limitMin: '9 A', limitDelay: '2 us', atLimit: 'holds' })),
  ),
  'a connector with contacts of 20 mOhm': one({
    bus: { west: { connector: { rating: '5 A', contact: '20 mOhm' } } },
  }),
  'a connector with poorer contacts and rating to spare': one({
    bus: { west: { connector: { rating: '10 A', contact: '100 mOhm' } } },
  }),
  'a supply that sags, but not below what its driver needs': sagging('12 V'),
  'a service track that trips at its limit': one(
    {},
    all(inService, CALM, district({ trip: { current: '0.22 A', after: '50 ms' } })),
  ),
  'a shunt of 0.2 Ohm behind a series resistor': one({}, sensed({ resistance: '0.2 Ohm' })),
  'a reference inside the controller, with a driver that has room for it': one(
    {},
    sensed({ reference: '1.1 V', resistance: '0.2 Ohm' }),
  ),
  'a loop on a reverser of 100 mOhm': loop(
    {},
    {},
    { turn: { reverser: { trip: '1 A', time: '0.3 ms', resistance: '100 mOhm' } } },
  ),
  'a supply without resistance': one({}, supply({ resistance: '0 Ohm' })),
  'a hot corner with room': one({}, { power: { ambient: '60 C' } }),
  'a fuse before the breaker': one({}, district({ fuse: '3 A' })),
  'a track of 60 °C on thick wire': one({ temperature: '50 C' }),
  'the same light from diodes': coaches('0.3 A', 'current'),
  'lamps whose cold current is no more than a stalled motor': coaches('0.03 A', 'resistor'),
  'two trains': one({}, { rollingStock: { loco: { count: 2 } } }),
}

/** What the reader refuses, and why. */
export const REFUSED: Record<string, [Part, RegExp]> = {
  'a trip above where the driver chops by its own sense': [
    one({}, sensed({ kind: 'mirror', resistance: '5 kOhm', power: null })),
    /2 A cannot be read: the current sense ends at 1\.47 A/,
  ],
  'more samples than the converter makes': [
    one({}, changed(sensed({ rate: '1000000 /s' }), read())),
    /the converter of the ATmega2560 makes 76900 \/s in all/,
  ],
  'more bits than the converter has': [
    one({}, changed(sensed({ bits: 16 }), read())),
    /the converter of the ATmega2560 has 10 bits; found 16/,
  ],
  'a way to the air that is shorter than that to the case': [
    one({}, ofWest('drivers', { part: 'L298', cooling: { junctionToAmbient: '1 K/W' } })),
    /1 K\/W to the air is less than the 3 K\/W to the case of the L298/,
  ],
}

function read(): Part {
  return ofWest('drivers', {
    pins: [
      { name: 'phase', role: 'direction', wired: 'PB6' },
      { name: 'sleep', role: 'enable', wired: 'PA0', pull: 'low' },
      { name: 'shunt', role: 'sense', wired: 'PF0' },
    ],
  })
}
