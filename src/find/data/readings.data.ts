/** Kinds of readings, one entry each: what is read where, with what, and how long that takes. */
import type { InstrumentId } from './instruments.data.js'

export type PlaceKind =
  | 'track'
  | 'joint'
  | 'gap'
  | 'feeder'
  | 'district'
  | 'supply'
  | 'driver'
  | 'pin'
  | 'input'
  | 'output'
  | 'controller'
  | 'bus'
  | 'locomotive'

export interface ReadingKind {
  at: PlaceKind
  /** Volt, amp, us …; a reading in words has its words instead. */
  unit?: 'V' | 'A' | 'us' | '°C' | 'bits' | '/s' | '%'
  words?: readonly string[]
  instruments: readonly InstrumentId[]
  /** Work to take one, minutes; common practice, no source. */
  minutes: number
  /** Readings lie between nought (or minus this, for a signed one) and this: a wrong one is anywhere in it. */
  span: number
  signed?: true
  /** Where the probes go and what to do, one sentence. */
  how: string
}

export const LEVELS = ['switches', 'high', 'low', 'floats'] as const

/** By quantity; minutes are common practice, no source. */
export const READINGS = {
  'track volts': {
    at: 'track',
    unit: 'V',
    instruments: ['rms meter', 'average meter'],
    minutes: 1,
    span: 30,
    how: 'Trains off or stopped; between the two rails.',
  },
  'track volts under load': {
    at: 'track',
    unit: 'V',
    instruments: ['rms meter', 'average meter'],
    minutes: 2,
    span: 30,
    how: 'Trains off; the test resistor across the rails here, the meter across the rails beside it.',
  },
  'fed volts': {
    at: 'track',
    unit: 'V',
    instruments: ['dc millivolt meter'],
    minutes: 3,
    span: 6,
    how: 'Station off and disconnected; a bench supply set to 5 V and 0.5 A at the bus in its place; between the two rails.',
  },
  'coin test': {
    at: 'track',
    words: ['trips', 'does not trip'],
    instruments: ['eyes'],
    minutes: 1,
    span: 1,
    how: 'A coin across the rails for a moment, a fuse in the line; not twice in a row.',
  },
  drop: {
    at: 'joint',
    unit: 'V',
    instruments: ['rms millivolt meter'],
    minutes: 2,
    span: 15,
    how: 'The test resistor across the rails beside the joint; the meter from one side of the joiner to the other, on one rail.',
  },
  polarity: {
    at: 'gap',
    words: ['alike', 'opposite', 'unclear'],
    instruments: ['rms meter', 'average meter'],
    minutes: 1,
    span: 1,
    how: 'Trains off; the meter from a rail to the same rail beyond the gap: next to nothing means alike, about the track voltage means opposite.',
  },
  'feeder current': {
    at: 'feeder',
    unit: 'A',
    instruments: ['clamp meter'],
    minutes: 2,
    span: 5,
    how: 'The test resistor across the rails of its section; the clamp around this one wire.',
  },
  'output volts': {
    at: 'district',
    unit: 'V',
    instruments: ['rms meter', 'average meter'],
    minutes: 1,
    span: 30,
    how: 'Trains off or stopped; across the two wires where they leave the station.',
  },
  'output volts under load': {
    at: 'district',
    unit: 'V',
    instruments: ['rms meter', 'average meter'],
    minutes: 2,
    span: 30,
    how: 'The test resistor and the meter across the two wires where they leave the station.',
  },
  'output DC volts': {
    at: 'district',
    unit: 'V',
    instruments: ['dc meter'],
    minutes: 1,
    span: 30,
    signed: true,
    how: 'Trains off; across the two wires where they leave the station, red lead on wire A.',
  },
  'reported current': {
    at: 'district',
    unit: 'A',
    instruments: ['station'],
    minutes: 2,
    span: 20,
    how: 'The test resistor across the two wires where they leave the station; what the station reports.',
  },
  'trip current': {
    at: 'district',
    unit: 'A',
    instruments: ['clamp meter'],
    minutes: 5,
    span: 20,
    how: 'Load in steps at the station’s output until it trips, no step longer than needed, a fuse in the line.',
  },
  fuse: {
    at: 'district',
    words: ['whole', 'blown'],
    instruments: ['dc meter'],
    minutes: 1,
    span: 1,
    how: 'Everything off; continuity across the fuse.',
  },
  'supply volts': {
    at: 'supply',
    unit: 'V',
    instruments: ['dc meter'],
    minutes: 1,
    span: 40,
    how: 'At the low-voltage side, trains off.',
  },
  'supply volts under load': {
    at: 'supply',
    unit: 'V',
    instruments: ['dc meter'],
    minutes: 2,
    span: 40,
    how: 'At the low-voltage side, with the test resistor across the track.',
  },
  temperature: {
    at: 'driver',
    unit: '°C',
    instruments: ['thermometer'],
    minutes: 6,
    span: 200,
    how: 'On the driver after five minutes with the usual trains running; do not touch it with a finger first.',
  },
  'half A': {
    at: 'driver',
    words: LEVELS,
    instruments: ['oscilloscope'],
    minutes: 3,
    span: 1,
    how: 'From wire A at the driver to the driver’s ground; only with a battery-fed or isolated oscilloscope.',
  },
  'half B': {
    at: 'driver',
    words: LEVELS,
    instruments: ['oscilloscope'],
    minutes: 3,
    span: 1,
    how: 'From wire B at the driver to the driver’s ground; only with a battery-fed or isolated oscilloscope.',
  },
  level: {
    at: 'pin',
    words: LEVELS,
    instruments: ['logic analyser', 'oscilloscope'],
    minutes: 2,
    span: 1,
    how: 'At the controller’s pin, against its ground.',
  },
  'input level': {
    at: 'input',
    words: LEVELS,
    instruments: ['logic analyser', 'oscilloscope'],
    minutes: 2,
    span: 1,
    how: 'At the driver’s input, against its logic ground.',
  },
  'half of a one': {
    at: 'output',
    unit: 'us',
    instruments: ['logic analyser', 'oscilloscope'],
    minutes: 3,
    span: 1000,
    how: 'At the output’s pin; the usual duration of half a one bit.',
  },
  preamble: {
    at: 'output',
    unit: 'bits',
    instruments: ['counter'],
    minutes: 3,
    span: 60,
    how: 'At the output’s pin; ones before the start bit of a packet.',
  },
  lateness: {
    at: 'output',
    unit: 'us',
    instruments: ['logic analyser'],
    minutes: 4,
    span: 200,
    how: 'At the output’s pin; how much longer the longest half of a one is than the usual one, over a thousand packets.',
  },
  refresh: {
    at: 'output',
    unit: '/s',
    instruments: ['counter'],
    minutes: 4,
    span: 200,
    how: 'At the output’s pin, one train running and no command given; packets to its address in a second.',
  },
  'serial line': {
    at: 'controller',
    words: ['legible', 'garbled'],
    instruments: ['eyes'],
    minutes: 1,
    span: 1,
    how: 'What the terminal shows at the rate of the design.',
  },
  reference: {
    at: 'controller',
    unit: 'V',
    instruments: ['dc meter'],
    minutes: 2,
    span: 6,
    how: 'At the reference pin of the converter, against its ground.',
  },
  overshoot: {
    at: 'bus',
    unit: '%',
    instruments: ['oscilloscope'],
    minutes: 4,
    span: 200,
    how: 'At the far end of the bus; how far the edge goes beyond the level it settles at.',
  },
  'runs at its address': {
    at: 'locomotive',
    words: ['runs', 'does not run'],
    instruments: ['eyes'],
    minutes: 1,
    span: 1,
    how: 'On track that another train has just run on; the address of the design.',
  },
  'address read back': {
    at: 'locomotive',
    words: ['as designed', 'another', 'no answer'],
    instruments: ['station'],
    minutes: 3,
    span: 1,
    how: 'Alone on the service track; read its address.',
  },
  'settings read back': {
    at: 'locomotive',
    words: ['as designed', 'another', 'no answer'],
    instruments: ['station'],
    minutes: 3,
    span: 1,
    how: 'Alone on the service track; read CV29 and the CVs that the design names.',
  },
  'wheel contact': {
    at: 'locomotive',
    words: ['good', 'poor'],
    instruments: ['dc meter'],
    minutes: 2,
    span: 1,
    how: 'Off the track; from each wheel that collects current to its wire, turning the wheel.',
  },
} as const satisfies Record<string, ReadingKind>

export type Quantity = keyof typeof READINGS
