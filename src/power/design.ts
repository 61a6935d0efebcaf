/**
 * The power stage's part of the design file: supplies, drivers, power districts with their protection and
 * current sense, and where the controller's own power comes from. Wires, rails, trains and sections are
 * `track/`'s; they refer to the districts named here.
 */
import { type Shape, shape, type Value } from '../shape/index.js'

const PIN = { pattern: '[A-Za-z]{1,4}[0-9]{1,3}', patternSays: 'a port pin such as PB1' } as const

/** An optional quantity, to keep the tables below readable. */
function figure<const D extends (Shape & { kind: 'quantity' })['dimension']>(
  dimension: D,
  title: string,
  example: string,
  limits: { min?: number; max?: number } = {},
) {
  return { kind: 'quantity', dimension, title, example, min: 0, ...limits, optional: true } as const
}

const supply = shape({
  kind: 'record',
  title: 'supply',
  help: 'A certified supply with extra-low output voltage. What hangs on the mains is left to a licensed person.',
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
      help: 'What it may deliver for ever, from its label.',
      min: 0.01,
      max: 100,
      example: '5 A',
    },
    limit: {
      kind: 'choice',
      title: 'kind of current limit',
      help: 'What it does when more is asked of it.',
      choices: {
        constant: 'holds the current, the voltage falls',
        foldback: 'gives less current the lower the voltage falls',
        hiccup: 'switches off and tries again',
        none: 'none but its fuse',
        unknown: 'not known',
      },
      default: 'unknown',
    },
    limitCurrent: {
      ...figure('current', 'current at which the limit begins', '6 A', { min: 0.01, max: 1000 }),
      help: 'From its data sheet; without it nothing beyond the rating is counted on.',
    },
    resistance: {
      kind: 'quantity',
      dimension: 'resistance',
      title: 'output resistance with its cable',
      help: 'Volts lost per ampere between no load and full load.',
      min: 0,
      max: 10,
      default: '20 mOhm',
    },
    capacitance: figure('capacitance', 'output capacitors, with those at the drivers', '1000 uF', { max: 1 }),
    fuse: figure('current', 'fuse at its output', '6.3 A', { min: 0.01, max: 100 }),
  },
})

/** Every figure of a driver that a data sheet gives; what stands here goes before the part's own. */
const driverFigures = shape({
  kind: 'record',
  title: 'figures',
  help: 'Figures of a custom part, or your own reading of a data sheet: they go before those of the named part.',
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
    highOhm: figure('resistance', 'on-resistance of a high-side switch at 25 C, typical', '100 mOhm', {
      max: 100,
    }),
    highOhmMax: figure('resistance', 'the same, greatest', '130 mOhm', { max: 100 }),
    lowOhm: figure('resistance', 'on-resistance of a low-side switch at 25 C, typical', '100 mOhm', {
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
    limit: figure('current', "the driver's own current limit, typical", '10 A', { max: 1000 }),
    limitMin: figure('current', 'the same, least', '6 A', { max: 1000 }),
    limitDelay: figure('time', 'how long until it acts', '3 us', { max: 1e6 }),
    inputCurrent: figure('current', 'current into one logic input', '100 uA', { max: 0.1 }),
  },
})

const cooling = shape({
  kind: 'record',
  title: 'cooling',
  optional: true,
  keys: {
    sink: {
      ...figure('thermal', 'thermal resistance of the heat sink to the air', '5 K/W', { max: 200 }),
      help: 'With its insulation and paste. Without a sink the part’s own resistance to the air counts.',
    },
    junctionToAmbient: {
      ...figure('thermal', 'thermal resistance junction to air as mounted', '40 K/W', { max: 500 }),
      help: 'For parts cooled by the board: from the data sheet, for a board like yours.',
    },
    timeConstant: {
      ...figure('time', 'time constant of sink or board', '60 s', { max: 1e10 }),
      help: 'Time to about two thirds of the final rise.',
    },
    ambient: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'air around this driver',
      min: -40,
      max: 100,
      optional: true,
      example: '40 C',
    },
  },
})

