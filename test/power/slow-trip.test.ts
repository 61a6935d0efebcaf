/** Thin feeders, joiners and connectors against a trip, quick or slow, and what a clause's worst situation is. All invented. */
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'

interface Changes {
  feeder?: string
  after?: string
  trip?: string
  rating?: string
  joiner?: string
  fuse?: string
  shunt?: string
}

function reportOf({
  feeder = '0.75 mm2',
  after = '10 ms',
  trip = '3 A',
  rating = '16 A',
  joiner = 'soldered',
  fuse = '4 A',
  shunt = '0.05 Ohm, power: 3 W',
}: Changes) {
  const text = `
halfbit: 2
name: Feeders (invented)
scale: H0
controller: { chip: atmega328p, clock: { frequency: 16 MHz, source: crystal } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  supplies: { main: { voltage: 15 V, rating: 10 A, limit: constant, limitCurrent: 12 A, capacitance: 0 F, limitResponse: 0 us } }
  drivers: { main: { part: BTS7960B, cooling: { junctionToAmbient: 10 K/W } } }
  districts:
    main:
      fuse: ${fuse}
      sense: { kind: shunt, resistance: ${shunt}, reference: 1.1 V }
      trip: { current: ${trip}, by: breaker, after: ${after}, again: 600 s }
track:
  defaults: { rail: 100, joiner: ${joiner} }
  bus: { bus: { wire: 2.5 mm2, length: 3 m, laid: alone, connector: { rating: ${rating}, contact: 5 mOhm } } }
  sections:
    a: { length: 2 m, to: j, feeders: { bus: bus, at: 1 m, wire: ${feeder}, length: 100 mm } }
    b: { length: 2 m, from: j }
rollingStock: { tank: { running: 0.3 A, stall: 0.8 A, length: 150 mm, section: a } }
`
  const { input } = powerInput(loadDesign(text))!
  return powerReport({ ...input, builds: 1 })
}

/** A service track that may give 0.6 A, and is switched off by its trip. */
function serviceWith(after: string, limitCurrent = '0.6 A') {
  const text = `
halfbit: 2
name: Setting (invented)
scale: H0
controller: { chip: atmega328p, clock: { frequency: 16 MHz, source: crystal } }
signal: { outputs: { setting: { mode: service, pin: PB1 } } }
power:
  supplies: { main: { voltage: 15 V, rating: 0.2 A, limit: constant, limitCurrent: ${limitCurrent}, tolerance: 1 %, capacitance: 0 F, limitResponse: 0 us } }
  drivers: { main: { part: BTS7960B, cooling: { junctionToAmbient: 10 K/W } } }
  districts:
    setting:
      fuse: 0.5 A
      load: { running: 20 mA, worst: 50 mA, stalled: 100 mA, thinnestWire: 0.5 mm2 }
      trip: { current: 200 mA, by: breaker, after: ${after}, afterTolerance: 0 %, again: 600 s }
`
  const { input } = powerInput(loadDesign(text))!
  return row(powerReport({ ...input, builds: 1 }), 'short-trip')
}

type Report = ReturnType<typeof reportOf>
const row = ({ evidence }: Report, clause: string) => evidence.find((e) => e.clause === clause)!
const curvesOf = ({ protection }: Report) => JSON.stringify(protection?.[0])

describe("a feeder's own thin wire", () => {
  it('counts in a short that lasts until a slow trip', () => {
    expect(row(reportOf({ after: '2 s' }), 'short-trip').verdict).toBe('met')
    const thin = row(reportOf({ after: '2 s', feeder: '0.05 mm2' }), 'short-trip')
    expect(thin.verdict).not.toBe('met')
    expect(thin.because).toMatch(/wire/)
  })

  it('must be protected by the fuse', () => {
    expect(row(reportOf({}), 'fuse').verdict).toBe('met')
    const thin = row(reportOf({ feeder: '0.05 mm2' }), 'fuse')
    expect(thin.verdict).not.toBe('met')
    expect(thin.finding!.params['what']).toBe('wire')
    expect(thin.situation).toBe('a short that the fuse has to end alone')
  })

  it('stands on the chart of its district', () => {
    expect(curvesOf(reportOf({ feeder: '0.05 mm2' }))).toContain('0.05 mm')
    expect(curvesOf(reportOf({}))).not.toContain('0.05 mm')
  })
})

describe('a trip that acts slowly', () => {
  const SLOW = { after: '60 s', feeder: '2.5 mm2', fuse: '8 A' }

  it('lets a connector take more than its rating for too long', () => {
    expect(row(reportOf({ ...SLOW, after: '10 ms', rating: '4 A' }), 'short-trip').verdict).toBe('met')
    const slow = row(reportOf({ ...SLOW, rating: '4 A' }), 'short-trip')
    expect(slow.verdict).not.toBe('met')
    expect(slow.because).toMatch(/connector/)
  })

  it('lets a joiner take more than it carries for too long', () => {
    expect(row(reportOf({ ...SLOW, after: '10 ms', joiner: 'slip' }), 'short-trip').verdict).toBe('met')
    const slow = row(reportOf({ ...SLOW, joiner: 'slip' }), 'short-trip')
    expect(slow.verdict).not.toBe('met')
    expect(slow.because).toMatch(/joiner/)
  })

  it('lets a wire take more than it carries for too long', () => {
    const slow = row(reportOf({ ...SLOW, feeder: '0.25 mm2' }), 'short-trip')
    expect(slow.verdict).not.toBe('met')
  })
})

describe('the situation that decides', () => {
  it('is told by what was worst, for sense and fuse', () => {
    const weak = row(reportOf({ shunt: '0.05 Ohm, power: 0.125 W' }), 'sense-stress')
    expect(weak.finding!.params['what']).toBe('pulse')
    expect(weak.situation).toBe('a short at the terminals, until it is off')
    const pin = row(reportOf({ shunt: '0.05 Ohm, power: 30 W, gain: 20' }), 'sense-stress')
    expect(pin.situation).toBe('a short at the terminals, at its first peak')
    const small = row(reportOf({ fuse: '0.9 A' }), 'fuse')
    expect(small.situation).toBe('the worst load that the fuse must carry')
  })
})

describe('a short on a service track', () => {
  it('must be off after 100 ms where more than 250 mA flow (S-9.2.3:2012 B), whatever driver and wire survive', () => {
    expect(serviceWith('90 ms').finding?.code).not.toBe('power/service-trips-late')
    const late = serviceWith('120 ms')
    expect(late).toMatchObject({ verdict: 'broken', finding: { code: 'power/service-trips-late' } })
    expect(late.value).toMatchObject({ low: 120e3, high: 120e3 })
    expect(serviceWith('120 ms', '0.2 A').finding?.code).not.toBe('power/service-trips-late')
  })
})
