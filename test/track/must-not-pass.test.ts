/** Railroads that would hurt something, or not work: none of them may be called met. All invented. */
import { describe, expect, it } from 'vitest'
import { type ClauseId, profileOf } from '../../src/standard/index.js'
import { calculateTrack, type DistrictSource, type TrackInput } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const profile = profileOf({ profile: 'nmra', edition: '2020', scale: 'H0', cutout: false })

function reportOf(
  track: object,
  stock: object = {},
  sources: Record<string, Partial<DistrictSource> & { volt?: number }> = { main: {} },
) {
  const input: TrackInput = {
    track: trackOf(track),
    rollingStock: stockOf(stock),
    sources: new Map(
      Object.entries(sources).map(([name, { volt = 15, ...own }]) => [name, sourceOf(volt, own)]),
    ),
    profile,
  }
  return calculateTrack(input)
}

type Report = ReturnType<typeof reportOf>

function about({ evidence }: Report, clause: ClauseId, district?: string) {
  const found = evidence.find((e) => e.clause === clause && (!district || e.about === district))
  if (!found) throw new Error(`no evidence for ${clause}`)
  return found
}

describe('a reversed stretch', () => {
  /** A balloon loop of 3 m behind a reverser that acts in good time. */
  const loop = (trainMm: number) =>
    reportOf(
      {
        bus: {
          bus: { wire: '2.5 mm2', length: '2 m' },
          turn: { from: 'bus', wire: '2.5 mm2', length: '1 m', reverser: { trip: '2 A', time: '5 ms' } },
        },
        sections: {
          stem: { length: '2 m', to: 'T.points', feeders: { bus: 'bus' } },
          loop: {
            count: 3,
            length: '1 m',
            from: 'T.straight',
            to: 'T.diverging',
            gaps: 'both',
            feeders: { bus: 'turn' },
          },
        },
        turnouts: { T: {} },
      },
      { express: { running: '0.4 A', stall: '0.8 A', length: `${trainMm} mm` } },
    )

  it('must be longer than the longest train, for a train on both gaps is a short whichever way it turns', () => {
    const evidence = about(loop(3200), 'polarity')
    expect(evidence.verdict).toBe('broken')
    expect(evidence.finding).toMatchObject({
      code: 'track/reversed-stretch-short',
      params: { stretchMm: 3000, trainMm: 3200 },
    })
    expect(about(loop(3000), 'polarity').verdict).toBe('broken')
    expect(about(loop(2900), 'polarity').verdict).toBe('met')
  })
})