const boardPin = shape({
  kind: 'record',
  title: 'pin of the driver board',
  keys: {
    name: { kind: 'text', title: 'name on the board', maxLength: 60, example: 'direction A' },
    role: {
      kind: 'choice',
      title: 'role',
      choices: {
        direction: 'direction: carries the logic signal',
        inverted: 'carries the opposite level',
        enable: 'enable or pulse-width input',
        brake: 'brake or coast',
        sense: 'current-sense output',
        fault: 'fault output',
        other: 'other',
      },
    },
    fixed: {
      kind: 'text',
      ...PIN,
      title: 'controller pin it sits on',
      help: 'For a board that plugs onto the controller: the pin its contact meets.',
      optional: true,
      example: 'PB4',
    },
    wired: {
      kind: 'text',
      ...PIN,
      title: 'controller pin it is wired to',
      help: 'A wire or jumper of your own; its contact, if any, is then bent out or cut.',
      optional: true,
      example: 'PB1',
    },
    tied: {
      kind: 'choice',
      title: 'tied',
      help: 'Held at a fixed level instead of going to the controller.',
      choices: { high: 'to the logic supply', low: 'to ground' },
      optional: true,
    },
    output: {
      kind: 'text',
      title: 'output',
      help: 'Which output of the station it serves; needed where a driver carries several.',
      maxLength: 60,
      optional: true,
      example: 'main',
    },
    current: figure('current', 'current through the pin', '5 mA', { max: 1 }),
  },
})

const driver = shape({
  kind: 'record',
  title: 'driver',
  keys: {
    part: {
      kind: 'text',
      title: 'part',
      help: 'A part by name, or "custom" with its figures.',
      maxLength: 60,
      default: 'custom',
      example: 'DRV8874',
    },
    figures: driverFigures,
    supply: {
      kind: 'text',
      title: 'supply',
      help: 'Name of its supply; may be left out where there is one only.',
      maxLength: 60,
      optional: true,
    },
    matchedLegs: {
      kind: 'switch',
      title: 'both legs from one die or one batch',
      help: 'Their delays then differ little; otherwise the whole spread of the data sheet counts.',
      default: true,
    },
    cooling,
    pins: { kind: 'list', title: 'pins of the driver board', of: boardPin, maxItems: 40, optional: true },
  },
})

