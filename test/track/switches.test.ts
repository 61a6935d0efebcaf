/** Sections behind hand switches, judged in every position, and stretches that nothing feeds. All invented. */
import { describe, expect, it } from 'vitest'
import { type ClauseId, profileOf } from '../../src/standard/index.js'
import {
  calculateTrack,
  checkTrack,
  type DistrictSource,
  modelTrack,
  reportTrack,
} from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const profile = profileOf({ profile: 'nmra', edition: '2020', scale: 'H0', cutout: false })

type Sources = Record<string, Partial<DistrictSource> & { volt?: number }>

function inputOf(track: object, stock: object, sources: Sources) {
  return {
    track: trackOf(track),
    rollingStock: stockOf(stock),
    sources: new Map(Object.entries(sources).map(([n, { volt = 15, ...own }]) => [n, sourceOf(volt, own)])),
    profile,
  }
}

const reportOf = (track: object, stock: object = {}, sources: Sources = { main: {} }) =>
  calculateTrack(inputOf(track, stock, sources))

function about({ evidence }: ReturnType<typeof reportOf>, clause: ClauseId, district?: string) {
  const found = evidence.find((e) => e.clause === clause && (!district || e.about === district))
  if (!found) throw new Error(`no evidence for ${clause}`)
  return found
}

const WIRE = { wire: '2.5 mm2', length: '1 m' }

describe('a siding on a switch', () => {
  const siding = (gaps: string, own: object = {}) => ({
    bus: { main: WIRE, side: { from: 'main', ...WIRE, switch: { kind: 'off-on' } } },
    sections: {
      line: { length: '2 m', to: 'T.points', feeders: { bus: 'main' } },
      out: { length: '2 m', from: 'T.straight', feeders: { bus: 'main' } },
      side: { length: '2 m', from: 'T.diverging', gaps, feeders: { bus: 'side' }, ...own },
    },
    turnouts: { T: {} },
  })
  const stock = { shunter: { running: '0.3 A', stall: '0.5 A', length: '200 mm', section: 'side' } }

  it('is no fault when it is off; a train on it has no voltage, which is said', () => {
    const report = reportOf(siding('from'), stock)
    for (const clause of ['voltage-drop', 'short-current', 'short-trip', 'polarity', 'gap-bridging'] as const)
      expect(about(report, clause).verdict).toBe('met')
    expect(report.findings.filter((f) => /without voltage/.test(f.text))).toEqual([
      {
        severity: 'note',
        text: 'With the switch of side at off, side is without voltage, as is what is parked there: shunter.',
        path: ['track', 'sections', 'side'],
      },
    ])
    // The train is where it was, and the rest of the railroad is calculated.
    const { plan, dead } = modelTrack(inputOf(siding('from'), stock, { main: {} }), { side: 1 })
    expect(dead).toMatchObject([{ tracks: ['side'], lengthMm: 2000, trains: ['shunter'] }])
    expect(plan.tracks.map((t) => t.name)).toEqual(['line', 'out', 'T', 'T', 'T'])
  })

  it('is judged when it is off where it is not gapped: the rails of the line then feed it from one end', () => {
    const long = { length: '6 m', rail: 70 }
    const stock = { goods: { running: '0.8 A', stall: '1.4 A', length: '200 mm' } }
    const on = reportOf(
      { ...siding('none', long), bus: { main: WIRE, side: { from: 'main', ...WIRE } } },
      stock,
    )
    const off = reportOf(siding('none', long), stock)
    const [kept, lost] = [about(on, 'voltage-drop'), about(off, 'voltage-drop')]
    expect(kept.verdict).toBe('met')
    expect(lost.verdict).toBe('undecided')
    expect(lost.because).toMatch(/^With the switch of side at off: District main: /)
    expect(lost.finding).toMatchObject({ code: 'track/in-position', params: { code: 'track/voltage' } })
  })

  it('may be all of the railroad', () => {
    const report = reportOf({
      bus: { main: { ...WIRE, switch: { kind: 'off-on' } } },
      sections: { line: { count: 2, length: '2 m', feeders: {} } },
    })
    expect(about(report, 'voltage-drop').verdict).toBe('met')
    expect(report.findings.map((f) => f.text)).toContain(
      'With the switch of main at off, line.1 – line.2 are without voltage.',
    )
  })

  it('has the resistance of its contacts', () => {
    const volt = (contact: string) => {
      const track = siding('from')
      track.bus.side.switch = { kind: 'off-on', contact } as never
      return reportOf(track, stock).trains[0]!.volt.low
    }
    // 0.3 A through two contacts of 100 mOhm.
    expect(volt('0 Ohm') - volt('100 mOhm')).toBeCloseTo(0.3 * 0.2, 6)
  })

  it('joins what lies beyond it when a train is longer than it, though nothing feeds it', () => {
    const through = (trainMm: number) =>
      reportOf(
        {
          bus: {
            west: { district: 'west', ...WIRE },
            east: { district: 'east', ...WIRE },
            mid: { from: 'west', ...WIRE, switch: { kind: 'off-on' } },
          },
          sections: {
            a: { length: '2 m', to: 'x', feeders: { bus: 'west' } },
            mid: { length: '1 m', from: 'x', to: 'y', gaps: 'both', feeders: { bus: 'mid' } },
            b: { length: '2 m', from: 'y', feeders: { bus: 'east' } },
          },
        },
        { t: { running: '0.3 A', stall: '0.5 A', length: `${trainMm} mm` } },
        { west: {}, east: { volt: 15 } },
      )
    expect(about(through(900), 'gap-bridging')).toMatchObject({ count: { seen: 2 } })
    const track = modelTrack(
      inputOf(
        {
          bus: { main: WIRE, mid: { from: 'main', ...WIRE, switch: { kind: 'off-on' } } },
          sections: {
            a: { length: '2 m', to: 'x', feeders: { bus: 'main' } },
            mid: { length: '1 m', from: 'x', to: 'y', gaps: 'both', feeders: { bus: 'mid' } },
            b: { length: '2 m', to: 'y', feeders: { bus: 'main', swapped: true } },
          },
        },
        { t: { running: '0.3 A', length: '1.1 m' } },
        { main: {} },
      ),
      { mid: 1 },
    )
    expect(track.plan.joints).toMatchObject([{ name: 'x and y', gapL: true, gapR: true }])
  })
})