describe('reversers', () => {
  const bus = {
    bus: { wire: '2.5 mm2', length: '2 m' },
    turn: { from: 'bus', wire: '2.5 mm2', length: '1 m', reverser: { trip: '1 A', time: '1 ms' } },
  }
  const shuttle = { running: '0.3 A', stall: '0.8 A', length: '2 m' }

  it('must not be shared by two loops once there are two trains', () => {
    const bone = (count: number) =>
      about(
        reportOf(
          {
            bus,
            sections: {
              stem: { length: '5 m', from: 'U.points', to: 'T.points', feeders: { bus: 'bus' } },
              west: {
                length: '4 m',
                from: 'T.straight',
                to: 'T.diverging',
                gaps: 'both',
                feeders: { bus: 'turn' },
              },
              east: {
                length: '4 m',
                from: 'U.straight',
                to: 'U.diverging',
                gaps: 'both',
                feeders: { bus: 'turn' },
              },
            },
            turnouts: { T: {}, U: {} },
          },
          { shuttle: { ...shuttle, count } },
        ),
        'polarity',
      )
    expect(bone(2)).toMatchObject({ verdict: 'broken', finding: { code: 'track/reverser-shared' } })
    expect(bone(1).verdict).toBe('undecided')
  })

  it('must not swap at what a train draws, running or stalled', () => {
    const loop = (train: object) =>
      about(
        reportOf(
          {
            bus,
            sections: {
              stem: { length: '5 m', to: 'T.points', feeders: { bus: 'bus' } },
              loop: {
                length: '4 m',
                from: 'T.straight',
                to: 'T.diverging',
                gaps: 'both',
                feeders: { bus: 'turn' },
              },
            },
            turnouts: { T: {} },
          },
          { shuttle: { ...shuttle, ...train } },
        ),
        'polarity',
      )
    // It trips at 1 A, 10 % less at the soonest.
    expect(loop({ stall: '0.8 A' }).verdict).toBe('met')
    expect(loop({ stall: '0.95 A' })).toMatchObject({
      verdict: 'undecided',
      finding: { code: 'track/reverser-unsure' },
    })
    expect(loop({ running: '0.8 A', lights: '0.3 A', stall: '0.8 A' })).toMatchObject({
      verdict: 'broken',
      finding: { code: 'track/reverser-useless' },
    })
  })

  it('may feed one loop whose blocks are cut apart, as long as the whole of it holds the train', () => {
    const blocks = (length: string) =>
      about(
        reportOf(
          {
            bus,
            sections: {
              stem: { length: '5 m', to: 'T.points', feeders: { bus: 'bus' } },
              a: { length, from: 'T.straight', to: 'mid', gaps: 'both', feeders: { bus: 'turn' } },
              b: { length, from: 'mid', to: 'T.diverging', gaps: 'both', feeders: { bus: 'turn' } },
            },
            turnouts: { T: {} },
          },
          { shuttle, other: shuttle },
        ),
        'polarity',
      ).verdict
    expect(blocks('1.2 m')).toBe('met')
    expect(blocks('0.9 m')).toBe('broken')
  })

  it('must not meet at one gap, where both would turn', () => {
    const chain = (time: string) =>
      about(
        reportOf(
          {
            bus: {
              ...bus,
              far: { from: 'bus', wire: '2.5 mm2', length: '1 m', reverser: { trip: '1 A', time } },
            },
            sections: {
              stem: { length: '5 m', to: 'p', feeders: { bus: 'bus' } },
              west: { length: '4 m', from: 'p', to: 'q', gaps: 'both', feeders: { bus: 'turn' } },
              east: { length: '4 m', from: 'q', feeders: { bus: 'far' } },
            },
          },
          { shuttle },
        ),
        'gap-bridging',
      )
    expect(chain('1 ms')).toMatchObject({ verdict: 'broken', finding: { code: 'track/gap-two-reversers' } })
    expect(chain('10 ms').verdict).toBe('met')
  })

  it('leave the difference of two supplies, and must be sooner than the district beyond their gap', () => {
    const between = (east: Partial<DistrictSource> & { volt?: number }, west: Partial<DistrictSource> = {}) =>
      reportOf(
        {
          bus: {
            west: { district: 'west', wire: '6 mm2', length: '1 m' },
            east: { district: 'east', wire: '6 mm2', length: '1 m' },
            turn: { from: 'east', wire: '2.5 mm2', length: '1 m', reverser: { trip: '1 A', time: '1 ms' } },
          },
          sections: {
            west: { length: '3 m', to: 'x', gaps: 'to', feeders: { bus: 'west' } },
            turned: { length: '3 m', from: 'x', to: 'y', gaps: 'to', feeders: { bus: 'turn' } },
            east: { length: '3 m', from: 'y', feeders: { bus: 'east' } },
          },
        },
        { shuttle },
        { west, east },
      )
    expect(about(between({}), 'gap-bridging').verdict).toBe('met')
    // Turned the right way, the sides still do not switch together.
    const on = (name: string) => ({
      wiring: { supply: name, driver: name, channels: [], output: 'main', controlled: true, part: { name } },
    })
    const alike = (driver: string) => {
      const delay = { low: 0.7, high: 0.75 }
      const part = { name: 'L298', delays: { rising: delay, falling: delay }, peakAmp: 3 }
      return { wiring: { ...on('L298').wiring, supply: driver, driver, part } }
    }
    expect(about(between(on('L298'), on('DRV8874')), 'gap-bridging')).toMatchObject({
      verdict: 'undecided',
      finding: { code: 'track/gap-switching-apart' },
    })
    // Not even two of one part, whose delays nobody gives.
    expect(about(between(on('L298'), on('other')), 'gap-bridging').verdict).toBe('undecided')
    expect(about(between(alike('one'), alike('other')), 'gap-bridging').verdict).toBe('met')
    expect(about(between({ volt: 22 }), 'gap-bridging')).toMatchObject({
      verdict: 'broken',
      finding: { code: 'track/gap-supplies' },
    })
    const quick = { tripTimeUs: (amp: number) => (amp > 3 ? 800 : Number.POSITIVE_INFINITY) }
    expect(about(between({}, quick), 'polarity')).toMatchObject({
      verdict: 'broken',
      because: expect.stringContaining('district west') as string,
    })
    const soon = { soonestTripUs: () => 500 }
    expect(about(between({}, soon), 'polarity')).toMatchObject({
      verdict: 'undecided',
      finding: { code: 'track/reverser-unsure' },
    })
  })
})