const sense = shape({
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
      min: 0,
      max: 0.5,
      default: '2 %',
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

const trip = shape({
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

const acknowledgement = shape({
  kind: 'record',
  title: 'acknowledgement',
  help: 'How the firmware tells a decoder’s acknowledgement from noise, on a service output.',
  optional: true,
  keys: {
    threshold: {
      ...figure('current', 'rise that counts as an acknowledgement', '30 mA', { max: 1 }),
      help: 'Above the average taken before; left out, the best is proposed.',
    },
    samples: { kind: 'number', title: 'samples above it', integer: true, min: 1, max: 200, default: 4 },
    of: {
      kind: 'number',
      title: 'out of how many in a row',
      help: 'As many as `samples` when left out.',
      integer: true,
      min: 1,
      max: 200,
      optional: true,
    },
    rate: {
      ...figure('rate', 'decisions per second', '1000 /s', { min: 1, max: 1e6 }),
      help: 'The sense’s own rate when left out.',
    },
    average: {
      kind: 'number',
      title: 'conversions averaged into one sample',
      integer: true,
      min: 1,
      max: 1000,
      default: 1,
    },
    smoothing: {
      kind: 'number',
      title: 'share of each new sample in an exponential average',
      help: '1: none. 0.125: a new sample counts an eighth.',
      min: 0.001,
      max: 1,
      default: 1,
    },
    quiescent: {
      kind: 'quantity',
      dimension: 'current',
      title: 'current of the locomotive at rest',
      help: 'At most 100 mA by the standard. With the 60 mA of an acknowledgement it must be inside the range of the current sense.',
      min: 0,
      max: 1,
      default: '50 mA',
    },
    loadNoise: {
      kind: 'quantity',
      dimension: 'current',
      title: 'noise of the current itself, RMS',
      min: 0,
      max: 1,
      default: '3 mA',
    },
    chopRate: {
      ...figure('frequency', 'frequency at which the decoder chops the motor during the pulse', '16 kHz', {
        max: 1e6,
      }),
      help: 'Left out: the pulse is one steady load.',
    },
    chopDuty: { kind: 'number', title: 'share of the time it is on', min: 0.01, max: 1, default: 1 },
    window: {
      kind: 'quantity',
      dimension: 'time',
      title: 'detection window of one operation',
      help: 'From the second instruction packet to the end of the recovery time.',
      min: 1000,
      max: 10e6,
      default: '100 ms',
    },
  },
})

const stayAlive = shape({
  kind: 'record',
  title: 'stay-alive',
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
    count: { kind: 'number', integer: true, min: 1, max: 10000, default: 1 },
  },
})

const district = shape({
  kind: 'record',
  title: 'power district',
  help: 'A part of the railroad with its own protection.',
  keys: {
    output: {
      kind: 'text',
      title: 'output',
      help: 'Which output of the station it repeats; may be left out where there is one only.',
      maxLength: 60,
      optional: true,
      example: 'main',
    },
    driver: {
      kind: 'text',
      title: 'driver',
      help: 'Name of its driver; may be left out where there is one only.',
      maxLength: 60,
      optional: true,
    },
    channels: {
      kind: 'list',
      title: 'channels of the driver',
      help: 'Two or more work in parallel and share the current, not quite equally.',
      of: { kind: 'number', integer: true, min: 1, max: 16 },
      orOne: true,
      minItems: 1,
      maxItems: 16,
      optional: true,
      example: [1],
    },
    trip,
    fuse: figure('current', 'fuse', '4 A', { min: 0.01, max: 100 }),
    fuseI2t: {
      kind: 'number',
      title: 'melting I2t of the fuse, A2s',
      help: 'From its data sheet; without it the fuse is not counted on.',
      min: 0,
      max: 1e6,
      optional: true,
    },
    sense,
    acknowledgement,
    load: {
      kind: 'record',
      title: 'load',
      help: 'For a design without track and trains; where these are given, they count.',
      optional: true,
      keys: {
        running: {
          kind: 'quantity',
          dimension: 'current',
          title: 'usual',
          min: 0,
          max: 100,
          example: '1.5 A',
        },
        worst: figure('current', 'worst credible', '2.5 A', { max: 100 }),
        stalled: figure('current', 'everything stalled', '4 A', { max: 200 }),
        stayAlive: {
          kind: 'list',
          title: 'stay-alive capacitors',
          of: stayAlive,
          orOne: true,
          maxItems: 200,
          optional: true,
        },
        wiring: {
          ...figure('resistance', 'wiring there and back to the farthest place', '0.3 Ohm', { max: 100 }),
        },
        thinnestWire: figure('area', 'thinnest wire', '0.5 mm2', { min: 0.001, max: 100 }),
      },
    },
  },
})

const controllerPower = shape({
  kind: 'record',
  title: 'power of the controller',
  optional: true,
  keys: {
    from: {
      kind: 'choice',
      title: 'from',
      choices: { own: 'a supply of its own, or USB', track: 'the track supply, over its regulator' },
      default: 'own',
    },
    supply: { kind: 'text', title: 'supply', maxLength: 60, optional: true },
    regulator: {
      kind: 'choice',
      title: 'regulator',
      choices: {
        'linear SOT-223': 'linear, SOT-223 on a small board',
        'linear TO-220': 'linear, TO-220 without a sink',
        switching: 'switching',
      },
      default: 'linear SOT-223',
    },
    current: {
      kind: 'quantity',
      dimension: 'current',
      title: 'current of the controller and all it feeds',
      min: 0,
      max: 5,
      default: '50 mA',
    },
    voltage: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'output of the regulator',
      min: 1,
      max: 24,
      default: '5 V',
    },
    junctionToAmbient: figure('thermal', 'thermal resistance to the air', '90 K/W', { max: 500 }),
    junctionMax: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'highest junction temperature',
      min: 50,
      max: 200,
      optional: true,
      example: '125 C',
    },
    inputMax: figure('voltage', 'highest input', '15 V', { max: 100 }),
    currentMax: figure('current', 'highest current', '0.8 A', { max: 10 }),
    efficiency: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'efficiency of a switching regulator',
      min: 0.2,
      max: 1,
      optional: true,
      example: '85 %',
    },
  },
})

/** `power:` of the design file. */
export const powerShape = shape({
  kind: 'record',
  title: 'power',
  help: 'Supplies, drivers, power districts, and how the controller is fed.',
  keys: {
    ambient: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'air around the station',
      help: 'Inside its case on a warm day.',
      min: -40,
      max: 100,
      default: '35 C',
    },
    supplies: { kind: 'named', title: 'supplies', of: supply, minItems: 1, maxItems: 64 },
    drivers: { kind: 'named', title: 'drivers', of: driver, minItems: 1, maxItems: 64 },
    districts: { kind: 'named', title: 'power districts', of: district, minItems: 1, maxItems: 64 },
    controller: controllerPower,
  },
})

export type PowerDesign = Value<typeof powerShape>
export type SupplyDesign = Value<typeof supply>
export type DriverDesign = Value<typeof driver>
export type DriverFigures = Value<typeof driverFigures>
export type CoolingDesign = Value<typeof cooling>
export type BoardPin = Value<typeof boardPin>
export type DistrictDesign = Value<typeof district>
export type SenseDesign = Value<typeof sense>
export type TripDesign = Value<typeof trip>
export type AcknowledgementDesign = Value<typeof acknowledgement>
export type ControllerPowerDesign = Value<typeof controllerPower>
