/**
 * Single faults of the power stage: stations of which it must be said that protection does not hold with a fault, and what makes
 * it hold. Wires by IEC 60949 and the fuses' gates by IEC 60127-2 (both from memory), as in the clauses.
 */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { type FaultReport, powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'

interface Station {
  supply?: string
  driver?: string
  trip?: string
  sense?: string
  fuse?: string
  wire?: string
  controller?: string
}

/** A station of a driver that survives everything, so that the wires decide. */
function station(s: Station = {}): string {
  return `halfbit: 2
name: Faulty bench (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  ${s.controller ?? 'controller: { from: own }'}
  supplies: { main: { voltage: 15 V, tolerance: 3 %, rating: 8 A, capacitance: 0 F, limitResponse: 0 us, ${s.supply ?? 'limit: constant, limitCurrent: 9 A, limitTolerance: 5 %'} } }
  drivers:
    main:
      part: custom
      figures: { highOhm: 8 mOhm, highOhmMax: 10 mOhm, lowOhm: 8 mOhm, lowOhmMax: 10 mOhm, ohmPerKelvin: 0.4 %, continuous: 30 A, peak: 60 A, junctionMax: 150 C, quiescent: 2 mA, riseTime: 0.3 us, fallTime: 0.3 us, supplyMin: 6 V, supplyMax: 40 V${s.driver ?? ''} }
      cooling: { junctionToAmbient: 4 K/W }
      pins:
        - { name: in, role: direction, wired: PB1 }
        - { name: off, role: enable, wired: PB0, pull: low }
        - { name: flag, role: fault, wired: PD2 }
  districts:
    main:
      ${s.trip ?? 'trip: { current: 3 A, samples: 2, after: 1 ms }'}
      ${s.sense ?? 'sense: { kind: shunt, resistance: 20 mOhm, power: 10 W, gain: 10, amplifierSupply: 5 V, amplifierInputMax: 26 V, rate: 2000 /s }'}
      ${s.fuse ?? ''}
      load: { running: 1 A, worst: 2 A, thinnestWire: ${s.wire ?? '0.14 mm2'} }
`
}

function faultsOf(text: string): FaultReport[] {
  return powerReport({ ...powerInput(loadDesign(text))!.input, faults: true }).faults!
}

function fault(text: string, id: string): FaultReport {
  const found = faultsOf(text)
  const one = found.find((f) => f.id === id)
  expect(one, `${id} of ${found.map((f) => f.id).join(', ')}`).toBeDefined()
  return one!
}

const BREAKER: Station = { trip: 'trip: { current: 3 A, by: breaker, after: 1 ms }', sense: '' }
const BY_DRIVER: Station = {
  trip: 'trip: { current: 5 A, by: driver }',
  sense: '',
  driver: ', limit: 5 A, limitMin: 4 A, limitMax: 6 A, limitDelay: 5 us, atLimit: retries',
}

describe('protection that does not hold', () => {
  it.each<[string, Station, string, RegExp]>([
    [
      'a stuck off pin',
      {},
      'off-pin-stuck:main',
      /nothing ends a current of 3\.\d+ A to 9\.45 A, and thinnest wire, 0\.14 mm²/,
    ],
    [
      'firmware that hangs',
      {},
      'firmware-hangs:controller',
      /nothing ends a current of .* A, and thinnest wire/,
    ],
    ['an open sense line', {}, 'sense-open:main', /nothing ends a current of .* A, and thinnest wire/],
    ['a bridged shunt', {}, 'shunt-bridged:main', /nothing ends a current of .* A, and thinnest wire/],
    ['a dead amplifier', {}, 'amplifier-dead:main', /nothing ends a current of .* A, and thinnest wire/],
    ['a driver failed short', {}, 'driver-shorted:main', /nothing ends a current of .* A, and thinnest wire/],
    [
      'a breaker stuck closed',
      BREAKER,
      'breaker-stuck:main',
      /nothing ends a current of .* A, and thinnest wire/,
    ],
    [
      'a fault output that firmware no longer reads',
      BY_DRIVER,
      'fault-line-open:main',
      /nothing ends a current of .* to 6 A, and thinnest wire/,
    ],
    [
      'a driver that was the trip, failed short',
      BY_DRIVER,
      'driver-shorted:main',
      /nothing ends a current of/,
    ],
    [
      'a reference of 5 V in place of 1.1 V',
      {
        sense:
          'sense: { kind: shunt, resistance: 20 mOhm, power: 10 W, gain: 10, amplifierSupply: 5 V, amplifierInputMax: 26 V, rate: 2000 /s, reference: 1.1 V }',
      },
      'reference-high:main',
      /thinnest wire/,
    ],
    [
      'half of the current in a filter',
      {
        wire: '0.25 mm2',
        sense:
          'sense: { kind: shunt, resistance: 20 mOhm, power: 10 W, gain: 10, amplifierSupply: 5 V, amplifierInputMax: 26 V, rate: 2000 /s, filter: 1 ms }',
      },
      'switch-open:main',
      /to \d\.\d+ A .*thinnest wire, 0\.25 mm²/,
    ],
    [
      'a sense of one polarity without its filter',
      {
        sense:
          'sense: { kind: shunt, sees: one, resistance: 20 mOhm, power: 10 W, gain: 10, amplifierSupply: 5 V, amplifierInputMax: 26 V, rate: 2000 /s, filter: 2 ms }',
      },
      'filter-open:main',
      /nothing ends a current of .* A, and thinnest wire/,
    ],
    [
      'a controller without its capacitor',
      {
        controller: 'controller: { from: track, regulator: switching, current: 100 mA, reservoir: 4700 uF }',
      },
      'reservoir-open:controller',
      /thinnest wire/,
    ],
    [
      'a supply whose limit is gone, with a driver of a small peak',
      { wire: '1.5 mm2', driver: ', continuous: 9 A, peak: 12 A, peakTime: 10 us' },
      'limit-gone:main',
      /driver main does not survive it at all/,
    ],
    [
      'a fuse too big for its wire',
      { fuse: 'fuse: 4 A' },
      'sense-open:main',
      /to 9\.45 A ends only after \d+(\.\d+)? s, and thinnest wire/,
    ],
    [
      'a bridged fuse that stood in for a trip',
      { trip: '', sense: '', fuse: 'fuse: 1 A' },
      'fuse-bridged:main',
      /nothing ends a current of/,
    ],
  ])('with %s', (_, s, id, says) => {
    const text = station(s).replace(/, continuous: 30 A, peak: 60 A(?=.*continuous: 9 A)/, '')
    const found = fault(text, id)
    expect(found.finding.sentence).toMatch(says)
    expect(found.finding.sentence).toMatch(/: protection does not hold in main: /)
    expect(found.holds).toBe('no')
    expect(found.alsoWithout).toBeUndefined()
  })
})

describe('protection that still holds', () => {
  const all = (s: Station) => faultsOf(station(s)).map((f) => [f.id, f.holds, f.by] as const)

  it('by a supply that gives no more than every part carries', () => {
    const found = all({ supply: 'limit: constant, limitCurrent: 8.4 A', wire: '1.5 mm2' })
    expect(found.filter(([id]) => /stuck|hangs|sense-open|bridged|dead|shorted/.test(id)).length).toBe(6)
    for (const [id, holds, by] of found)
      if (/stuck|hangs|sense-open|bridged|dead|shorted/.test(id))
        expect([id, holds, by]).toEqual([id, 'yes', 'limit'])
  })

  it('by a fuse that opens before the wire comes to harm', () => {
    for (const id of ['sense-open:main', 'off-pin-stuck:main', 'driver-shorted:main'])
      expect(fault(station({ fuse: 'fuse: 2 A', wire: '0.75 mm2' }), id)).toMatchObject({
        holds: 'yes',
        by: 'fuse',
      })
  })

  it('by the trip, where the fuse or the limit is gone', () => {
    const text = station({ fuse: 'fuse: 2 A', wire: '0.75 mm2' })
    expect(fault(text, 'fuse-bridged:main')).toMatchObject({ holds: 'yes', by: 'trip' })
    expect(fault(station({ ...BREAKER, wire: '0.75 mm2' }), 'driver-shorted:main')).toMatchObject({
      holds: 'yes',
      by: 'trip',
    })
  })

  it('by a district that stays off, with its sense line at the logic supply', () => {
    expect(fault(station(), 'sense-high:main')).toMatchObject({ holds: 'yes', by: 'trip', amp: 0 })
  })
})

describe('a shunt that has burnt open', () => {
  const shunt = (more = '') => ({
    sense: `sense: { kind: shunt, resistance: 20 mOhm, power: 10 W, reference: 1.1 V, rate: 2000 /s${more} }`,
    trip: 'trip: { current: 3 A, samples: 2, after: 1 ms }',
  })
  const at = (more?: string) => fault(station(shunt(more)), 'shunt-open:main')

  it('brings the supply to the converter pin', () => {
    expect(at()).toMatchObject({ holds: 'no', by: 'open', amp: 0 })
    // 15 V + 3 %.
    expect(at().finding.sentence).toMatch(
      /: protection does not hold in main: nothing flows any more, but 15\.5 V reach the converter pin, which does not withstand that/,
    )
    // (15.45 − 5.5) V / 1 mA of clamp current, from memory of application notes: 9.95 kOhm.
    expect(at(', series: 9.5 kOhm').holds).toBe('no')
    expect(at(', series: 10.5 kOhm').holds).toBe('yes')
  })

  it('brings it to the input of an amplifier, which must withstand it', () => {
    const amplifier = ', gain: 10, amplifierSupply: 5 V'
    expect(at(`${amplifier}, amplifierInputMax: 26 V`)).toMatchObject({ holds: 'yes', by: 'open' })
    expect(at(`${amplifier}, amplifierInputMax: 6 V`).holds).toBe('no')
    expect(at(amplifier).holds).toBe('undecided')
  })
})

describe('a terminator whose capacitor is shorted', () => {
  const at = (terminator: string, trains = 'rollingStock: { loco: { running: 0.3 A } }') =>
    fault(
      `${station({ trip: 'trip: { current: 3 A, by: breaker, after: 1 ms }', sense: '' })}
track:
  bus: { ring: { district: main, wire: 1.5 mm2, length: 3 m, terminator: { capacitance: 100 nF, ${terminator} } } }
  sections: { line: { length: 2 m, feeders: { wire: 0.75 mm2, length: 200 mm } } }
${trains}
`,
      'terminator-shorted:ring',
    )

  it('heats its resistor with a current that trips nothing', () => {
    // 15.45 V² / 47 Ohm = 5.08 W at 329 mA.
    const found = at('resistance: 47 Ohm, power: 2 W')
    expect(found.holds).toBe('no')
    expect(found.watt).toBeCloseTo(15.45 ** 2 / 47, 9)
    expect(found.finding.sentence).toMatch(
      /329 mA flow continuously, which trip nothing and make up to 5\.08 W in the resistor across the end of bus ring, rated 2 W/,
    )
  })

  it('does so without any trains in the design', () => {
    const found = at('resistance: 47 Ohm, power: 2 W', '')
    expect(found).toMatchObject({ holds: 'no', districts: ['main'] })
  })

  it('leaves open what a resistor without a rating withstands, and one between the corners', () => {
    expect(at('resistance: 47 Ohm').holds).toBe('undecided')
    expect(at('resistance: 47 Ohm, power: 5 W').holds).toBe('undecided')
  })

  it('does no harm to one that is rated for it, nor where it trips', () => {
    expect(at('resistance: 47 Ohm, power: 6 W')).toMatchObject({ holds: 'yes', by: 'limit' })
    expect(at('resistance: 3 Ohm, power: 2 W')).toMatchObject({ holds: 'yes', by: 'trip' })
  })
})

it('an output capacitor that is open takes nothing from protection, and only one that the design gives can be', () => {
  const capacitors = station({ wire: '0.75 mm2', fuse: 'fuse: 2 A' }).replace(
    'capacitance: 0 F',
    'capacitance: 10 uF',
  )
  expect(fault(capacitors, 'capacitor-open:main')).toMatchObject({ holds: 'yes', by: 'trip' })
  expect(faultsOf(station()).map((f) => f.id)).not.toContain('capacitor-open:main')
})

describe('what is not known', () => {
  it('is said: what the driver withstands', () => {
    const text = station({ wire: '1.5 mm2' }).replace('continuous: 30 A, peak: 60 A, ', '')
    expect(fault(text, 'sense-high:main').holds).toBe('yes')
    expect(fault(text, 'sense-open:main')).toMatchObject({
      holds: 'undecided',
      unknown: 'the peak current of driver main',
    })
  })

  it('is said: which wires must survive it', () => {
    const wireless = station().replace(', thinnestWire: 0.14 mm2', '')
    expect(fault(wireless, 'sense-open:main')).toMatchObject({
      holds: 'undecided',
      unknown: 'which wires must survive it',
    })
  })

  it('does not hold with a hiccup supply: just below its limit nothing switches off', () => {
    const hiccup = 'limit: hiccup, limitCurrent: 9 A, limitTolerance: 5 %, hiccupOn: 20 ms, hiccupOff: 2 s'
    expect(fault(station({ supply: hiccup }), 'sense-open:main').holds).toBe('no')
  })
})

it('lists only faults that a design can have', () => {
  const ids = (s: Station) => faultsOf(station(s)).map((f) => f.id.split(':')[0])
  expect(ids(BREAKER)).toEqual(['breaker-stuck', 'driver-shorted', 'limit-gone'])
  expect(ids({ ...BREAKER, supply: 'limit: none', fuse: 'fuse: 4 A' })).toEqual([
    'breaker-stuck',
    'driver-shorted',
    'fuse-bridged',
  ])
  expect(ids({ trip: '', sense: '' })).toEqual(['driver-shorted', 'limit-gone'])
  expect(ids({})).not.toContain('reference-high')
  expect(ids({})).not.toContain('filter-open')
})

const odd = new URL('./odd/', import.meta.url).pathname

// One contradicts itself and cannot be calculated.
it.each(readdirSync(odd).filter((name) => name !== 'two-signals.yaml'))(
  'changes no verdict, and says what ends a short: %s',
  (name) => {
    const { input } = powerInput(loadDesign(readFileSync(`${odd}${name}`, 'utf8')))!
    const [plain, asked] = [powerReport(input), powerReport({ ...input, faults: true })]
    expect(asked.evidence).toEqual(plain.evidence)
    expect(plain.faults).toBeUndefined()
    for (const f of asked.faults!) {
      expect(f.finding.sentence).not.toMatch(/NaN|undefined|Infinity/)
      // What holds has something that ends a short, or a current that everything carries.
      if (f.holds === 'yes') expect(f.by, f.id).not.toBe('nothing')
      if (f.holds === 'yes' && f.by !== 'limit') expect(f.endsUs, f.id).toBeLessThan(Number.POSITIVE_INFINITY)
    }
  },
)