describe('a stalled train', () => {
  /** Four metres of code 55 rail behind one feeder. */
  const siding = (stall: object) =>
    reportOf(
      {
        bus: { bus: { wire: '1.5 mm2', length: '2 m' } },
        defaults: { rail: 55 },
        sections: { siding: { length: '6 m', feeders: { place: '0 m' } } },
      },
      { goods: { running: '0.3 A', length: '1 m', ...stall } },
      { main: { tripAmp: 4 } },
    )

  it('is part of the track voltage: the rails have 13.6 V with it running and 6 V with it stalled', () => {
    // By hand: 2.4 Ohm and more of rails, wires and driver; 15 V less 2 A through them.
    const report = siding({ stall: '2.2 A' })
    const stalled = report.arrangements.find((a) => a.situation === 'stalled')!
    const running = report.arrangements.find((a) => a.situation === 'running')!
    expect(running.volt.low).toBeGreaterThan(13)
    expect((15 - stalled.volt.low) / (15 - running.volt.low)).toBeCloseTo(2.2 / 0.3, 2)
    for (const clause of ['track-voltage-min', 'voltage-drop'] as const)
      expect(about(report, clause)).toMatchObject({
        verdict: stalled.volt.high < 7 ? 'broken' : 'undecided',
        finding: { params: { situation: 'stalled', train: 'goods' } },
      })
    expect(stalled.volt.low).toBeLessThan(7)
  })

  it('breaks nothing by a current that nobody gave, and is not met by it either', () => {
    const report = siding({ running: '1.1 A' })
    expect(about(report, 'voltage-drop').verdict).not.toBe('met')
    const mild = siding({ running: '0.55 A' })
    expect(about(mild, 'track-voltage-min').verdict).toBe('met')
    expect(about(siding({ running: '0.9 A' }), 'track-voltage-min')).toMatchObject({
      verdict: 'undecided',
      finding: { params: { assumed: true, decides: 'stall current' } },
    })
  })

  it('never draws more than its district lets flow', () => {
    const report = reportOf(
      {
        bus: { bus: { wire: '2.5 mm2', length: '2 m' } },
        sections: { siding: { length: '1 m', feeders: {} } },
      },
      { goods: { running: '0.3 A', stall: '9 A' } },
      { main: { tripAmp: 2 } },
    )
    expect(report.arrangements.find((a) => a.situation === 'stalled')).toMatchObject({
      amp: 2,
      tripLimited: true,
    })
  })
})

