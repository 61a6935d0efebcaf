/**
 * The railroad's part of the design file: bus, feeders, sections of track, turnouts, joints and gaps, where the
 * trains stand and what they draw. Power districts, their drivers and trip levels are `power/`'s; a bus names its district.
 */
import { shape, type Value } from '../../shape/index.js'
import { ALLOY, JOINER, LOAD, NAME, RAIL_CODE, where } from './keys.js'
import { crossing, joint, section, turnout, turntable } from './rails.js'
import { busRun, FEEDER_KEYS, type feeder } from './wiring.js'

export * from './rolling-stock.js'

const accessory = shape({
  kind: 'record',
  title: 'accessory',
  help: 'Something fed from rails or bus that stays where it is. Published module norms do not feed accessories from the rails.',
  keys: {
    current: { kind: 'quantity', dimension: 'current', min: 0, max: 100, example: '50 mA' },
    load: LOAD,
    ...where,
    bus: { kind: 'text', title: 'bus run, when it hangs on the bus', ...NAME, optional: true },
  },
})

/** `track:` of the design file. */
export const trackShape = shape({
  kind: 'record',
  title: 'track',
  help: 'Bus, feeders and rails.',
  keys: {
    temperature: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'temperature of the conductors',
      min: -40,
      max: 120,
      default: '30 C',
    },
    defaults: {
      kind: 'record',
      title: 'defaults',
      help: 'What holds for every section that does not say otherwise.',
      optional: true,
      keys: {
        rail: { ...RAIL_CODE, title: 'rail code', default: 100 },
        alloy: { ...ALLOY, default: 'nickel silver' },
        joiner: { ...JOINER, default: 'slip' },
        feeder: { kind: 'record', title: 'feeder', optional: true, keys: FEEDER_KEYS },
      },
    },
    limits: {
      kind: 'record',
      title: 'limits',
      optional: true,
      keys: {
        drop: {
          kind: 'quantity',
          dimension: 'ratio',
          title: 'greatest drop in wires and rails',
          help: 'As a share of the voltage without load. Common practice: 5 % good, 10 % the limit.',
          min: 0.001,
          max: 1,
          default: '10 %',
        },
        decoder: {
          kind: 'quantity',
          dimension: 'voltage',
          title: 'lowest voltage at which decoders work',
          min: 1,
          max: 30,
          default: '7 V',
        },
        contact: {
          kind: 'quantity',
          dimension: 'resistance',
          title: 'contact resistance of a short',
          min: 0,
          max: 10,
          default: '100 mOhm',
        },
        reserve: {
          kind: 'number',
          title: 'short current wanted, as a multiple of the trip current',
          min: 1,
          max: 20,
          default: 1.25,
        },
        tripWithin: {
          kind: 'quantity',
          dimension: 'time',
          title: 'longest time until a short is off',
          min: 1,
          max: 60e6,
          default: '500 ms',
        },
        rise: {
          kind: 'number',
          title: 'highest temperature rise of any conductor during a short, K',
          min: 1,
          max: 500,
          default: 40,
        },
      },
    },
    bus: { kind: 'named', title: 'bus runs', of: busRun, minItems: 1, maxItems: 2000 },
    sections: { kind: 'named', title: 'sections', of: section, minItems: 1, maxItems: 20000 },
    turnouts: { kind: 'named', title: 'turnouts', of: turnout, optional: true, maxItems: 10000 },
    crossings: { kind: 'named', title: 'crossings and slips', of: crossing, optional: true, maxItems: 10000 },
    turntables: { kind: 'named', title: 'turntables', of: turntable, optional: true, maxItems: 100 },
    joints: {
      kind: 'named',
      title: 'joints',
      help: 'Joints that differ from the default, by name: a place name, T1.points, or main.3/4 between repeated sections.',
      of: joint,
      optional: true,
      maxItems: 100000,
    },
    accessories: { kind: 'named', title: 'accessories', of: accessory, optional: true, maxItems: 10000 },
    ringing: {
      kind: 'record',
      title: 'edges on the bus',
      optional: true,
      keys: {
        edge: {
          kind: 'quantity',
          dimension: 'time',
          title: 'time of an edge at the driver',
          help: 'Between one voltage and the other. When left out, from the quicker of the rise and fall times of the driver.',
          min: 0.005,
          max: 20,
          optional: true,
          example: '0.2 us',
        },
        decoderCapacitance: {
          kind: 'quantity',
          dimension: 'capacitance',
          title: 'capacitance of a decoder at its input',
          help: 'In front of its bridge, with its wires. Common practice, no source.',
          min: 0,
          max: 1e-6,
          default: '1 nF',
        },
        decoderReservoir: {
          kind: 'quantity',
          dimension: 'capacitance',
          title: 'capacitance of a decoder behind its bridge',
          help: 'Its smoothing capacitor. Common practice, no source.',
          min: 1e-9,
          max: 1,
          default: '47 uF',
        },
      },
    },
  },
})

export type TrackDesign = Value<typeof trackShape>
export type BusRunDesign = Value<typeof busRun>
export type FeederDesign = Value<typeof feeder>
