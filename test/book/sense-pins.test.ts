/** Whose current each pin carries: every sensed district has its own shunt, amplifier and pin, in wiring and firmware. */
import { describe, expect, it } from 'vitest'
import { bookHtml, starterPlan } from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { allStages } from '../../src/power/index.js'
import { faultsOf, sheetFaults } from './diagram-faults.js'
import { bookOf } from './made.js'

const SHUNT = (ohm: number, more = '') =>
  `{ kind: shunt, resistance: ${ohm} Ohm, power: 2 W, reference: 1.1 V, referenceTolerance: 10 %, rate: 800 /s, filter: 100 us${more} }`
const MIRROR =
  '{ kind: mirror, resistance: 1 kOhm, reference: 5 V, referenceTolerance: 5 %, rate: 800 /s, filter: 100 us }'
const CUSTOM =
  'part: custom, figures: { highOhm: 0.1 Ohm, lowOhm: 0.1 Ohm, continuous: 4 A, supplyMax: 30 V, junctionMax: 150 C, bridgesPerPackage: 2, mirror: 0.0005 }'

interface Station {
  driver?: string
  pins: string[]
  /** By name: channels and sense. */
  districts: Record<string, { channels: string; sense?: string; trip?: string }>
}

const design = ({ driver = 'part: L298', pins, districts }: Station) => `halfbit: 2
name: Whose current (invented)
standard: { profile: nmra }
scale: N
controller: { chip: atmega2560, clock: { frequency: 16 MHz, source: crystal } }
signal: { outputs: { main: { mode: operations, pin: PB6, timer: 1, preamble: 16 } } }
power:
  supplies: { s: { voltage: 13 V, tolerance: 1 %, rating: 3 A, limit: constant, limitCurrent: 3.5 A, fuse: 3 A } }
  drivers:
    b: { ${driver}, cooling: { junctionToAmbient: 10 K/W }, pins: [{ name: in, role: direction, wired: PB6, output: main }, { name: on A, role: enable, wired: PA0, pull: low, channel: 1 }, { name: on B, role: enable, wired: PA1, pull: low, channel: 2 }, ${pins.join(', ')}] }
  districts:
${Object.entries(districts)
  .map(
    ([name, { channels, sense, trip = '{ current: 1.5 A, samples: 2, after: 100 us }' }]) =>
      `    ${name}: { channels: ${channels}, fuse: 2.5 A, ${sense ? `sense: ${sense}, ` : ''}trip: ${trip}, load: { running: 0.2 A, worst: 0.3 A, stalled: 0.4 A, thinnestWire: 0.5 mm2 } }`,
  )
  .join('\n')}
`

const pin = (name: string, at: string, channel?: number) =>
  `{ name: ${name}, role: sense, wired: ${at}${channel === undefined ? '' : `, channel: ${channel}`} }`

/** From each pin of the controller that carries a current, over all parts that only it is wired with, to what it reads. */
function reads(text: string): Record<string, string> {
  const made = bookOf(loadDesign(text))
  const { wiring } = made.book
  expect(faultsOf(wiring, made.diagram)).toEqual([])
  expect(sheetFaults(wiring)).toEqual([])
  const found: Record<string, string> = {}
  for (const c of wiring.connections) {
    if (c.from !== 'controller ' || !c.roles.includes('sense') || c.to.startsWith('capacitor ')) continue
    let [part, at] = [c.to, c.toAt]
    const on = new Set<string>()
    for (;;) {
      const next = wiring.connections.find(
        (x) => x.from === part && part.startsWith('resistor ') && x.roles.includes('sense') && !on.has(part),
      )
      if (!next) break
      on.add(part)
      ;[part, at] = [next.to, next.toAt]
    }
    // Never two ways to one pin.
    expect(found, c.fromAt).not.toHaveProperty(c.fromAt)
    found[c.fromAt] = `${part}: ${at}`
  }
  // A part between a pin and what it reads belongs to that pin alone.
  for (const part of wiring.parts)
    if (/^(resistor series|capacitor filter)/.test(part.id))
      expect(wiring.connections.filter((c) => c.to === part.id && c.roles.includes('sense'))).toHaveLength(1)
  expect(bookHtml(made)).not.toMatch(/undefined|NaN/)
  return found
}

const two = (one: string, other: string) => ({
  near: { channels: '1', sense: one },
  far: { channels: '2', sense: other },
})

