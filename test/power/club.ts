/** A sound station of an invented club, for tests. */
export const CLUB = {
  ambient: '35 C',
  supplies: {
    main: {
      voltage: '15 V',
      rating: '6 A',
      limit: 'constant',
      limitCurrent: '7 A',
      limitTolerance: '0 %',
      tolerance: '3 %',
    },
    service: {
      voltage: '15 V',
      rating: '0.5 A',
      limit: 'constant',
      limitCurrent: '0.6 A',
      tolerance: '3 %',
    },
  },
  drivers: {
    main: {
      part: 'DRV8874',
      supply: 'main',
      cooling: { junctionToAmbient: '22 K/W' },
      pins: [
        { name: 'phase', role: 'direction', fixed: 'PB4', wired: 'PB1', output: 'main' },
        { name: 'sleep', role: 'enable', wired: 'PB0' },
        { name: 'sense', role: 'sense', wired: 'PC0' },
      ],
    },
    programming: {
      part: 'DRV8871',
      supply: 'service',
      pins: [
        { name: 'in 1', role: 'direction', wired: 'PD3', current: '1 mA' },
        { name: 'enable gate', role: 'enable', wired: 'PD4', pull: 'low' },
      ],
    },
  },
  districts: {
    hall: {
      output: 'main',
      driver: 'main',
      fuse: '4 A',
      trip: { current: '2.5 A', samples: 3, after: '50 us' },
      sense: {
        kind: 'mirror',
        resistance: '1 kOhm',
        series: '10 kOhm',
        reference: '5 V',
        rate: '5000 /s',
        filter: '100 us',
      },
      load: {
        running: '1.4 A',
        worst: '2.2 A',
        stalled: '5 A',
        thinnestWire: '0.5 mm2',
        wiring: '0.3 Ohm',
        stayAlive: { capacitance: '1000 uF', count: 3 },
        decoders: 0,
      },
    },
    bench: {
      output: 'service',
      driver: 'programming',
      trip: { current: '0.22 A', samples: 100, after: '50 us', again: '5 s' },
      sense: {
        kind: 'shunt',
        resistance: '1 Ohm',
        power: '5 W',
        series: '10 kOhm',
        reference: '1.1 V',
        rate: '4000 /s',
      },
      load: { running: '50 mA', worst: '0.2 A', decoders: 0 },
      acknowledgement: { threshold: '30 mA', samples: 4, of: 5, rate: '1000 /s', average: 4 },
    },
  },
  controller: { from: 'track', reservoir: '2200 uF', supply: 'main', current: '50 mA' },
}
