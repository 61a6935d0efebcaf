/**
 * The railroad's part of the design file: bus, feeders, sections of track, turnouts, joints and gaps, where the
 * trains stand and what they draw. Power districts, their drivers and trip levels are `power/`'s; a bus names its district.
 */
import { shape, type Value } from '../../shape/index.js'

const WIRE = {
  kind: 'text',
  title: 'wire',
  help: 'Gauge in AWG or section in mm2, copper.',
  pattern: '-?\\d+([.,]\\d+)?\\s*(AWG|awg|mm2|mm²)',
  patternSays: 'a gauge such as 14 AWG or a section such as 1.5 mm2',
  maxLength: 20,
  example: '1.5 mm2',
} as const

const NAME = { maxLength: 60 } as const
const RAIL_CODE = { kind: 'number', integer: true, min: 30, max: 400 } as const
const ALLOY = {
  kind: 'choice',
  title: 'rail alloy',
  choices: {
    'nickel silver': 'nickel silver',
    brass: 'brass',
    steel: 'steel',
    stainless: 'stainless steel',
  },
} as const
const JOINER = {
  kind: 'choice',
  title: 'joiner',
  help: 'How rails meet. bad: loose or corroded.',
  choices: { soldered: 'soldered', slip: 'pushed together', bad: 'loose or corroded' },
} as const
const LENGTH_MAX_MM = 1e7

const busRun = shape({
  kind: 'record',
  title: 'bus run',
  help: 'A pair of wires that feeders are tapped from.',
  keys: {
    district: {
      kind: 'text',
      title: 'district',
      help: 'The power district that feeds it; may be left out where there is one only, or where it comes from another run.',
      ...NAME,
      optional: true,
      example: 'main',
    },
    from: {
      kind: 'text',
      title: 'from',
      help: 'The run it branches off; the station when left out.',
      ...NAME,
      optional: true,
    },
    at: {
      kind: 'quantity',
      dimension: 'length',
      title: 'place on that run',
      help: 'Measured along the run from its start; its end when left out.',
      min: 0,
      max: LENGTH_MAX_MM,
      optional: true,
      example: '3 m',
    },
    wire: WIRE,
    kind: {
      kind: 'choice',
      title: 'kind of wire',
      help: 'Decides the greatest resistance that the standard allows for a section in mm2.',
      choices: { solid: 'solid', flexible: 'stranded, plain copper', tinned: 'stranded, tinned' },
      default: 'flexible',
    },
    length: {
      kind: 'quantity',
      dimension: 'length',
      title: 'length',
      help: 'Of the run, one way.',
      min: 0,
      max: LENGTH_MAX_MM,
      example: '6 m',
    },
    geometry: {
      kind: 'choice',
      title: 'geometry',
      choices: {
        twisted: 'twisted pair',
        parallel: 'side by side, insulations touching',
        spaced: 'apart from each other',
      },
      default: 'parallel',
    },
    spacing: {
      kind: 'quantity',
      dimension: 'length',
      title: 'distance between the middles of the two wires',
      help: 'For wires apart from each other.',
      min: 0.2,
      max: 2000,
      optional: true,
      example: '50 mm',
    },
    laid: {
      kind: 'choice',
      title: 'how it is laid',
      help: 'Decides how hot it gets; both are tried when left out. bundled: with others that carry as much, or in a duct.',
      choices: { alone: 'by itself in free air', bundled: 'bundled with others' },
      optional: true,
    },
    connector: {
      kind: 'record',
      title: 'connector at its start',
      optional: true,
      keys: {
        rating: { kind: 'quantity', dimension: 'current', min: 0.1, max: 1000, example: '10 A' },
        contact: {
          kind: 'quantity',
          dimension: 'resistance',
          title: 'resistance of one contact, at the most',
          min: 0,
          max: 1,
          default: '10 mOhm',
        },
      },
    },
    reverser: {
      kind: 'record',
      title: 'automatic reverser',
      help: 'Feeds a part that is gapped off on both rails, and swaps its polarity when a train bridges the gaps.',
      optional: true,
      keys: {
        trip: { kind: 'quantity', dimension: 'current', min: 0.01, max: 100, example: '2 A' },
        time: { kind: 'quantity', dimension: 'time', min: 0, max: 10e6, default: '10 ms' },
        resistance: { kind: 'quantity', dimension: 'resistance', min: 0, max: 10, default: '50 mOhm' },
      },
    },
    terminator: {
      kind: 'record',
      title: 'resistor and capacitor across the end',
      optional: true,
      keys: {
        resistance: { kind: 'quantity', dimension: 'resistance', min: 1, max: 1e5, example: '100 Ohm' },
        capacitance: { kind: 'quantity', dimension: 'capacitance', min: 1e-12, max: 1e-4, example: '100 nF' },
      },
    },
  },
})