describe('a shunt of its own', () => {
  it('of one channel', () => {
    const text = design({
      pins: [pin('A', 'PF0')],
      districts: { near: { channels: '1', sense: SHUNT(0.2) } },
    })
    expect(reads(text)).toEqual({ PF0: 'sense near: sense tap, driver side' })
  })

  it('of each of two channels, in their order, or as the pins say', () => {
    const districts = two(SHUNT(0.2), SHUNT(0.1))
    const own = { PF0: 'sense near: sense tap, driver side', PF1: 'sense far: sense tap, driver side' }
    expect(reads(design({ pins: [pin('A', 'PF0'), pin('B', 'PF1')], districts }))).toEqual(own)
    expect(reads(design({ pins: [pin('B', 'PF1', 2), pin('A', 'PF0', 1)], districts }))).toEqual(own)
    expect(reads(design({ pins: [pin('B', 'PF1', 2), pin('A', 'PF0')], districts }))).toEqual(own)
    const { far, near } = districts
    expect(reads(design({ pins: [pin('A', 'PF0'), pin('B', 'PF1')], districts: { far, near } }))).toEqual(own)
  })

  it('with an amplifier of its own where it is in a leg or the signal is small', () => {
    for (const more of [', sees: one, gain: 10', ', gain: 10']) {
      const small = SHUNT(0.01, more)
      const text = design({ pins: [pin('A', 'PF0'), pin('B', 'PF1')], districts: two(small, small) })
      expect(reads(text)).toEqual({
        PF0: 'sense amplifier near: output',
        PF1: 'sense amplifier far: output',
      })
      const { wiring } = bookOf(loadDesign(text)).book
      for (const name of ['near', 'far']) {
        const taps = wiring.connections.filter(
          (c) => c.to === `sense amplifier ${name}` && c.from.startsWith('sense '),
        )
        expect(taps.map((c) => c.from)).toEqual([`sense ${name}`, `sense ${name}`])
      }
    }
  })

  it('that two channels in parallel share', () => {
    const districts = { all: { channels: '[1, 2]', sense: SHUNT(0.2) } }
    expect(reads(design({ pins: [pin('A', 'PF0')], districts }))).toEqual({
      PF0: 'sense all: sense tap, driver side',
    })
  })

  it('that two districts behind one channel share: one shunt for the current of both', () => {
    const trip = '{ by: breaker, current: 1 A, after: 2 ms }'
    const districts = {
      near: { channels: '1', sense: SHUNT(0.2), trip },
      far: { channels: '1', sense: SHUNT(0.2), trip },
    }
    const text = design({ pins: [pin('A', 'PF0')], districts })
    expect(reads(text)).toEqual({ PF0: 'sense near: sense tap, driver side' })
    const made = bookOf(loadDesign(text))
    expect(made.book.wiring.parts.filter((p) => p.title.startsWith('Shunt')).map((p) => p.id)).toEqual([
      'sense near',
    ])
    expect(made.book.parts.find((p) => p.part === 'shunt resistor')?.count).toBe(1)
    const amp = (name: string) => made.sources.power!.districts.find((d) => d.name === name)!.sustainedAmp!
    const back = made.book.wiring.connections.filter((c) => c.from === 'sense near' && c.to === 'driver b')
    expect(back.map((c) => c.amp)).toEqual([amp('near') + amp('far')])
  })
})

it('takes the sense output of each channel of a part over a resistor of its own', () => {
  const text = design({
    driver: CUSTOM,
    pins: [pin('IPROPI 1', 'PF0'), pin('IPROPI 2', 'PF1')],
    districts: two(MIRROR, MIRROR),
  })
  expect(reads(text)).toEqual({ PF0: 'driver b: IPROPI 1', PF1: 'driver b: IPROPI 2' })
  const { wiring } = bookOf(loadDesign(text)).book
  const burdens = wiring.connections.filter(
    (c) => c.to.startsWith('resistor burden') && c.from === 'driver b',
  )
  expect(burdens.map((c) => [c.fromAt, c.to])).toEqual([
    ['IPROPI 1', 'resistor burden near'],
    ['IPROPI 2', 'resistor burden far'],
  ])
})

it('leaves a pin that nothing reads at the terminal of its name', () => {
  const text = design({
    pins: [pin('A', 'PF0'), pin('B', 'PF1')],
    districts: { near: { channels: '1', sense: SHUNT(0.2) } },
  })
  expect(reads(text)).toEqual({ PF0: 'sense near: sense tap, driver side', PF1: 'driver b: B' })
})

it('is the same for wiring and firmware', () => {
  const text = design({
    pins: [pin('B', 'PF1', 2), pin('A', 'PF0', 1)],
    districts: two(SHUNT(0.2), SHUNT(0.2)),
  })
  const loaded = loadDesign(text)
  const stages = allStages(loaded.design.power!, loaded.design.signal)
  expect(stages.map((s) => [s.name, s.sensePin?.name])).toEqual([
    ['near', 'A'],
    ['far', 'B'],
  ])
  const plan = starterPlan(loaded, 'x.yaml')
  expect(plan.sensing?.senses.map((s) => [s.district, s.pin])).toEqual([
    ['near', 'PF0'],
    ['far', 'PF1'],
  ])
  // Each is switched by the enable input of its own channel.
  expect(plan.switches.map((s) => [s.districts, s.pins.map((p) => p.pin)])).toEqual([
    [['near'], ['PA0']],
    [['far'], ['PA1']],
  ])
})

describe('refuses', () => {
  const problem = (station: Station) => {
    try {
      loadDesign(design(station), 'x.yaml')
    } catch (error) {
      return `${error}`
    }
    return 'nothing'
  }

  it('one pin for two shunts, which would trip either by the current of the other', () => {
    const said = problem({ pins: [pin('A', 'PF0')], districts: two(SHUNT(0.2), SHUNT(0.2)) })
    expect(said).toMatch(/no pin with the role "sense" of driver "b" is left.*"far"/s)
    const named = problem({ pins: [pin('A', 'PF0', 2)], districts: two(SHUNT(0.2), SHUNT(0.2)) })
    expect(named).toContain('"near"')
  })

  it('a channel that the driver does not have', () => {
    const said = problem({
      pins: [pin('A', 'PF0', 3)],
      districts: { near: { channels: '1', sense: SHUNT(0.2) } },
    })
    expect(said).toContain('has channels 1 to 2; found 3')
  })
})
