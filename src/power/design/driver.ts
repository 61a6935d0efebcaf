/** The design file's keys of a driver, its cooling and its board's pins. */
import { shape, type Value } from '../../shape/index.js'
import { driverFiguresShape } from './driver-figures.js'
import { figure } from './figure.js'

const PIN = { pattern: '[A-Za-z]{1,4}[0-9]{1,3}', patternSays: 'a port pin such as PB1' } as const

export const coolingShape = shape({
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

export const boardPinShape = shape({
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
    pull: {
      kind: 'choice',
      title: 'pull resistor on the board',
      help: 'What holds it while the controller does not drive it.',
      choices: { high: 'to the logic supply', low: 'to ground', none: 'none' },
      optional: true,
    },
    active: {
      kind: 'choice',
      title: 'level that switches the driver on',
      help: 'Of an enable input.',
      choices: { high: 'high', low: 'low' },
      default: 'high',
    },
    output: {
      kind: 'text',
      title: 'output',
      help: 'Which output of the station it serves; needed where a driver carries several.',
      maxLength: 60,
      optional: true,
      example: 'main',
    },
    channel: {
      kind: 'number',
      title: 'channel',
      help: 'Which channel of the driver it serves; needed where each has pins of its own.',
      integer: true,
      min: 1,
      max: 16,
      optional: true,
      example: 1,
    },
    current: figure('current', 'current through the pin', '5 mA', { max: 1 }),
  },
})

export const driverShape = shape({
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
    figures: driverFiguresShape,
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
    batch: {
      kind: 'text',
      title: 'batch',
      help: 'Drivers of one part from one batch, for instance one order, differ little in their delays. Give them the same name here; any name will do.',
      maxLength: 60,
      optional: true,
      example: 'spring order',
    },
    isolator: {
      kind: 'record',
      title: 'isolated inputs',
      help: 'Optocouplers or digital isolators between controller and driver: its ground is then separate from the controller’s, unless the controller also reads a current sense or a fault output of it.',
      optional: true,
      keys: {
        delayMin: figure('time', 'shortest delay of an edge', '20 ns', { max: 1000 }),
        delayMax: {
          ...figure('time', 'longest delay of an edge', '75 ns', { max: 1000 }),
          help: 'From its data sheet, either edge; without both the edges behind it are not known.',
        },
      },
    },
    cooling: coolingShape,
    pins: {
      kind: 'list',
      title: 'pins of the driver board',
      of: boardPinShape,
      maxItems: 40,
      optional: true,
    },
  },
})

export type DriverDesign = Value<typeof driverShape>
export type CoolingDesign = Value<typeof coolingShape>
export type BoardPin = Value<typeof boardPinShape>