describe('a loop on a reversing switch', () => {
  const loop = (own: { trip?: number; gaps?: string; trainMm?: number; ohm?: number } = {}) =>
    reportOf(
      {
        bus: { bus: WIRE, turn: { from: 'bus', ...WIRE, switch: { kind: 'reversing' } } },
        sections: {
          stem: { length: '2 m', to: 'T.points', feeders: { bus: 'bus' } },
          loop: {
            count: 3,
            length: '1 m',
            from: 'T.straight',
            to: 'T.diverging',
            gaps: own.gaps ?? 'both',
            feeders: { bus: 'turn' },
          },
        },
        turnouts: { T: {} },
      },
      { t: { running: '0.3 A', stall: '0.5 A', length: `${own.trainMm ?? 500} mm` } },
      { main: { tripAmp: own.trip ?? 3, ...(own.ohm ? { sourceOhm: own.ohm } : {}) } },
    )

  it('is never met at its gaps: somebody may throw it wrongly', () => {
    const report = loop()
    expect(about(report, 'polarity').verdict).toBe('met')
    expect(about(report, 'gap-bridging')).toMatchObject({
      verdict: 'undecided',
      finding: { code: 'track/gap-hand-switch', params: { run: 'turn', trips: true } },
    })
  })

  it('is broken where the short that then flows need not trip', () => {
    expect(about(loop({ trip: 90 }), 'gap-bridging').verdict).toBe('broken')
  })

  it('is broken without gaps, and with a train that is longer than it', () => {
    expect(about(loop({ gaps: 'none' }), 'polarity').verdict).toBe('broken')
    expect(about(loop({ trainMm: 3100 }), 'polarity').verdict).toBe('broken')
  })

  it('shorts its feeder against the others when it feeds rails that they feed too', () => {
    const report = reportOf({
      bus: { bus: WIRE, turn: { from: 'bus', ...WIRE, switch: { kind: 'reversing' } } },
      sections: {
        line: { count: 2, length: '1 m', feeders: { bus: 'bus', every: 2 } },
        end: { length: '1 m', from: 'z', feeders: { bus: 'turn' } },
        mid: { length: '1 m', to: 'z', feeders: { bus: 'bus' } },
      },
    })
    const polarity = about(report, 'polarity')
    expect(polarity.verdict).toBe('broken')
    expect(polarity.because).toMatch(/^With the switch of turn at reversed: The feeder of end is swapped/)
  })
})

