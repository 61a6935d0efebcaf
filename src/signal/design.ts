/** The signal's part of the design file: what each output of the station sends, and by which means. */
import { shape, type Value } from '../shape/index.js'

const output = shape({
  kind: 'record',
  title: 'output',
  help: 'One track output of the station.',
  keys: {
    mode: {
      kind: 'choice',
      title: 'mode',
      help: 'operations: trains run on it. service: decoders are programmed on it; its preamble is longer.',
      choices: { operations: 'operations mode', service: 'service mode' },
      default: 'operations',
    },
    pin: {
      kind: 'text',
      title: 'pin',
      help: 'Port pin that carries the logic signal to the driver.',
      pattern: '[A-Za-z]{1,4}[0-9]{1,3}',
      patternSays: 'a port pin such as PB1',
      example: 'PB1',
    },
    inverted: {
      kind: 'text',
      title: 'inverted pin',
      help: 'Port pin that carries the opposite level, when the driver wants both.',
      pattern: '[A-Za-z]{1,4}[0-9]{1,3}',
      patternSays: 'a port pin such as PB2',
      optional: true,
      example: 'PB2',
    },
    method: {
      kind: 'choice',
      title: 'method',
      help: 'How the firmware makes the edges; the best way that fits when absent.',
      choices: {
        toggle: 'hardware toggle on compare, the interrupt loads the next half-bit',
        buffered: 'double-buffered period with the edge at half of it',
        interrupt: 'the interrupt writes the pin itself',
        fed: 'a list of durations played by programmable I/O, a remote-pulse unit or DMA',
      },
      optional: true,
      example: 'buffered',
    },
    timer: {
      kind: 'number',
      title: 'timer',
      help: 'Number of the hardware timer.',
      integer: true,
      min: 0,
      max: 31,
      optional: true,
      example: 1,
    },
    prescaler: {
      kind: 'number',
      title: 'prescaler',
      help: 'Clock divider in front of the timer.',
      integer: true,
      min: 1,
      max: 65536,
      optional: true,
      example: 8,
    },
    oneHalf: {
      kind: 'quantity',
      dimension: 'time',
      title: 'half of a one bit',
      min: 10,
      max: 1000,
      default: '58 us',
    },
    zeroHalf: {
      kind: 'quantity',
      dimension: 'time',
      title: 'half of a zero bit',
      min: 10,
      max: 20000,
      default: '100 us',
    },
    preamble: {
      kind: 'number',
      title: 'preamble bits',
      help: 'Ones sent before each packet.',
      integer: true,
      min: 1,
      max: 200,
      optional: true,
      example: 16,
    },
    cutout: {
      kind: 'switch',
      title: 'bidirectional cut-out',
      help: 'The station interrupts the signal after each packet so that decoders can answer.',
      default: false,
    },
  },
})

export const signalShape = shape({
  kind: 'record',
  title: 'signal',
  help: 'What the station sends, and by which means.',
  keys: {
    outputs: { kind: 'named', title: 'outputs', of: output, minItems: 1, maxItems: 16 },
    accessoryOffset: {
      kind: 'number',
      title: 'accessory numbering offset',
      help: 'First user address of accessories: 4 counts from board 1, 0 counts from board 0. Texts disagree.',
      integer: true,
      min: 0,
      max: 4,
      default: 4,
    },
  },
})

export type Output = Value<typeof output>
export type SignalDesign = Value<typeof signalShape>
