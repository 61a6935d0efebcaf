/** The design file's keys of a driver's figures. */
import { shape, type Value } from '../../shape/index.js'
import { figure } from './figure.js'

/** Every figure of a driver that a data sheet gives; what stands here goes before the part's own. */
export const driverFiguresShape = shape({
  kind: 'record',
  title: 'figures',
  help: 'Figures of a custom part, or your own reading of a data sheet: they override those of the named part.',
  optional: true,
  keys: {
    bridgesPerPackage: {
      kind: 'number',
      title: 'full bridges in one package',
      help: '0.5 for a half bridge: two packages make one track output.',
      min: 0.5,
      max: 4,
      optional: true,
    },
    supplyMin: figure('voltage', 'lowest supply', '6.5 V', { max: 100 }),
    supplyMax: figure('voltage', 'highest supply', '45 V', { max: 200 }),
    continuous: figure('current', 'continuous current of a channel', '2 A', { max: 200 }),
    continuousParallel: figure('current', 'continuous current of two channels in parallel', '3 A', {
      max: 200,
    }),
    peak: figure('current', 'peak current of a channel', '6 A', { max: 1000 }),
    peakTime: figure('time', 'how long the peak may last', '100 us', { max: 1e7 }),
    highOhm: figure('resistance', 'on-resistance of a high-side switch at 25 °C, typical', '100 mOhm', {
      max: 100,
    }),
    highOhmMax: figure('resistance', 'the same, greatest', '130 mOhm', { max: 100 }),
    lowOhm: figure('resistance', 'on-resistance of a low-side switch at 25 °C, typical', '100 mOhm', {
      max: 100,
    }),
    lowOhmMax: figure('resistance', 'the same, greatest', '130 mOhm', { max: 100 }),
    ohmPerKelvin: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'rise of the on-resistance per kelvin',
      help: '0.4 % to 0.8 % for most MOSFETs.',
      min: 0,
      max: 0.05,
      optional: true,
      example: '0.5 %',
    },
    saturation: {
      kind: 'list',
      title: 'saturation voltage of both switches together',
      help: 'For bipolar drivers: points of current, typical and greatest voltage.',
      optional: true,
      minItems: 1,
      maxItems: 20,
      of: {
        kind: 'record',
        keys: {
          at: { kind: 'quantity', dimension: 'current', min: 0, max: 200, example: '1 A' },
          typical: { kind: 'quantity', dimension: 'voltage', min: 0, max: 50, example: '2.55 V' },
          most: { kind: 'quantity', dimension: 'voltage', min: 0, max: 50, example: '3.2 V' },
        },
      },
    },
    quiescent: figure('current', 'own current from the track supply', '24 mA', { max: 5 }),
    riseTime: figure('time', 'rise time of an output', '0.5 us', { max: 1e4 }),
    fallTime: figure('time', 'fall time of an output', '0.5 us', { max: 1e4 }),
    risingDelay: figure('time', 'delay of a rising output, typical', '2 us', { max: 1e4 }),
    risingDelayMin: figure('time', 'the same, least', '1 us', { max: 1e4 }),
    risingDelayMax: figure('time', 'the same, greatest', '3 us', { max: 1e4 }),
    fallingDelay: figure('time', 'delay of a falling output, typical', '1.6 us', { max: 1e4 }),
    fallingDelayMin: figure('time', 'the same, least', '1 us', { max: 1e4 }),
    fallingDelayMax: figure('time', 'the same, greatest', '3 us', { max: 1e4 }),
    deadTime: figure('time', 'dead time at a change of polarity', '0.3 us', { max: 1e4 }),
    junctionMax: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'highest junction temperature',
      min: 50,
      max: 250,
      optional: true,
      example: '150 C',
    },
    junctionToCase: figure('thermal', 'thermal resistance junction to case', '3 K/W', { max: 200 }),
    junctionToAmbient: figure('thermal', 'thermal resistance junction to ambient, no sink', '35 K/W', {
      max: 500,
    }),
    mirror: {
      kind: 'number',
      title: 'current of the sense output per ampere',
      help: 'Amperes per ampere: 450 uA/A is 0.00045.',
      min: 0,
      max: 1,
      optional: true,
    },
    mirrorSpread: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'spread of the sense output',
      min: 0,
      max: 5,
      optional: true,
      example: '5 %',
    },
    mirrorMax: {
      ...figure('voltage', 'highest voltage of the sense output', '3.3 V', { max: 60 }),
      help: 'Beyond it the output saturates, or the driver limits its current by it.',
    },
    limit: figure('current', "the driver's own current limit, typical", '10 A', { max: 1000 }),
    limitMin: figure('current', 'the same, least', '6 A', { max: 1000 }),
    limitMax: figure('current', 'the same, greatest', '14 A', { max: 1000 }),
    limitDelay: figure('time', 'how long until it acts', '3 us', { max: 1e6 }),
    atLimit: {
      kind: 'choice',
      title: 'what it does at its own current limit',
      help: 'From its data sheet. If left out it is unknown, and no slower trip is relied on where a short reaches this limit.',
      choices: {
        holds: 'holds the current at the limit',
        retries: 'switches off and tries again',
        latches: 'switches off and stays off',
      },
      optional: true,
    },
    inputCurrent: figure('current', 'current into one logic input', '100 uA', { max: 0.1 }),
    inputHigh: figure('voltage', 'lowest level that an input surely takes for high', '2 V', { max: 60 }),
    inputLow: figure('voltage', 'highest level that an input surely takes for low', '0.8 V', { max: 60 }),
    inputMax: figure('voltage', 'highest level that an input withstands', '5.5 V', { max: 60 }),
    inputPull: {
      kind: 'choice',
      title: 'level that an open input takes',
      help: 'By a pull resistor inside the driver.',
      choices: { low: 'low', high: 'high', none: 'none: it floats' },
      optional: true,
    },
    bothLow: {
      kind: 'choice',
      title: 'what it does while both inputs are low',
      help: 'Of a driver with one input for each side, from its truth table. A cut-out made so needs the rails joined.',
      choices: { joined: 'brake: both outputs are joined', open: 'coast: both outputs are open' },
      optional: true,
    },
    bothHigh: {
      kind: 'choice',
      title: 'what it does while both inputs are high',
      help: 'Of a driver with one input for each side, from its truth table. Left out: joined, as bridges sold as one part do.',
      choices: {
        joined: 'brake: both outputs are joined',
        open: 'coast: both outputs are open',
        short:
          'fault: both sides conduct and short the supply, as single transistors without a logic of their own do',
      },
      optional: true,
    },
  },
})

export type DriverFigures = Value<typeof driverFiguresShape>
