/** The design file's keys of acknowledgement detection. */
import { shape, type Value } from '../../shape/index.js'
import { figure } from './figure.js'

export const acknowledgementShape = shape({
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

export type AcknowledgementDesign = Value<typeof acknowledgementShape>
