/** Rolling stock: what runs on the rails. */
import { shape, type Value } from '../../shape/index.js'
import { LOAD, where } from './keys.js'

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

export type RollingStockDesign = Value<typeof rollingStockShape>
export type TrainDesign = RollingStockDesign[string]