const FEEDER_KEYS = {
  wire: { ...WIRE, optional: true, example: '20 AWG' },
  length: {
    kind: 'quantity',
    dimension: 'length',
    title: 'length',
    help: 'From the bus to the rail, one way.',
    min: 0,
    max: LENGTH_MAX_MM,
    optional: true,
    example: '200 mm',
  },
} as const

const feeder = shape({
  kind: 'record',
  title: 'feeder',
  help: 'Two short wires from the bus to the rails.',
  keys: {
    bus: {
      kind: 'text',
      title: 'bus run',
      help: 'May be left out where there is one only.',
      ...NAME,
      optional: true,
    },
    at: {
      kind: 'quantity',
      dimension: 'length',
      title: 'place on the bus run',
      help: 'Measured along the run from its start; its end when left out.',
      min: 0,
      max: LENGTH_MAX_MM,
      optional: true,
      example: '2.5 m',
    },
    step: {
      kind: 'quantity',
      dimension: 'length',
      title: 'step',
      help: 'In repeated sections: how much farther along the bus each next feeder is tapped.',
      min: 0,
      max: LENGTH_MAX_MM,
      optional: true,
      example: '1 m',
    },
    every: {
      kind: 'number',
      title: 'every how many sections',
      integer: true,
      min: 1,
      max: 100000,
      default: 1,
    },
    first: { kind: 'number', title: 'first section fed', integer: true, min: 1, max: 100000, default: 1 },
    place: {
      kind: 'quantity',
      dimension: 'length',
      title: 'place on the section',
      help: 'From its `from` end; its middle when left out.',
      min: 0,
      max: LENGTH_MAX_MM,
      optional: true,
    },
    ...FEEDER_KEYS,
    swapped: {
      kind: 'switch',
      title: 'swapped',
      help: 'The two wires are on the wrong rails.',
      default: false,
    },
    open: { kind: 'switch', title: 'open', help: 'It is broken or not there yet.', default: false },
  },
})

const FEEDERS = {
  kind: 'list',
  title: 'feeders',
  of: feeder,
  orOne: true,
  maxItems: 1000,
  optional: true,
} as const

const POINT = {
  kind: 'list',
  title: 'x and y in mm',
  of: { kind: 'number', min: -1e7, max: 1e7 },
  minItems: 2,
  maxItems: 2,
} as const
const DRAWN = {
  points: {
    kind: 'list',
    title: 'points of the drawing',
    help: 'x and y in mm, from end to end; repeated sections share them out.',
    of: POINT,
    minItems: 2,
    maxItems: 10000,
    optional: true,
    example: [
      [0, 0],
      [1200, 0],
    ],
  },
  arc: {
    kind: 'record',
    title: 'arc of the drawing',
    help: 'Instead of points: angles in degrees, counted from the right, growing downwards like y.',
    optional: true,
    keys: {
      centre: POINT,
      radius: { kind: 'quantity', dimension: 'length', min: 1, max: 1e6, example: '600 mm' },
      from: { kind: 'number', title: 'angle of the from end', min: -3600, max: 3600 },
      to: { kind: 'number', title: 'angle of the to end', min: -3600, max: 3600 },
    },
  },
} as const

const section = shape({
  kind: 'record',
  title: 'section',
  help: 'A length of track between two ends; with `count` a row of equal ones, named NAME.1, NAME.2 and so on.',
  keys: {
    count: {
      kind: 'number',
      title: 'how many in a row',
      integer: true,
      min: 1,
      max: 100000,
      optional: true,
      example: 8,
    },
    length: {
      kind: 'quantity',
      dimension: 'length',
      title: 'length',
      help: 'Of one section.',
      min: 0,
      max: LENGTH_MAX_MM,
      example: '1 m',
    },
    from: {
      kind: 'text',
      title: 'from',
      help: 'Name of the joint at its start: the same name at two ends joins them. Turnouts: NAME.points, NAME.straight, NAME.diverging.',
      ...NAME,
      optional: true,
      example: 'T1.straight',
    },
    to: {
      kind: 'text',
      title: 'to',
      help: 'Name of the joint at its end; a buffer stop when left out.',
      ...NAME,
      optional: true,
      example: 'east',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true, example: 83 },
    alloy: { ...ALLOY, optional: true },
    joiner: { ...JOINER, title: 'joiner between repeated sections', optional: true },
    gaps: {
      kind: 'choice',
      title: 'gaps',
      help: 'Ends at which both rails are cut.',
      choices: { none: 'none', from: 'at its start', to: 'at its end', both: 'at both ends' },
      default: 'none',
    },
    feeders: FEEDERS,
    ...DRAWN,
  },
})

