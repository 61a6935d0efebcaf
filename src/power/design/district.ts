/** The design file's keys of a power district and its load. */
import { shape, type Value } from '../../shape/index.js'
import { acknowledgementShape } from './acknowledgement.js'
import { figure } from './figure.js'
import { FUSE_KEYS, fuseBreaking } from './fuse.js'
import { senseShape, tripShape } from './protection.js'

export const stayAliveShape = shape({
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

export const districtShape = shape({
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
    trip: tripShape,
    fuse: figure('current', 'fuse', '4 A', { min: 0.01, max: 100 }),
    ...FUSE_KEYS,
    fuseI2t: {
      kind: 'number',
      title: 'melting I2t of the fuse, A2s',
      help: 'From its data sheet; without it the fuse is not counted on.',
      min: 0,
      max: 1e6,
      optional: true,
    },
    fuseBreaking,
    sense: senseShape,
    acknowledgement: acknowledgementShape,
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
          of: stayAliveShape,
          orOne: true,
          maxItems: 200,
          optional: true,
        },
        decoders: {
          kind: 'number',
          title: 'decoders',
          help: 'Each charges a capacitor of its own at power-up: 47 uF is assumed, no source. One when left out.',
          integer: true,
          min: 0,
          max: 10000,
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

export type DistrictDesign = Value<typeof districtShape>