describe('a wheel across a gap', () => {
  /** Two districts of one section each, with gaps in both rails between them. */
  const two = (
    west: Partial<DistrictSource> & { volt?: number },
    east: Partial<DistrictSource> & { volt?: number },
    swapped = false,
  ) =>
    reportOf(
      {
        temperature: '20 C',
        defaults: { feeder: { wire: '2.5 mm2', length: '100 mm' } },
        bus: {
          west: { district: 'west', wire: '6 mm2', length: '100 mm' },
          east: { district: 'east', wire: '6 mm2', length: '100 mm' },
        },
        sections: {
          west: { length: '100 mm', to: 'x', gaps: 'to', feeders: { bus: 'west', place: '100 mm' } },
          east: { length: '100 mm', from: 'x', feeders: { bus: 'east', place: '0 m', swapped } },
        },
      },
      {},
      { west: { sourceOhm: 0.07, tripAmp: 5, ...west }, east: { sourceOhm: 0.07, tripAmp: 5, ...east } },
    )
  const wiring = (supply: string, output = 'main', controlled = false) => ({
    wiring: { supply, driver: supply, channels: [1], output, controlled },
  })

  it('draws what the difference of two supplies drives: 15 V against 18 V gives some 20 A', () => {
    const report = two({ volt: 15 }, { volt: 18 })
    // By hand: 3 V over half of 0.14 Ohm of sources, 3 mOhm of wires, and the wheel's 10 mOhm: one rail, one common ground.
    const [gap] = report.gaps
    expect(gap).toMatchObject({ kind: 'two supplies', verdict: 'broken' })
    expect(gap!.mostAmp).toBeGreaterThan(30)
    expect(gap!.mostAmp).toBeLessThan(3 / 0.08)
    // Both rails at once through two dirty wheels: 3 V over 0.14 Ohm, the wires and 0.2 Ohm.
    expect(gap!.leastAmp).toBeGreaterThan(3 / 0.37)
    expect(gap!.leastAmp).toBeLessThan(3 / 0.34)
    expect(about(report, 'gap-bridging')).toMatchObject({ verdict: 'broken' })
  })

  it('may pass between supplies of one voltage, and depends on their tolerance', () => {
    expect(about(two({ volt: 15 }, { volt: 15 }), 'gap-bridging').verdict).toBe('met')
    const spread = { openVolt: { low: 14.7, usual: 15, high: 15.3 } }
    const undecided = about(two(spread, spread), 'gap-bridging')
    expect(undecided.verdict).toBe('undecided')
    expect(undecided.because).toMatch(/voltage of district/)
    const stiff = { openVolt: { low: 14.97, usual: 15, high: 15.03 } }
    expect(about(two(stiff, stiff), 'gap-bridging').verdict).toBe('met')
  })

  it('harms nothing between two drivers of one supply', () => {
    expect(about(two(wiring('s'), { ...wiring('s'), volt: 15 }), 'gap-bridging').verdict).toBe('met')
  })

  it('is not known to be harmless between unlike drivers, whose edges come apart', () => {
    const of = (supply: string, name: string, risingUs: number) => ({
      wiring: {
        ...wiring(supply).wiring,
        driver: name,
        channels: [],
        part: {
          name,
          delays: { rising: { low: risingUs, high: risingUs }, falling: { low: 0.65, high: 0.65 } },
        },
      },
    })
    for (const supplies of [
      ['s', 's'],
      ['s', 't'],
    ] as const) {
      const gap = (name: string, us: number) =>
        about(two(of(supplies[0], 'DRV8874', 0.65), of(supplies[1], name, us)), 'gap-bridging')
      const apart = gap('L298', 2.35)
      expect(apart).toMatchObject({ verdict: 'undecided', finding: { code: 'track/gap-switching-apart' } })
      // One of two legs is 1.7 us later, which is half as much between the rails.
      expect(apart.because).toMatch(/up to 0\.85 us apart/)
      expect(gap('DRV8874', 0.65).verdict).toBe('met')
    }
  })

  it('must not join main and service, nor rails of opposite polarity', () => {
    const outputs = about(two(wiring('a'), wiring('b', 'service')), 'gap-bridging')
    expect(outputs).toMatchObject({ verdict: 'broken', finding: { params: { kind: 'two outputs' } } })
    // By hand: 30 V over half the loop.
    expect(outputs.finding!.params['amp']).toBeGreaterThan(30 / 0.1)
    // A feeder that is swapped as a whole turns its part round against the other's.
    expect(about(two({}, {}, true), 'polarity').verdict).toBe('broken')
    expect(about(two({}, {}, true), 'gap-bridging').verdict).toBe('broken')
  })
})

