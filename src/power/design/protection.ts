/** The design file's keys of current sense and trip. */
import { shape, type Value } from '../../shape/index.js'
import { figure } from './figure.js'

export const senseShape = shape({
  kind: 'record',
  title: 'current sense',
  optional: true,
  keys: {
    kind: {
      kind: 'choice',
      title: 'kind',
      choices: {
        shunt: 'resistor in the current’s way',
        mirror: 'sense output of the driver over a resistor',
        hall: 'Hall sensor',
      },
    },
    resistance: {
      ...figure('resistance', 'shunt, or resistor at the sense output', '0.1 Ohm', { max: 1e5 }),
      help: 'Needed for a shunt and for a sense output.',
    },
    tolerance: { kind: 'quantity', dimension: 'ratio', title: 'tolerance', min: 0, max: 1, default: '1 %' },
    power: {
      ...figure('power', 'rated power of the shunt', '2 W', { max: 1000 }),
      help: 'Needed to tell whether the shunt survives what may flow.',
    },
    series: {
      ...figure('resistance', 'resistor in series with the converter pin', '10 kOhm', { max: 1e7 }),
      help: 'It holds the current into the pin’s clamp when a short drives the sense beyond the supply.',
    },
    pinMax: {
      ...figure('voltage', 'highest voltage at the converter pin', '5.5 V', { max: 60 }),
      help: 'Absolute maximum. Left out: the voltage of the controller’s logic and 0.5 V.',
    },
    amplifierSupply: {
      ...figure('voltage', 'supply of the amplifier or sensor', '5 V', { max: 60 }),
      help: 'Its output goes no higher.',
    },
    amplifierOutputMax: {
      ...figure('voltage', 'highest output of the amplifier or sensor', '4.9 V', { max: 60 }),
      help: 'That it surely reaches, from its data sheet. Left out: anything from 2 V below its supply, 0.5 V for a Hall sensor; without a supply, below the reference.',
    },
    amplifierInputMax: {
      ...figure('voltage', 'highest voltage at the input of the amplifier', '26 V', { max: 100 }),
      help: 'Absolute maximum, from its data sheet. Left out: taken as the voltage of its supply, or as the reference if that is not given.',
    },
    gain: { kind: 'number', title: 'gain of the amplifier', min: 0.001, max: 10000, default: 1 },
    sensitivity: {
      ...figure('voltage', 'output of a Hall sensor per ampere', '100 mV', { max: 10 }),
    },
    zero: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'output at no current',
      help: 'Taken as known, as firmware measures it at rest; what it drifts from there goes into the offset.',
      min: -10,
      max: 10,
      default: '0 V',
    },
    offset: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'unknown offset at the converter, either way',
      min: 0,
      max: 5,
      default: '0 V',
    },
    noise: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'noise at the converter, RMS',
      min: 0,
      max: 5,
      default: '0 V',
    },
    sees: {
      kind: 'choice',
      title: 'sees',
      help: 'Both polarities (in the common return), or one of them (in one leg).',
      choices: { both: 'both polarities', one: 'one polarity only' },
      default: 'both',
    },
    reference: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'reference of the converter',
      min: 0.1,
      max: 10,
      default: '5 V',
    },
    referenceTolerance: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'tolerance of the reference',
      help: 'Left out: 5 % for a logic supply (common practice, no source), and 10 % below 3 V, as for the references inside controllers (data sheets, from memory).',
      min: 0,
      max: 0.5,
      optional: true,
      example: '2 %',
    },
    bits: { kind: 'number', title: 'bits of the converter', integer: true, min: 6, max: 24, default: 10 },
    rate: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'samples per second of this channel',
      min: 1,
      max: 1e6,
      default: '1000 /s',
    },
    filter: {
      kind: 'quantity',
      dimension: 'time',
      title: 'time constant of the RC filter before the converter',
      min: 0,
      max: 1e7,
      default: '0 us',
    },
  },
})

export const tripShape = shape({
  kind: 'record',
  title: 'trip',
  help: 'What switches the district off, and at which current.',
  optional: true,
  keys: {
    current: {
      kind: 'quantity',
      dimension: 'current',
      title: 'trip current',
      min: 0.01,
      max: 100,
      example: '3 A',
    },
    by: {
      kind: 'choice',
      title: 'by',
      choices: {
        sense: 'the firmware, over the current sense',
        breaker: 'an electronic circuit breaker',
        driver: 'the driver itself',
      },
      default: 'sense',
    },
    after: {
      kind: 'quantity',
      dimension: 'time',
      title: 'delay of a breaker, or of the firmware after its decision',
      min: 0,
      max: 60e6,
      default: '1 ms',
    },
    samples: {
      kind: 'number',
      title: 'samples above the threshold that trip',
      integer: true,
      min: 1,
      max: 5000,
      default: 1,
    },
    of: {
      kind: 'number',
      title: 'out of how many of the last',
      help: 'As many as `samples` when left out: all in a row.',
      integer: true,
      min: 1,
      max: 10000,
      optional: true,
    },
    average: {
      kind: 'number',
      title: 'moving average over samples',
      integer: true,
      min: 1,
      max: 1000,
      default: 1,
    },
    smoothing: {
      kind: 'number',
      title: 'share of each new sample in an exponential average',
      help: '1: none. 0.1: a new sample counts a tenth.',
      min: 0.001,
      max: 1,
      default: 1,
    },
    tolerance: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'tolerance of a breaker’s trip current',
      help: 'Common practice, no source: 10 %.',
      min: 0,
      max: 0.5,
      default: '10 %',
    },
    afterTolerance: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'tolerance of a breaker’s delay',
      help: 'Common practice, no source: 20 %.',
      min: 0,
      max: 1,
      default: '20 %',
    },
    again: {
      ...figure('time', 'shortest time until it closes again after a trip', '1 s', { max: 3600e6 }),
      help: 'Left out: not known; at least 500 ms for a breaker or firmware and 50 us for the driver itself are assumed, no source.',
    },
    blanking: {
      kind: 'quantity',
      dimension: 'time',
      title: 'time after switching on during which nothing trips',
      min: 0,
      max: 60e6,
      default: '0 us',
    },
  },
})

export type SenseDesign = Value<typeof senseShape>
export type TripDesign = Value<typeof tripShape>