describe('a section with several feeds', () => {
  const yard = (kind: string, feeds: string[], gaps = 'from', east: object = {}) => ({
    track: {
      bus: {
        west: { district: 'west', ...WIRE },
        east: { district: 'east', ...WIRE },
        yard: { ...WIRE, switch: { kind, feeds } },
      },
      sections: {
        line: { length: '2 m', to: 'x', feeders: { bus: 'west' } },
        yard: { length: '2 m', from: 'x', gaps, feeders: { bus: 'yard' } },
        other: { length: '2 m', feeders: { bus: 'east' } },
      },
    },
    sources: { west: {}, east },
  })
  const judge = (...args: Parameters<typeof yard>) => {
    const { track, sources } = yard(...args)
    return reportOf(
      track,
      { t: { running: '0.3 A', stall: '0.5 A', length: '300 mm', section: 'yard' } },
      sources,
    )
  }

  it('is judged at its gaps in each position', () => {
    expect(about(judge('toggle', ['west', 'east']), 'gap-bridging').verdict).toBe('met')
    const other = about(judge('toggle', ['west', 'east'], 'from', { volt: 20 }), 'gap-bridging')
    expect(other.verdict).toBe('broken')
    expect(other.because).toMatch(/^With the switch of yard at east: .*whose supplies drive up to/)
    // The same when the usual position is the other one: nothing depends on which comes first.
    expect(
      about(judge('rotary', ['none', 'east', 'west'], 'from', { volt: 20 }), 'gap-bridging').verdict,
    ).toBe('broken')
  })

  it('must be gapped, or the position that joins two districts is refused', () => {
    const { track } = yard('toggle', ['west', 'east'], 'none')
    expect(checkTrack(trackOf(track), undefined, ['west', 'east'])).toMatchObject([
      { message: expect.stringMatching(/: with the switch of yard at east: districts .* meet without gaps/) },
    ])
    expect(() => judge('toggle', ['west', 'east'], 'none')).toThrow(/with the switch of yard at east/)
  })

  it('may have a position without feed', () => {
    const report = judge('rotary', ['west', 'none', 'east'])
    expect(report.findings.map((f) => f.text).join(' ')).toMatch(
      /With the switch of yard at none, yard is without voltage/,
    )
    expect(about(report, 'voltage-drop', 'east').verdict).toBe('met')
  })

  it.each([
    [{ kind: 'toggle' }, {}, /needs its feeds/],
    [{ kind: 'toggle', feeds: ['west', 'east', 'none'] }, {}, /a toggle switch has two feeds; found 3/],
    [{ kind: 'rotary', feeds: ['none', 'none'] }, {}, /needs its feeds/],
    [{ kind: 'rotary', feeds: ['west', 'eest'] }, {}, /eest/],
    [{ kind: 'off-on', feeds: ['west', 'east'] }, {}, /only a toggle or rotary switch/],
    [{ kind: 'toggle', feeds: ['west', 'east'] }, { from: 'west' }, /leave this out/],
    [{ kind: 'rotary', feeds: ['west', 'yard'] }, {}, /in a ring/],
  ])('is refused when it cannot be: %j %j', (own, run, message) => {
    const { track } = yard('toggle', ['west', 'east'])
    const bus = { ...track.bus, yard: { ...WIRE, ...run, switch: own } }
    expect(checkTrack(trackOf({ ...track, bus }), undefined, ['west', 'east'])[0]!.message).toMatch(message)
  })

  it('is not met where there are more positions together than are judged', () => {
    const names = Array.from({ length: 7 }, (_, i) => `s${i}`)
    const report = reportOf({
      bus: {
        main: WIRE,
        ...Object.fromEntries(names.map((n) => [n, { from: 'main', ...WIRE, switch: { kind: 'off-on' } }])),
      },
      sections: {
        line: { length: '1 m', to: 'j0', feeders: { bus: 'main' } },
        ...Object.fromEntries(
          names.map((n, i) => [n, { length: '1 m', from: `j${i}`, to: `j${i + 1}`, feeders: { bus: n } }]),
        ),
      },
    })
    expect(about(report, 'polarity')).toMatchObject({ verdict: 'undecided' })
    expect(about(report, 'polarity').because).toMatch(/only 8 of the 128 combinations/)
  })

  /** A line with a siding at each of its turnouts, both rails cut, on a switch of its own. */
  const ladder = (count: number, own: object = {}) => {
    const numbers = Array.from({ length: count }, (_, i) => i)
    const side = (i: number) => ({
      length: '1 m',
      from: `T${i}.diverging`,
      gaps: 'from',
      feeders: { bus: `s${i}` },
      ...own,
    })
    return {
      bus: {
        main: WIRE,
        ...Object.fromEntries(
          numbers.map((i) => [
            `s${i}`,
            { from: 'main', ...WIRE, switch: { kind: 'off-on' }, connector: { rating: '10 A' } },
          ]),
        ),
      },
      sections: {
        line: { length: '1 m', to: 'T0.points', feeders: { bus: 'main' } },
        ...Object.fromEntries(
          numbers.flatMap((i) => [
            [`side${i}`, side(i)],
            [
              `line${i}`,
              {
                length: '1 m',
                from: `T${i}.straight`,
                feeders: { bus: 'main' },
                ...(i + 1 < count ? { to: `T${i + 1}.points` } : {}),
              },
            ],
          ]),
        ),
      },
      turnouts: Object.fromEntries(numbers.map((i) => [`T${i}`, {}])),
    }
  }
  const stock = {
    one: { running: '0.5 A', stall: '0.8 A', length: '200 mm', section: 'line' },
    two: { running: '0.4 A', stall: '0.6 A', length: '200 mm', section: 'side1' },
    three: { running: '0.3 A', stall: '0.5 A', length: '200 mm', section: 'side2' },
  }
  const OF_EDGES: readonly string[] = ['edge-rate', 'crossing-distortion', 'decoder-withstand']

  it('is met with seven dead-end sidings that are cut off by themselves', () => {
    const { evidence } = reportOf(ladder(7), stock)
    // Nobody knows the edge of this driver; whole stations are tried with the others that are sound.
    for (const e of evidence)
      if (!OF_EDGES.includes(e.clause)) expect([e.clause, e.verdict]).not.toEqual([e.clause, 'undecided'])
    expect(about({ evidence } as never, 'voltage-drop').verdict).toBe('met')
    expect(about({ evidence } as never, 'polarity').verdict).toBe('met')
  })

  it('is not met with eight sidings of which nothing cuts the rails, or which share a supply with another district', () => {
    const joined = reportOf(ladder(8, { gaps: 'none' }), stock)
    expect(joined.evidence.filter((e) => e.verdict === 'met')).toEqual([])
    const shared = reportOf(ladder(8), stock, { main: { beside: [{ district: 'other', ohm: 0.1 }] } })
    expect(shared.evidence.filter((e) => e.verdict === 'met')).toEqual([])
  })

  /** A line whose every other stretch has a second track beside it, both rails cut at both of its ends. */
  const passing = (count: number) => {
    const numbers = Array.from({ length: count }, (_, i) => i)
    const each = (what: (i: number) => [string, object][]) => Object.fromEntries(numbers.flatMap(what))
    const fed = { length: '1 m', feeders: { bus: 'main' } }
    return {
      bus: {
        main: WIRE,
        ...each((i) => [
          [`s${i}`, { from: 'main', ...WIRE, switch: { kind: 'off-on' }, connector: { rating: '10 A' } }],
        ]),
      },
      sections: {
        line: { ...fed, to: 'T0.points' },
        ...each((i) => [
          [`line${i}`, { ...fed, from: `T${i}.straight`, to: `U${i}.straight` }],
          [
            `side${i}`,
            {
              length: '1 m',
              from: `T${i}.diverging`,
              to: `U${i}.diverging`,
              gaps: 'both',
              feeders: { bus: `s${i}` },
            },
          ],
          [`on${i}`, { ...fed, from: `U${i}.points`, ...(i + 1 < count ? { to: `T${i + 1}.points` } : {}) }],
        ]),
      },
      turnouts: each((i) => [
        [`T${i}`, {}],
        [`U${i}`, {}],
      ]),
    }
  }

  it.each([
    ['dead-end', ladder(4), stock],
    ['passing', passing(4), { ...stock, long: { running: '0.3 A', stall: '0.5 A', length: '1.6 m' } }],
  ])('is bounded by all on and each off, as all sixteen positions of four show: %s', (_, track, stock) => {
    const input = inputOf(track, stock, { main: {} })
    const worst = (settings: number[]) => {
      const margins = new Map<string, number>()
      for (const bits of settings) {
        const setting = Object.fromEntries([0, 1, 2, 3].map((i) => [`s${i}`, (bits >> i) & 1]))
        const { evidence } = reportTrack(modelTrack(input, setting), input, {
          positions: false,
          faults: false,
        })
        for (const { clause, about, margin = 0 } of evidence)
          if (!OF_EDGES.includes(clause))
            margins.set(`${clause} ${about}`, Math.min(margin, margins.get(`${clause} ${about}`) ?? margin))
      }
      return margins
    }
    const all = worst(Array.from({ length: 16 }, (_, i) => i))
    const few = worst([0, 1, 2, 4, 8])
    expect([...few.keys()].sort()).toEqual([...all.keys()].sort())
    for (const [key, margin] of all) expect([key, few.get(key)! <= margin + 1e-9]).toEqual([key, true])
  })
})

