/** Invented designs for the starter firmware: every simulated chip, one output or two, one driver or two. */
import type { SimulatedChip } from '../../src/controller/index.js'

export interface StationOptions {
  chip: SimulatedChip
  profile?: 'nmra' | 'rcn'
  /** A service track, and a second driver on the one bitstream, rather than one output with one driver. */
  full?: boolean
  /** A cut-out after each packet: a pair of pins of one timer, to a driver with two inputs. */
  cutout?: boolean
}

/** Pins: of signals, enable inputs and senses. The reference is one that the chip has. */
const PINS = {
  atmega328p: {
    main: 'PB2',
    inverted: 'PB1',
    service: 'PD3',
    timer: 2,
    enable: ['PB0', 'PD4', 'PD7'],
    sense: ['PC0', 'PC1', 'PC2'],
    volt: 1.1,
    ohm: 0.1,
  },
  atmega2560: {
    main: 'PB6',
    inverted: 'PB7',
    service: 'PE4',
    timer: 3,
    enable: ['PH6', 'PE3', 'PH5'],
    sense: ['PF0', 'PK1', 'PF2'],
    volt: 1.1,
    ohm: 0.1,
  },
  atmega32u4: {
    main: 'PB6',
    inverted: 'PB7',
    service: 'PC6',
    timer: 3,
    enable: ['PD4', 'PD6', 'PD7'],
    sense: ['PF0', 'PF1', 'PF4'],
    volt: 2.56,
    ohm: 0.22,
  },
} as const

export function stationDesign({
  chip,
  profile = 'nmra',
  full = false,
  cutout = false,
}: StationOptions): string {
  const p = PINS[chip]
  const driver = (name: string, output: string, signal: string, n: 0 | 1 | 2, supply: string) => `    ${name}:
      part: DRV8874
      supply: ${supply}
      cooling: { junctionToAmbient: 20 K/W }
      pins:
        - { name: phase, role: direction, wired: ${signal}, output: ${output} }
${cutout && output === 'main' ? `        - { name: other, role: inverted, wired: ${p.inverted}, output: main }\n` : ''}        - { name: enable, role: enable, wired: ${p.enable[n]}, pull: low }
        - { name: shunt, role: sense, wired: ${p.sense[n]} }
`
  const district = (name: string, output: string, ohm: number, trip: string, load: string) => `    ${name}:
      output: ${output}
      driver: ${name}
      fuse: 4 A
      sense: { kind: shunt, resistance: ${ohm} Ohm, power: 3 W, reference: ${p.volt} V, referenceTolerance: 10 %, rate: ${full ? 6400 : 9600} /s, filter: ${output === 'service' ? '10 us, series: 10 kOhm' : '100 us'} }
      trip: ${trip}
      load: ${load}
`
  const main = district(
    'main',
    'main',
    p.ohm,
    `{ current: 2.5 A, samples: ${full ? 13 : 20}, after: 100 us }`,
    '{ running: 0.5 A, worst: 1 A, stalled: 2 A, thinnestWire: 0.5 mm2 }',
  )
  const setting = `${district(
    'setting',
    'service',
    1,
    '{ current: 220 mA, samples: 620, after: 100 us }',
    '{ running: 50 mA, worst: 100 mA, stalled: 220 mA, thinnestWire: 0.5 mm2 }',
  )}      acknowledgement: { threshold: 40 mA, samples: 14, smoothing: 0.125 }
`
  return `halfbit: 2
name: Trial station (invented)
standard: { profile: ${profile} }
scale: H0
controller:
  chip: ${chip}
  clock: { frequency: 16 MHz, source: crystal }
  checkedPins: [PF0, PF1, PF4] # the debug interface is off
signal:
  outputs:
    main: { mode: operations, pin: ${p.main}, timer: 1, preamble: ${profile === 'nmra' && !cutout ? 16 : 17}${cutout ? `, cutout: true, inverted: ${p.inverted}` : ''} }
${full ? `    service: { mode: service, pin: ${p.service}, timer: ${p.timer}, preamble: 22 }\n` : ''}power:
  supplies:
    main: { voltage: 13 V, tolerance: 3 %, rating: 4 A, limit: constant, limitCurrent: 4.4 A, fuse: 5 A }
    small: { voltage: 13 V, tolerance: 3 %, rating: 0.5 A, limit: constant, limitCurrent: 0.6 A, fuse: 800 mA }
  drivers:
${driver('main', 'main', p.main, 0, 'main')}${full ? driver('yard', 'main', p.main, 2, 'main') : ''}${full ? driver('setting', 'service', p.service, 1, 'small') : ''}  districts:
${main}${full ? main.replaceAll('main:', 'yard:').replace('driver: main', 'driver: yard') : ''}${full ? setting : ''}fleet:
  tank engine: { address: 3, functions: 4, acceleration: 2, deceleration: 2, timeout: 2 s, topSpeed: 60 km/h }
  railcar: { address: 1247, functions: 12, acceleration: 2, deceleration: 2, timeout: 2 s, topSpeed: 60 km/h }
`
}