describe('districts that share a rail', () => {
  const shared = (west: Partial<DistrictSource>, east: Partial<DistrictSource>) =>
    reportOf(
      {
        bus: {
          west: { district: 'west', wire: '1.5 mm2', length: '2 m' },
          east: { district: 'east', wire: '1.5 mm2', length: '2 m' },
        },
        sections: {
          west: { length: '1 m', to: 'x', feeders: { bus: 'west' } },
          east: { length: '1 m', from: 'x', feeders: { bus: 'east' } },
        },
        joints: { x: { gap: 'left' } },
      },
      {},
      { west, east },
    )
  const wiring = (supply: string, driver: string, controlled: boolean) => ({
    wiring: { supply, driver, channels: [1], output: 'main', controlled },
  })

  it('are joined where they are two bridges of one supply, or of one controller', () => {
    const oneSupply = shared(wiring('s', 'a', false), wiring('s', 'b', false))
    expect(about(oneSupply, 'isolation')).toMatchObject({ verdict: 'broken', where: { section: 'x' } })
    const oneGround = shared(wiring('s', 'a', true), wiring('t', 'b', true))
    expect(about(oneGround, 'isolation').verdict).toBe('broken')
  })

  it('are undecided where nothing tells what they have in common, and sound on one bridge', () => {
    expect(about(shared({}, {}), 'isolation').verdict).toBe('undecided')
    expect(about(shared(wiring('s', 'a', true), wiring('s', 'a', true)), 'isolation').verdict).toBe('met')
  })
})

describe('what cannot be', () => {
  const oval = {
    bus: { bus: { wire: '1.5 mm2', length: '2 m' } },
    sections: { loop: { count: 3, length: '1 m', from: 'x', to: 'x', feeders: {} } },
  }

  it('is refused: a motor that draws less stalled than running', () => {
    expect(() => reportOf(oval, { goods: { running: '0.5 A', stall: '0.3 A' } })).toThrow(
      /draws no less than a running one; found 0.3 A under 0.5 A/,
    )
  })

  it('does not pass: opposite gaps without a feeder between, each rail from another district', () => {
    const track = {
      bus: {
        west: { district: 'west', wire: '1.5 mm2', length: '2 m' },
        east: { district: 'east', wire: '1.5 mm2', length: '2 m' },
      },
      sections: {
        a: { length: '1 m', to: 'x', feeders: { bus: 'west' } },
        between: { length: '1 m', from: 'x', to: 'y' },
        b: { length: '1 m', from: 'y', feeders: { bus: 'east' } },
      },
      joints: { x: { gap: 'left' }, y: { gap: 'right' } },
    }
    // A dead stretch, and whether the two districts have a ground in common is not told.
    const { evidence, findings } = reportOf(track, {}, { west: {}, east: {} })
    expect(evidence.filter((e) => e.clause === 'isolation').map((e) => e.verdict)).toEqual(['undecided'])
    expect(findings.map((f) => f.text).join(' ')).toMatch(/between/)
  })

  it('is reported: a train longer than its loop, and a bus of 5 km', () => {
    const train = { goods: { running: '0.5 A', length: '3.2 m', section: 'loop.2' } }
    const said = (track: object, stock: object) =>
      reportOf(track, stock)
        .findings.filter((f) => f.severity !== 'note')
        .map((f) => f.text)
        .join(' ')
    expect(said(oval, train)).toMatch(
      /goods is 3.2 m long, but the loop through loop.2 has only 3 m of track/,
    )
    expect(said(oval, { goods: { ...train.goods, length: '2.9 m' } })).toBe('')
    const far = { ...oval, bus: { bus: { wire: '1.5 mm2', length: '5000 m' } } }
    expect(said(far, {})).toMatch(/5000 m long: is the unit right/)
  })
})