describe('gaps in opposite rails with no feeder between', () => {
  const stretch = (wiring: (supply: string) => object = () => ({})) => {
    const track = {
      bus: { west: { district: 'west', ...WIRE }, east: { district: 'east', ...WIRE } },
      sections: {
        a: { length: '2 m', to: 'x', feeders: { bus: 'west' } },
        mid: { length: '1 m', from: 'x', to: 'y' },
        b: { length: '2 m', from: 'y', feeders: { bus: 'east' } },
      },
      joints: { x: { gap: 'left' }, y: { gap: 'right' } },
    }
    return reportOf(
      track,
      { t: { running: '0.3 A', stall: '0.5 A', length: '300 mm', section: 'mid' } },
      { west: wiring('one'), east: wiring('two') },
    )
  }
  const wired =
    (controlled: boolean, isolated = false) =>
    (supply: string) => ({ wiring: { supply, driver: supply, channels: [1], controlled, isolated } })

  it('make a dead stretch, which is said and not refused', () => {
    const report = stretch(wired(true, true))
    expect(about(report, 'isolation').verdict).toBe('met')
    const [found] = report.findings.filter((f) => /no feeder/.test(f.text))
    expect(found!.text).toBe(
      'mid, 1 m between the gaps at x and at y, has no feeder, one rail from district west and the other from east: there is no voltage on it; parked there: t.',
    )
  })

  it('are not met where the grounds of both districts are one, or may be', () => {
    expect(about(stretch(wired(true)), 'isolation').verdict).toBe('broken')
    expect(about(stretch(), 'isolation').verdict).toBe('undecided')
    // A driver whose inputs the design does not name need not be isolated.
    expect(about(stretch(wired(false)), 'isolation').verdict).toBe('undecided')
  })
})