const turnout = shape({
  kind: 'record',
  title: 'turnout',
  help: 'Joins three ends: NAME.points, NAME.straight and NAME.diverging. Both rails run through to every end.',
  keys: {
    length: {
      kind: 'quantity',
      dimension: 'length',
      min: 0,
      max: LENGTH_MAX_MM,
      default: '230 mm',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
  },
})

const crossing = shape({
  kind: 'record',
  title: 'crossing or slip',
  help: 'Two routes, NAME.a1 to NAME.a2 and NAME.b1 to NAME.b2. A slip joins them; a1 and b1 are then on the same side.',
  keys: {
    length: { kind: 'quantity', dimension: 'length', min: 0, max: LENGTH_MAX_MM, default: '230 mm' },
    slip: { kind: 'switch', title: 'slip', default: false },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
  },
})

const turntable = shape({
  kind: 'record',
  title: 'turntable',
  help: 'A bridge that turns between roads NAME.1, NAME.2 and so on.',
  keys: {
    length: { kind: 'quantity', dimension: 'length', min: 0, max: LENGTH_MAX_MM, example: '300 mm' },
    roads: { kind: 'number', integer: true, min: 1, max: 200, example: 6 },
    turns: {
      kind: 'choice',
      title: 'polarity of the bridge',
      help: 'What swaps the polarity when the bridge has turned by half.',
      choices: {
        fixed: 'nothing: it keeps its polarity',
        automatic: 'an automatic reverser',
        'split ring': 'a split contact ring',
      },
      default: 'fixed',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
  },
})

const joint = shape({
  kind: 'record',
  title: 'joint',
  keys: {
    joiner: { ...JOINER, optional: true },
    gap: {
      kind: 'choice',
      title: 'gap',
      help: 'left and right as seen along the section that comes first in the file.',
      choices: {
        none: 'none',
        both: 'both rails are cut',
        left: 'the left rail is cut',
        right: 'the right rail is cut',
      },
      default: 'none',
    },
  },
})

const where = {
  section: {
    kind: 'text',
    title: 'section',
    help: 'Where it stands: a section such as east or main.3, or a turnout.',
    ...NAME,
    optional: true,
    example: 'main.3',
  },
  at: {
    kind: 'quantity',
    dimension: 'length',
    title: 'place on the section',
    help: 'From its `from` end; its middle when left out.',
    min: 0,
    max: LENGTH_MAX_MM,
    optional: true,
  },
} as const

const LOAD = {
  kind: 'choice',
  title: 'how it draws',
  help: 'current: the same at any voltage. power: more when the voltage falls, as switching regulators do. resistor: less, as lamps do.',
  choices: { current: 'constant current', power: 'constant power', resistor: 'as a resistor' },
  default: 'current',
} as const

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

/** `rollingStock:` of the design file: what runs on the rails, and where it stands. */
export const rollingStockShape = shape({
  kind: 'named',
  title: 'rolling stock',
  help: 'Locomotives and trains with what they draw.',
  maxItems: 2000,
  of: {
    kind: 'record',
    title: 'train',
    keys: {
      count: { kind: 'number', title: 'how many alike', integer: true, min: 1, max: 1000, default: 1 },
      running: {
        kind: 'quantity',
        dimension: 'current',
        title: 'motor, running',
        min: 0,
        max: 50,
        example: '0.5 A',
      },
      stall: {
        kind: 'quantity',
        dimension: 'current',
        title: 'motor, stalled',
        min: 0,
        max: 100,
        optional: true,
        example: '1.2 A',
      },
      lights: { kind: 'quantity', dimension: 'current', min: 0, max: 50, default: '0 A' },
      sound: { kind: 'quantity', dimension: 'current', min: 0, max: 50, default: '0 A' },
      load: LOAD,
      length: {
        kind: 'quantity',
        dimension: 'length',
        title: 'length of the whole train',
        min: 1,
        max: 1e6,
        default: '1 m',
      },
      stayAlive: {
        kind: 'record',
        title: 'stay-alive capacitors',
        optional: true,
        keys: {
          capacitance: { kind: 'quantity', dimension: 'capacitance', min: 0, max: 10, example: '1000 uF' },
          resistance: {
            kind: 'quantity',
            dimension: 'resistance',
            title: 'charging resistor',
            min: 0,
            max: 1e5,
            default: '100 Ohm',
          },
        },
      },
      address: {
        kind: 'number',
        title: 'address',
        integer: true,
        min: 1,
        max: 10239,
        optional: true,
      },
      ...where,
    },
  },
})

export type TrackDesign = Value<typeof trackShape>
export type BusRunDesign = Value<typeof busRun>
export type FeederDesign = Value<typeof feeder>
export type SectionDesign = Value<typeof section>
export type RollingStockDesign = Value<typeof rollingStockShape>
export type TrainDesign = RollingStockDesign[string]
