/** Stations that would hurt hardware or people, each with what must be said of it, and sound ones that must stay met. All invented. */
import {
  bothDrivers,
  commonRail,
  deadStretch,
  drivers,
  isolator,
  LONG_TRAIN,
  loop,
  NO_PINS,
  ofWest,
  PTC,
  REVERSER,
  SERVICE,
  SHUNT,
  STRONG,
  sidings,
  turntable,
  wye,
  yard,
} from './spoiled.js'
import { changed, inputs, one, type Part, station, two } from './station.js'

export interface Hostile {
  /** What is wrong with it, in a few words. */
  design: Part
  clauses: Record<string, 'broken' | 'undecided'>
  says?: RegExp
}

/** A line across the line of district west. */
function crossed(district: string): Part {
  const arm = (end: string, bus: string) => ({ length: '1 m', to: `X.${end}`, feeders: { bus } })
  return {
    sections: {
      w1: arm('a1', 'west'),
      w2: arm('a2', 'west'),
      e1: arm('b1', district),
      e2: arm('b2', district),
    },
    crossings: { X: {} },
  }
}

export const HOSTILE: Record<string, Hostile> = {
  'a wye without gaps': { design: wye({}, {}), clauses: { polarity: 'broken' } },
  'a wye with a leg gapped, and fed like the rest': {
    design: wye({}, { ab: { gaps: 'both' } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a wye with a reverser on its tail only': {
    design: wye(REVERSER, { tail: { gaps: 'to', feeders: { bus: 'turn' } } }),
    clauses: { polarity: 'broken' },
  },
  'a wye whose reversed leg is cut at one end': {
    design: wye(REVERSER, { ab: { gaps: 'from', feeders: { bus: 'turn' } } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a wye whose reversed leg is shorter than the train': {
    design: wye(REVERSER, { ab: { gaps: 'both', feeders: { bus: 'turn' } } }, LONG_TRAIN),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
    says: /1 m of track between the gaps at A\.straight and at B\.straight/,
  },
  'a wye with two legs on one reverser, and two trains': {
    design: wye(
      REVERSER,
      { ab: { gaps: 'both', feeders: { bus: 'turn' } }, ac: { gaps: 'both', feeders: { bus: 'turn' } } },
      { rollingStock: { loco: { count: 2 } } },
    ),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a loop shorter than the train': {
    design: loop({}, { rollingStock: { loco: { length: '3.5 m' } } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a loop that its reverser feeds, and the bus too': {
    design: loop({ feeders: [{ bus: 'turn' }, { bus: 'west' }] }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
    says: /The reverser of turn feeds loop, whose rails are also fed by west/,
  },
  'a loop that two reversers feed': {
    design: loop({ feeders: [{ bus: 'turn' }, { bus: 'other' }] }, {}, { other: REVERSER.turn }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a reverser that is slower than its district': {
    design: loop({}, {}, { turn: { reverser: { trip: '1 A', time: '10 s' } } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a reverser behind a supply that gives up before it has swapped': {
    design: loop({}, ofWest('supplies', { limit: 'hiccup', hiccupOn: '0.3 ms', hiccupOff: '1 s' })),
    clauses: { polarity: 'undecided', 'gap-bridging': 'undecided' },
    says: /it takes up to 0\.4 ms, its district between 0\.2 ms and never/,
  },
  'a reverser behind a driver whose supply limits only after what flows through a wheel has harmed it': {
    design: loop(
      {},
      {
        power: {
          supplies: { west: { limitResponse: '1 ms' } },
          drivers: { west: STRONG },
        },
      },
    ),
    clauses: { 'gap-bridging': 'broken' },
    says: /draws up to [\d.]+ A at first, before a limit acts; custom part of west does not withstand that/,
  },
  'a loop on a reversing switch, shorter than the train': {
    design: loop(
      {},
      { rollingStock: { loco: { length: '3.5 m' } } },
      { turn: { reverser: null, switch: { kind: 'reversing' } } },
    ),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a reverser that trips below what a lamp on its track draws': {
    design: loop({}, { track: { accessories: { lamp: { current: '1.2 A', section: 'loop' } } } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
    says: /what is fed behind it draws 1\.2 A all the time/,
  },
  'a reverser that trips below what a lamp on its bus draws': {
    design: loop({}, { track: { accessories: { lamp: { current: '1.2 A', bus: 'turn' } } } }),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a reverser that trips below what four trains in its loop draw': {
    design: loop({}, { rollingStock: { loco: { count: 4 } } }),
    clauses: { polarity: 'undecided', 'gap-bridging': 'undecided' },
    says: /4 trains that have room on its track at once draw 1\.2 A/,
  },
  'a hand switch of which nobody says what it carries': {
    design: one({ bus: { west: { switch: { kind: 'off-on' } } } }),
    clauses: { 'joint-heat': 'undecided' },
  },
  'a hand switch that carries less than what may flow continuously': {
    design: one({ bus: { west: { switch: { kind: 'off-on' }, connector: { rating: '1 A' } } } }),
    clauses: { 'joint-heat': 'broken' },
  },
  'a terminator of which nobody says what its resistor is rated for': {
    design: one({}, { track: { bus: { west: { terminator: { power: null } } } } }),
    clauses: { 'joint-heat': 'undecided' },
    says: /0\.904 W in the resistor across the end of bus west, and its rated power is not in the design/,
  },
  // 4·C·V²·f at 100 nF, 15.03 V and 55 us is 0.82 W, and 0.9 W with a capacitor at its upper tolerance.
  'a terminator whose resistor is right for the nominal capacitor only': {
    design: one({ bus: { west: { terminator: { power: '0.85 W' } } } }),
    clauses: { 'joint-heat': 'undecided' },
    says: /0\.9\d* W in the resistor/,
  },
  'a terminator whose capacitor is ten times too large': {
    design: one({ bus: { west: { terminator: { capacitance: '1 uF' } } } }),
    clauses: { 'joint-heat': 'broken' },
    says: /4\.4 W in the resistor across the end of bus west, rated 2 W/,
  },
  'a yard in which all trains may be parked when it is switched on': {
    design: two(
      {},
      {
        rollingStock: {
          loco: { section: 'w', count: 8, running: '0.1 A', stall: '0.2 A' },
          visitor: { section: 'e', running: '0.1 A', stall: '0.2 A', length: '300 mm' },
        },
        power: { districts: { west: { trip: { after: '10 ms' } } } },
      },
    ),
    clauses: { inrush: 'undecided' },
    says: /of each of 7 decoders/,
  },
  'a crossing whose routes are fed by two districts': {
    design: station(['west', 'east'], crossed('east')),
    clauses: { 'gap-bridging': 'undecided' },
    says: /The routes of crossing X are fed by .*west.*east/,
  },
  'a turntable that keeps its polarity': {
    design: turntable('fixed'),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a turntable whose reverser nobody describes': {
    design: turntable('automatic'),
    clauses: { polarity: 'undecided', 'gap-bridging': 'undecided' },
    says: /not in the design|does not say/,
  },
  'a turntable whose reverser is slower than the districts': {
    design: turntable(
      'automatic',
      {},
      { turn: { ...REVERSER.turn, reverser: { trip: '1 A', time: '1 s' } } },
      'turn',
    ),
    clauses: { polarity: 'broken', 'gap-bridging': 'broken' },
  },
  'a turntable between supplies of 15 V and 18 V': {
    design: turntable('split ring', { power: { supplies: { east: { voltage: '18 V' } } } }),
    clauses: { 'gap-bridging': 'broken' },
  },
  'a turntable between main and service track': {
    design: turntable('split ring', SERVICE),
    clauses: { 'gap-bridging': 'broken' },
  },
  'a turntable on a reversing switch, which somebody may forget': {
    design: turntable(
      'fixed',
      {},
      { turn: { ...REVERSER.turn, reverser: null, switch: { kind: 'reversing' } } },
      'turn',
    ),
    clauses: { 'gap-bridging': 'undecided' },
  },
  'a driver that is fed from the inverted pin': {
    design: two({}, drivers({ pins: inputs('PB7', 'PB6', 'PA1') })),
    clauses: { 'gap-bridging': 'broken', polarity: 'broken', 'pin-conflict': 'broken' },
    says: /polarities are opposite|fed the inverted signal/,
  },
  'a driver in phase and enable mode, fed from the inverted pin': {
    design: two(
      {},
      drivers({
        pins: [
          { name: 'phase', role: 'direction', wired: 'PB7' },
          { name: 'enable', role: 'enable', wired: 'PA1', pull: 'low' },
        ],
      }),
    ),
    clauses: { 'gap-bridging': 'broken', polarity: 'broken' },
  },
  'a driver on a pin that carries no signal': {
    design: two({}, drivers({ pins: inputs('PD0', 'PD1', 'PA1') })),
    clauses: { 'gap-bridging': 'broken' },
  },
  'two drivers of a part that is late by 1.7 to 5.8 us': {
    design: two({}, bothDrivers({ part: 'BTS7960B' })),
    clauses: { 'gap-bridging': 'undecided' },
    says: /two BTS7960B, switch up to 3\.2 us apart/,
  },
  'two drivers whose delays nobody knows': {
    design: two({}, bothDrivers({ part: 'BTN8982TA' })),
    clauses: { 'gap-bridging': 'undecided' },
    says: /how far apart is not known/,
  },
  'two parts of the builder, of unlike delays': {
    design: two(
      {},
      drivers(
        {
          figures: {
            risingDelayMin: '5 us',
            risingDelayMax: '6 us',
            fallingDelayMin: '5 us',
            fallingDelayMax: '6 us',
          },
        },
        {},
      ),
    ),
    clauses: { 'gap-bridging': 'broken' },
    says: /two DRV8874, switch up to 5\.\d+ us apart/,
  },
  'a booster behind slow optocouplers': {
    design: two({}, drivers(isolator('2 us', '10 us'))),
    clauses: { 'gap-bridging': 'broken', 'logic-level': 'undecided' },
  },
  'a booster behind optocouplers whose delays nobody gives': {
    design: two({}, drivers({ isolator: {} })),
    clauses: { 'gap-bridging': 'undecided' },
  },
  'short wires between the gap and two drivers of unlike orders': {
    design: two(
      {
        bus: { west: { length: '0.5 m' }, east: { length: '0.5 m' } },
        sections: {
          w: { feeders: { bus: 'west', place: '2 m' } },
          e: { feeders: { bus: 'east', place: '0 m' } },
        },
      },
      {},
    ),
    clauses: { 'gap-bridging': 'undecided' },
    says: /two DRV8874, switch up to 0\.429 us apart/,
  },
  'a common rail on drivers of one controller': {
    design: commonRail({}),
    clauses: { isolation: 'broken' },
  },
  'a common rail on drivers whose inputs nobody names': {
    design: commonRail(NO_PINS),
    clauses: { isolation: 'undecided' },
  },
  'a common rail behind optocouplers, on one supply': {
    design: commonRail({
      power: {
        supplies: { east: null, west: { rating: '6 A', limitCurrent: '6.6 A' } },
        drivers: {
          west: isolator('20 ns', '60 ns'),
          east: { supply: 'west', ...isolator('20 ns', '60 ns') },
        },
      },
    }),
    clauses: { isolation: 'broken' },
  },
  'a common rail behind optocouplers, with a current sense that goes round them': {
    design: commonRail(
      changed(bothDrivers(isolator('20 ns', '60 ns')), {
        power: {
          districts: {
            west: { sense: SHUNT, trip: { by: 'sense' } },
            east: { sense: SHUNT, trip: { by: 'sense' } },
          },
        },
      }),
    ),
    clauses: { isolation: 'undecided' },
  },
  'a common rail behind optocouplers, with a fault output that goes round them': {
    design: commonRail(
      bothDrivers({
        ...isolator('20 ns', '60 ns'),
        pins: [...inputs('PB6', 'PB7', 'PA0'), { name: 'nFAULT', role: 'fault', wired: 'PA4' }],
      }),
    ),
    clauses: { isolation: 'undecided' },
  },
  'a dead stretch between drivers whose inputs nobody names': {
    design: deadStretch(NO_PINS),
    clauses: { isolation: 'undecided' },
  },
  'a rotary switch that joins two boosters while it is turned': {
    design: yard({ kind: 'rotary', contacts: 'make first', feeds: ['west', 'east', 'none'] }),
    clauses: { isolation: 'broken' },
    says: /The switch of yard joins the outputs of districts west and east/,
  },
  'a rotary switch of which nobody says whether it does': {
    design: yard({ kind: 'rotary', feeds: ['west', 'east', 'none'] }),
    clauses: { isolation: 'undecided' },
  },
  'a yard on a toggle switch between main and service track': {
    design: yard({ kind: 'toggle', feeds: ['west', 'east'] }, SERVICE),
    clauses: { 'gap-bridging': 'broken' },
  },
  'a resettable fuse beyond the voltage that such are sold for': {
    design: one({}, changed(ofWest('districts', PTC), ofWest('supplies', { voltage: '20 V' }))),
    clauses: { fuse: 'undecided' },
    says: /some are rated for only 16 V/,
  },
  'a resettable fuse that must break the current of a battery': {
    design: one(
      {},
      {
        power: {
          districts: { west: { ...PTC, fuseVoltage: '30 V' } },
          supplies: { west: { limit: 'battery', limitCurrent: null, rating: '20 A', resistance: '10 mOhm' } },
        },
      },
    ),
    clauses: { fuse: 'undecided' },
    says: /can interrupt 40 A/,
  },
  'a resettable fuse loaded to nearly what it holds': {
    design: one({}, ofWest('districts', { ...PTC, fuse: '0.7 A' })),
    clauses: { fuse: 'undecided' },
    says: /carries 65 % of its rating/,
  },
}

export const SOUND: Record<string, Part> = {
  'a crossing in one district': station(['west'], crossed('west')),
  'one district': one(),
  'two districts on two supplies of one voltage': two(),
  'two districts on one supply': two(
    {},
    {
      power: {
        supplies: { east: null, west: { rating: '5 A', limitCurrent: '5.4 A' } },
        drivers: { east: { supply: 'west' } },
      },
    },
  ),
  'two drivers of one batch on short wires': two(
    { bus: { west: { length: '0.5 m' }, east: { length: '0.5 m' } } },
    bothDrivers({ batch: 'spring' }),
  ),
  'a wye with a leg on a reverser': wye(REVERSER, { ab: { gaps: 'both', feeders: { bus: 'turn' } } }),
  'a wye with two legs on a reverser each': wye(
    { ...REVERSER, other: REVERSER.turn },
    { ab: { gaps: 'both', feeders: { bus: 'turn' } }, ac: { gaps: 'both', feeders: { bus: 'other' } } },
  ),
  'a loop on a reverser': loop(),
  'a turntable on a reverser': turntable('automatic', {}, REVERSER, 'turn'),
  'a turntable with a split ring': turntable('split ring', bothDrivers({ batch: 'spring' })),
  'a common rail behind fast optocouplers': changed(commonRail(bothDrivers(isolator('20 ns', '60 ns'))), {}),
  'a yard on a toggle switch': yard({ kind: 'toggle', feeds: ['west', 'east'] }),
  'a yard on a rotary switch that breaks first': yard({
    kind: 'rotary',
    contacts: 'break first',
    feeds: ['west', 'east', 'none'],
  }),
  'a line of seven sidings, each on a switch of its own': sidings(7),
  'a resettable fuse': one({}, ofWest('districts', PTC)),
}
