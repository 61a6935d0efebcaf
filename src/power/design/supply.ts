/** The design file's keys of a supply. */
import { shape, type Value } from '../../shape/index.js'
import { figure } from './figure.js'
import { FUSE_KEYS, fuseBreaking } from './fuse.js'

export const supplyShape = shape({
  kind: 'record',
  title: 'supply',
  help: 'A certified supply with extra-low output voltage. Leave mains wiring to a licensed electrician.',
  keys: {
    voltage: { kind: 'quantity', dimension: 'voltage', title: 'voltage', min: 1, max: 60, example: '15 V' },
    tolerance: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'tolerance of the voltage',
      min: 0,
      max: 0.5,
      default: '5 %',
    },
    rating: {
      kind: 'quantity',
      dimension: 'current',
      title: 'rated current',
      help: 'Continuous rating, from its label.',
      min: 0.01,
      max: 100,
      example: '5 A',
    },
    limit: {
      kind: 'choice',
      title: 'kind of current limit',
      help: 'How it behaves beyond its limit.',
      choices: {
        constant: 'holds the current, the voltage falls',
        foldback: 'gives less current the lower the voltage falls',
        hiccup: 'switches off and tries again',
        battery: 'none: a battery gives whatever the resistance allows',
        none: 'none but its fuse',
        unknown: 'not known',
      },
      default: 'unknown',
    },
    limitCurrent: {
      ...figure('current', 'current at which the limit begins', '6 A', { min: 0.01, max: 1000 }),
      help: 'From its data sheet; without it nothing beyond the rating is counted on.',
    },
    limitTolerance: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'tolerance of that current',
      help: 'It never gives less than its rating. Common practice, no source: 10 %.',
      min: 0,
      max: 0.5,
      default: '10 %',
    },
    limitResponse: {
      ...figure('time', 'how soon the limit acts', '100 us', { max: 1e6 }),
      help: 'Until then only resistances hold the current back. From its data sheet; 0 us for a limiter that acts at once, as a series transistor does. Left out: not known, up to 1 ms is assumed, no source.',
    },
    shortCurrent: {
      ...figure('current', 'current that a foldback limit leaves into a short', '1.5 A', { max: 1000 }),
      help: 'From its data sheet; without it nothing is counted on into a short.',
    },
    hiccupOn: {
      ...figure('time', 'how long a hiccup supply delivers before it switches off', '20 ms', { max: 60e6 }),
      help: 'From its data sheet, taken as 20 % either way; without it no slow trip is counted on.',
    },
    hiccupOff: figure('time', 'how long it stays off before it tries again', '500 ms', { max: 600e6 }),
    resistance: {
      kind: 'quantity',
      dimension: 'resistance',
      title: 'output resistance with its cable',
      help: 'Volts lost per ampere between no load and full load.',
      min: 0,
      max: 10,
      default: '20 mOhm',
    },
    capacitance: {
      ...figure('capacitance', 'output capacitors, with those at the drivers', '1000 uF', { max: 1 }),
      help: 'No limit holds back what they give at first. Left out: not known, which leaves a driver that does not limit its own current undecided.',
    },
    fuse: figure('current', 'fuse at its output', '6.3 A', { min: 0.01, max: 100 }),
    ...FUSE_KEYS,
    fuseBreaking,
  },
})

export type SupplyDesign = Value<typeof supplyShape>
