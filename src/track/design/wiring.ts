/** Bus runs and feeders. */
import { shape } from '../../shape/index.js'
import { LENGTH_MAX_MM, NAME } from './keys.js'

const WIRE = {
  kind: 'text',
  title: 'wire',
  help: 'Gauge in AWG or section in mm2, copper.',
  pattern: '-?\\d+([.,]\\d+)?\\s*(AWG|awg|mm2|mm²)',
  patternSays: 'a gauge such as 14 AWG or a section such as 1.5 mm2',
  maxLength: 20,
  example: '1.5 mm2',
} as const

export const busRun = shape({
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
    switch: {
      kind: 'record',
      title: 'hand switch at its start',
      help: 'Every clause is judged in each of its positions. Give its rating as that of the connector.',
      optional: true,
      keys: {
        kind: {
          kind: 'choice',
          title: 'what it does',
          choices: {
            'off-on': 'on or off',
            reversing: 'swaps the two wires',
            toggle: 'one of two feeds',
            rotary: 'one of several feeds',
          },
        },
        feeds: {
          kind: 'list',
          title: 'feeds, by position',
          help: 'Bus runs, or none, in the place of `from`; for toggle and rotary only.',
          of: { kind: 'text', ...NAME },
          minItems: 2,
          maxItems: 24,
          optional: true,
          example: ['main', 'yard', 'none'],
        },
        contacts: {
          kind: 'choice',
          title: 'how it changes over',
          help: 'Rotary switches are sold as both; a toggle switch breaks first (common practice, no source).',
          choices: {
            'break first': 'opens one feed before it closes the next (non-shorting)',
            'make first': 'closes the next feed while the last is still closed (shorting)',
          },
          optional: true,
        },
        contact: {
          kind: 'quantity',
          dimension: 'resistance',
          title: 'resistance of one contact, at the most',
          min: 0,
          max: 1,
          default: '20 mOhm',
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

export const FEEDER_KEYS = {
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

export const feeder = shape({
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

export const FEEDERS = {
  kind: 'list',
  title: 'feeders',
  of: feeder,
  orOne: true,
  maxItems: 1000,
  optional: true,
} as const
