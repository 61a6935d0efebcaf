/** What the power stage feeds into the track: the others on one supply, what is not known of its limit, what a driver stands. */
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { evidenceOfDesign, powerInput } from '../../src/proof/index.js'
import { calculateTrack, sourcesFromPower } from '../../src/track/index.js'

/** Two districts of an invented club on one supply, each with a driver of 0.5 Ohm. */
const DESIGN = (
  change: { limit?: string; channels?: string; stands?: string; load?: string } = {},
) => `halfbit: 2
name: Two sides (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  supplies:
    one: { voltage: 16 V, rating: 3 A, ${change.limit ?? 'limit: none'}, tolerance: 5 %, resistance: 0.1 Ohm }
  drivers:
    a: { figures: { highOhm: 250 mOhm, lowOhm: 250 mOhm, ${change.stands ?? 'continuous: 60 A, peak: 60 A'} } }
    ${change.channels ? '' : 'b: { figures: { highOhm: 250 mOhm, lowOhm: 250 mOhm } }'}
  districts:
    left: { driver: a, trip: { current: 2 A, by: breaker, after: 5 ms, afterTolerance: 0 % }${change.load ?? ''} }
    right: { driver: ${change.channels ? 'a' : 'b'}, trip: { current: 2 A, by: breaker, after: 5 ms, afterTolerance: 0 % } }
track:
  defaults: { rail: 100, feeder: { wire: 22 AWG, length: 100 mm } }
  bus:
    l: { district: left, wire: 16 AWG, length: 2 m }
    r: { district: right, wire: 16 AWG, length: 2 m }
  sections:
    west: { length: 1 m, feeders: { bus: l, at: 1 m } }
    east: { length: 1 m, feeders: { bus: r, at: 1 m } }
rollingStock:
  goods: { running: 1 A, section: east }
`
const design = (change?: Parameters<typeof DESIGN>[0]) => loadDesign(DESIGN(change))

const trackOf = (loaded: ReturnType<typeof design>) => {
  const { track, rollingStock, power, signal } = loaded.design
  return calculateTrack(
    { track: track!, rollingStock: rollingStock!, sources: sourcesFromPower(power!, signal) },
    { ringing: false },
  )
}
const districtOf = (loaded: ReturnType<typeof design>, name: string) =>
  trackOf(loaded).districts.find((d) => d.name === name)!