describe('a current that flows continuously', () => {
  const line = (
    own: { bus?: string; feeder?: string; joiner?: string; rail?: number; laid?: string },
    trip: number,
  ) =>
    reportOf(
      {
        defaults: {
          rail: own.rail ?? 250,
          joiner: own.joiner ?? 'soldered',
          feeder: { wire: own.feeder ?? '1.5 mm2', length: '200 mm' },
        },
        bus: {
          bus: { wire: own.bus ?? '2.5 mm2', length: '3 m', ...(own.laid ? { laid: own.laid } : {}) },
        },
        sections: {
          fed: { length: '1 m', to: 'x', feeders: { at: '1 m' } },
          beyond: { length: '1 m', from: 'x' },
        },
      },
      {},
      { main: { tripAmp: trip, tripLowAmp: trip } },
    )

  it('must not overheat wires: 6 A through 0.14 mm2 or 30 AWG', () => {
    const bus = about(line({ bus: '0.14 mm2' }, 6), 'conductor-heat')
    expect(bus).toMatchObject({ verdict: 'broken', finding: { params: { what: 'bus bus' } } })
    const feeder = about(line({ feeder: '30 AWG' }, 6), 'conductor-heat')
    expect(feeder).toMatchObject({ verdict: 'broken', finding: { params: { what: 'feeder of fed' } } })
    expect(about(line({}, 6), 'conductor-heat').verdict).toBe('met')
    expect(about(line({ bus: '0.14 mm2' }, 0.5), 'conductor-heat').verdict).toBe('met')
  })

  it('depends on how the wire is laid, unless the design tells it', () => {
    const wire = (laid?: string) =>
      about(line({ bus: '0.75 mm2', feeder: '4 mm2', ...(laid ? { laid } : {}) }, 9), 'conductor-heat')
        .verdict
    expect(wire()).toBe('undecided')
    expect(wire('alone')).toBe('met')
  })

  it('must not overheat rails', () => {
    const rails = about(line({ rail: 40 }, 6), 'conductor-heat')
    expect(rails).toMatchObject({
      verdict: 'broken',
      finding: { params: { conductor: 'code 40 nickel silver' } },
    })
  })

  it('must not overheat joiners: loose ones, and pushed together ones if they are bad', () => {
    const verdict = (joiner: string, trip: number) => about(line({ joiner }, trip), 'joint-heat').verdict
    expect(verdict('bad', 6)).toBe('broken')
    expect(verdict('slip', 6)).toBe('undecided')
    expect(verdict('soldered', 6)).toBe('met')
    expect(verdict('slip', 1)).toBe('met')
    // By hand: 6 A through 5 mOhm are 0.18 W.
    const soldered = line({ joiner: 'soldered' }, 6).heat.joints[0]!
    expect(soldered.amp ** 2 * soldered.ohm).toBeCloseTo(0.18, 9)
  })

  it('must not pass a connector that is rated for less', () => {
    const rated = (rating: string) =>
      about(
        reportOf({
          bus: { bus: { wire: '2.5 mm2', length: '3 m', connector: { rating } } },
          sections: { only: { length: '1 m', feeders: {} } },
        }),
        'joint-heat',
      ).verdict
    expect(rated('2.5 A')).toBe('broken')
    expect(rated('4 A')).toBe('met')
  })
})
