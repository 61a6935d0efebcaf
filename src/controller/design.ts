/** The controller's parts of the design file: chip and clock, firmware to run. */
import { shape, type Value } from '../shape/index.js'
import { CHIPS, type ChipId } from './chips/index.js'
import { commandsShape } from './commands/index.js'

const CHIP_TITLES = Object.fromEntries(
  Object.entries(CHIPS).map(([id, { title }]) => [id, title]),
) as Readonly<Record<ChipId, string>>

export const controllerShape = shape({
  kind: 'record',
  title: 'controller',
  help: 'The microcontroller that makes the logic signal.',
  keys: {
    chip: {
      kind: 'choice',
      title: 'chip',
      choices: CHIP_TITLES,
    },
    clock: {
      kind: 'record',
      title: 'clock',
      keys: {
        frequency: { kind: 'quantity', dimension: 'frequency', min: 1e5, max: 1e9, example: '16 MHz' },
        source: {
          kind: 'choice',
          title: 'source',
          choices: {
            crystal: 'quartz crystal',
            resonator: 'ceramic resonator',
            'trimmed rc': 'internal oscillator, trimmed by the user',
            rc: 'internal oscillator as delivered',
            internal: 'internal oscillator, trimmed at the factory (newer 8-bit and 32-bit chips)',
          },
          default: 'crystal',
        },
        tolerance: {
          kind: 'quantity',
          dimension: 'ratio',
          title: 'tolerance',
          help: 'Greatest error of the clock, with temperature and ageing; from the source when absent.',
          min: 0,
          max: 0.5,
          optional: true,
          example: '0.5 %',
        },
      },
    },
    reservedTimers: {
      kind: 'list',
      title: 'reserved timers',
      help: 'Timers that other code relies on.',
      of: { kind: 'number', integer: true, min: 0, max: 31 },
      optional: true,
      example: [0],
    },
    reservedPins: {
      kind: 'list',
      title: 'reserved pins',
      help: 'Port pins already used for something else.',
      of: { kind: 'text', pattern: '[A-Za-z]{1,4}[0-9]{1,3}', patternSays: 'a port pin such as PB1' },
      optional: true,
      example: ['PD0', 'PD1'],
    },
    checkedPins: {
      kind: 'list',
      title: 'checked pins',
      help: 'Pins with a second duty (boot strap, debug interface, not on every package) that you have checked: in this circuit they may be used.',
      of: { kind: 'text', pattern: '[A-Za-z]{1,4}[0-9]{1,3}', patternSays: 'a port pin such as PB1' },
      optional: true,
      example: ['PF4'],
    },
  },
})

export const firmwareShape = shape({
  kind: 'record',
  title: 'firmware',
  help: 'Compiled firmware that `halfbit prove` runs on the simulated controller.',
  keys: {
    file: {
      kind: 'text',
      title: 'file',
      help: 'HEX or ELF, relative to the design file.',
      example: 'firmware/station.elf',
    },
    stimulus: {
      kind: 'text',
      title: 'stimulus',
      help: 'Script of bytes, levels and voltages given to the controller while it runs.',
      optional: true,
      example: 'firmware/evening.stimulus',
    },
    runFor: {
      kind: 'quantity',
      dimension: 'time',
      title: 'simulated time',
      min: 1000,
      max: 24 * 3600e6,
      default: '5 s',
    },
    skip: {
      kind: 'quantity',
      dimension: 'time',
      title: 'time skipped at the start',
      help: 'What the pins do before the firmware has set them up is not judged.',
      min: 0,
      max: 3600e6,
      default: '0 us',
    },
    commands: commandsShape,
  },
})

export type ControllerDesign = Value<typeof controllerShape>