describe('the sources of a track', () => {
  it('lose what the others on one supply draw through its resistance', () => {
    // 16 V − 5 % = 15.2 V, less 1 A · 0.1 Ohm of the supply.
    expect(districtOf(design(), 'left').openVolt.low).toBeCloseTo(15.1, 9)
    expect(districtOf(design(), 'left').openVolt.high).toBeCloseTo(16.8, 9)
    expect(districtOf(design(), 'right').openVolt.low).toBeCloseTo(15.2, 9)
  })

  it('lose the driver too where the others go through the same channels', () => {
    const left = districtOf(design({ channels: 'one' }), 'left')
    // And 1 A through the driver of 0.5 Ohm.
    expect(left.openVolt.low).toBeCloseTo(15.2 - left.sourceOhm, 9)
    expect(left.sourceOhm).toBeGreaterThanOrEqual(0.6)
  })

  it('give a short no more than the others leave, and more than that only perhaps', () => {
    const unknown = districtOf(design({ limit: 'limit: unknown' }), 'left')
    expect(unknown.limitAmp).toBe(2)
    expect(unknown.limitHighAmp).toBeUndefined()
    expect(unknown.weakestShort.low).toBe(2)
    expect(unknown.weakestShort.high).toBeGreaterThan(10)
    const known = districtOf(
      design({ limit: 'limit: constant, limitCurrent: 4 A, limitTolerance: 0 %' }),
      'left',
    )
    expect([known.limitAmp, known.limitHighAmp]).toEqual([3, 4])
    expect(districtOf(design(), 'left').limitAmp).toBeUndefined()
    // A limit of a kind that is not known: sure to begin there, not sure to hold there.
    const kind = districtOf(
      design({ limit: 'limit: unknown, limitCurrent: 4 A, limitTolerance: 0 %' }),
      'left',
    )
    expect([kind.limitAmp, kind.limitHighAmp]).toEqual([3, undefined])
    expect(kind.weakestShort.high).toBeGreaterThan(10)
  })

  it('leave a trip open that a supply of unknown limit may or may not reach, in power and track alike', () => {
    const loaded = design({ limit: 'limit: unknown' })
    const rows = evidenceOfDesign(loaded, { file: 'x.yaml' }).statements.filter(
      (e) => e.clause === 'short-trip' && e.about === 'left',
    )
    expect(rows.map((r) => r.verdict)).toEqual(['undecided', 'undecided'])
    const short = powerReport(powerInput(loaded)!.input).districts.find((d) => d.name === 'left')!.short!
    expect(short.leastAmp).toBe(2)
    expect(short.leastTripUs).toBe(Number.POSITIVE_INFINITY)
    expect(short.tripUs).toBe(5000)
  })

  it('compare each short with the time that the driver stands it', () => {
    const end = (stands: string) => districtOf(design({ stands }), 'left').endurance!
    const continuous = end('continuous: 2 A, peak: 40 A, peakTime: 1 ms')
    expect(continuous.tripUs).toBe(5000)
    expect(continuous.standsUs).toBe(1000)
    expect(continuous.holds).toEqual({ unfavourable: false, favourable: false })
    const evidence = trackOf(design({ stands: 'continuous: 2 A, peak: 40 A, peakTime: 1 ms' })).evidence
    const row = evidence.find((e) => e.clause === 'short-trip' && e.about === 'left')!
    expect(row.verdict).toBe('broken')
    expect(row.because).toMatch(/off after 5 ms, for 1 ms/)
    expect(end('continuous: 2 A, peak: 40 A, peakTime: 6 ms').holds.favourable).toBe(true)
  })

  it('tell the power stage what stands in each district, and the wires that lead there', () => {
    const { loads } = powerInput(
      loadDesign(
        DESIGN()
          .replace('r: { district: right, wire: 16 AWG', 'r: { district: right, wire: 24 AWG')
          .replace(
            'rollingStock:',
            '  accessories:\n    lamps: { current: 300 mA, section: west }\nrollingStock:',
          ),
      ),
    )!.input
    expect(loads!.left).toMatchObject({ runningAmp: 0.3, worstAmp: 0.3, stalledAmp: 0.3 })
    // A motor without a stall current takes twice its running one.
    expect(loads!.right).toMatchObject({ runningAmp: 1, worstAmp: 2, stalledAmp: 2 })
    // 22 AWG of the feeder, 24 AWG of the bus: ASTM B258.
    expect(loads!.left!.thinnestWireMm2).toBeCloseTo(0.326, 3)
    expect(loads!.right!.thinnestWireMm2).toBeCloseTo(0.205, 3)
    expect(loads!.left!.wiringOhm).toBeGreaterThan(0.02)
  })

  it('take the capacitors of a district whose trains have none, and say that its currents are ignored', () => {
    const loaded = design({
      load: ', load: { running: 9 A, stayAlive: { capacitance: 1000 uF, count: 3 }, thinnestWire: 30 AWG }',
    })
    const { input, notes } = powerInput(loaded)!
    expect(notes.map((n) => n.sentence).join()).toMatch(/power\.districts\.left\.load are ignored/)
    expect(input.loads!.left!.runningAmp).toBe(0)
    expect(input.loads!.left!.stayAlive).toHaveLength(1)
    expect(input.loads!.left!.thinnestWireMm2).toBeCloseTo(0.0509, 3)
    expect(
      evidenceOfDesign(loaded, { file: 'x.yaml' })
        .notes.map((n) => n.sentence)
        .join(),
    ).toMatch(/are ignored/)
  })
})
