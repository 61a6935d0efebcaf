/** Railroads to be spoiled: wyes, loops, turntables, yards and sidings on switches. All invented. */
import { changed, inputs, one, type Part, station, TERMINATED, two } from './station.js'

export const drivers = (east: Part, west: Part = {}): Part => ({ power: { drivers: { west, east } } })
export const bothDrivers = (own: Part) => drivers(own, own)
export const ofWest = (what: 'supplies' | 'drivers' | 'districts', own: Part): Part => ({
  power: { [what]: { west: own } },
})
export const isolator = (delayMin: string, delayMax: string) => ({ isolator: { delayMin, delayMax } })

export const REVERSER = {
  turn: { ...TERMINATED, from: 'west', length: '1 m', reverser: { trip: '1 A', time: '0.3 ms' } },
}

/** Three turnouts with their legs to each other, and tracks to three sides. */
export function wye(bus: Part, sections: Part, change: Part = {}): Part {
  const fed = { feeders: { bus: 'west' } }
  return one(
    changed(
      {
        sections: {
          line: null,
          a: { length: '2 m', to: 'A.points', ...fed },
          b: { length: '2 m', to: 'B.points', ...fed },
          tail: { length: '2 m', to: 'C.points', ...fed },
          ab: { length: '1 m', from: 'A.straight', to: 'B.straight', ...fed },
          ac: { length: '1 m', from: 'A.diverging', to: 'C.straight', ...fed },
          bc: { length: '1 m', from: 'B.diverging', to: 'C.diverging', ...fed },
        },
        turnouts: { A: {}, B: {}, C: {} },
      },
      { bus, sections },
    ),
    change,
  )
}

export function loop(own: Part = {}, change: Part = {}, bus: Part = {}): Part {
  return one(
    {
      bus: changed(REVERSER, bus),
      sections: {
        line: null,
        stem: { length: '2 m', to: 'L.points', feeders: { bus: 'west' } },
        loop: {
          length: '3 m',
          from: 'L.straight',
          to: 'L.diverging',
          gaps: 'both',
          feeders: { bus: 'turn' },
          ...own,
        },
      },
      turnouts: { L: {} },
    },
    change,
  )
}

/** A bridge that withstands 10 A and does not limit its current. */
export const STRONG = {
  part: 'custom',
  figures: {
    highOhm: '20 mOhm',
    highOhmMax: '30 mOhm',
    lowOhm: '20 mOhm',
    lowOhmMax: '30 mOhm',
    ohmPerKelvin: '0.5 %',
    continuous: '5 A',
    peak: '10 A',
    junctionMax: '150 C',
    quiescent: '5 mA',
    riseTime: '150 ns',
    fallTime: '150 ns',
  },
}

/** The same with all that is asked of a driver of one's own. */
export const OWN_BRIDGE = {
  ...STRONG.figures,
  risingDelay: '0.3 us',
  fallingDelay: '0.3 us',
  junctionToAmbient: '10 K/W',
  inputHigh: '2 V',
  inputLow: '0.8 V',
  inputMax: '7 V',
  inputPull: 'low',
}

/** A shunt that the controller reads. */
export const READ_SHUNT = {
  kind: 'shunt',
  resistance: '0.1 Ohm',
  power: '3 W',
  series: '10 kOhm',
  reference: '5 V',
  rate: '9600 /s',
  filter: '50 us',
}

export const LONG_TRAIN = { rollingStock: { loco: { length: '1.2 m' } } }

/** A turntable with a road in either district. */
export function turntable(turns: string, change: Part = {}, bus: Part = {}, feed = 'west'): Part {
  return station(
    ['west', 'east'],
    {
      bus,
      sections: {
        w: { length: '2 m', to: 'D.1', feeders: { bus: 'west' } },
        e: { length: '1 m', from: 'D.2', feeders: { bus: 'east' } },
      },
      turntables: { D: { length: '300 mm', roads: 6, turns, feeders: { bus: feed } } },
    },
    change,
  )
}

export const SERVICE = {
  signal: {
    outputs: {
      service: { mode: 'service', pin: 'PE3', inverted: 'PE4', method: 'buffered', timer: 3, prescaler: 8 },
    },
  },
  power: {
    districts: { east: { output: 'service' } },
    drivers: { east: { pins: inputs('PE3', 'PE4', 'PA1') } },
  },
}

/** A yard that a switch feeds from either district. */
export const yard = (own: Part, change: Part = {}) =>
  two(
    {
      bus: { yard: { ...TERMINATED, length: '1 m', switch: own, connector: { rating: '5 A' } } },
      sections: {
        w: { from: 'z', gaps: 'both' },
        yard: { length: '1 m', from: 'z', feeders: { bus: 'yard' } },
      },
    },
    change,
  )

/** A line with sidings at its turnouts, both rails cut, each on a switch of its own. */
export function sidings(count: number): Part {
  const numbers = Array.from({ length: count }, (_, i) => i)
  const each = (what: (i: number) => [string, Part][]) => Object.fromEntries(numbers.flatMap(what))
  const hand = {
    from: 'west',
    wire: '1.5 mm2',
    length: '1 m',
    geometry: 'twisted',
    switch: { kind: 'off-on' },
  }
  return one({
    bus: each((i) => [[`s${i}`, { ...hand, connector: { rating: '5 A' } }]]),
    sections: {
      line: { length: '1 m', to: 'T0.points' },
      ...each((i) => [
        [`side${i}`, { length: '1 m', from: `T${i}.diverging`, gaps: 'from', feeders: { bus: `s${i}` } }],
        [
          `line${i}`,
          {
            length: '1 m',
            from: `T${i}.straight`,
            feeders: { bus: 'west' },
            ...(i + 1 < count ? { to: `T${i + 1}.points` } : {}),
          },
        ],
      ]),
    },
    turnouts: each((i) => [[`T${i}`, {}]]),
  })
}

/** One rail cut between the districts, the other common. */
export const commonRail = (change: Part) =>
  two({ sections: { w: { gaps: 'none' } }, joints: { x: { gap: 'left' } } }, change)

export const deadStretch = (change: Part) =>
  two(
    {
      sections: { w: { gaps: 'none' }, mid: { length: '1 m', from: 'x', to: 'y' }, e: { from: 'y' } },
      joints: { x: { gap: 'left' }, y: { gap: 'right' } },
    },
    change,
  )

export const NO_PINS = bothDrivers({ pins: null })
export const PTC = { fuse: '3 A', fuseKind: 'resettable' }
export const SHUNT = { kind: 'shunt', resistance: '0.1 Ohm', power: '3 W', reference: '5 V', bits: 10 }
