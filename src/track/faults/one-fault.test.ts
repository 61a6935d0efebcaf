import { describe, expect, it } from 'vitest'
import { sourceOf, stockOf, trackOf } from '../../../test/track/fill.js'
import { reportTrack } from '../calculate.js'
import { trackDrawings } from '../drawing/maps.js'
import { modelTrack, type TrackInput } from '../model.js'
import { mapVoltage } from '../voltage/voltage.js'
import { faultIds, planWithFault, reportFault } from './one-fault.js'

const feeders = { wire: '20 AWG', length: '200 mm' }

function input(sections: object, own: object = {}, stock: object = {}): TrackInput {
  return {
    track: trackOf({ bus: { bus: { wire: '14 AWG', length: '10 m' } }, sections, ...own }),
    rollingStock: stockOf(stock),
    sources: new Map([['main', sourceOf(16)]]),
  }
}

describe('a railroad with one fault', () => {
  const given = input(
    { line: { count: 6, length: '1 m', feeders: { ...feeders, at: '1 m', step: '2 m', every: 2 } } },
    {},
    { a: { running: '1 A', section: 'line.2' }, b: { running: '0.5 A', load: 'power', section: 'line.6' } },
  )
  const model = modelTrack(given)
  const { list } = reportTrack(model, given, { ringing: false }).faults

  it('has the figures that the change of the factored network gave', () => {
    expect(list.length).toBeGreaterThan(15)
    for (const f of list) {
      const { report, model: faulty } = reportFault(model, given, f.id, { ringing: false })
      const d = report.districts[0]!
      const low = Math.min(...mapVoltage(faulty.plan, faulty.worstCase).map.volt.map(Math.abs))
      expect(f.state, f.id).toBe('solved')
      expect(low, f.id).toBeCloseTo(f.volt!, 4)
      expect(d.weakestShort.low / d.tripAmp!, f.id).toBeCloseTo(f.short!, 4)
    }
  })

  it('knows every fault by the name of its place, wire and rail', () => {
    const ids = faultIds(model.plan)
    expect(ids).toContain('bad-joiner:line.2/3')
    for (const id of ids) expect(planWithFault(model.plan, id).words).toMatch(/line/)
    expect(planWithFault(model.plan, 'bad-joiner:line.2/3/left')).toMatchObject({
      words: 'the joiner at line.2/3, left rail, is bad',
    })
    expect(planWithFault(model.plan, 'open-feeder:line.3/B').words).toBe(
      'the feeder of line.3, wire B, is open',
    )
    const both = planWithFault(model.plan, 'open-feeder:line.3').plan.feeders.find((f) => f.name === 'line.3')
    expect(both!.broken).toEqual({ A: true, B: true })
  })

  it('draws nothing at all where the only feeder is open', () => {
    const one = input(
      { lone: { length: '2 m', feeders: { ...feeders, at: '1 m' } } },
      {},
      {
        a: { running: '1 A', section: 'lone' },
      },
    )
    const { report } = reportFault(modelTrack(one), one, 'open-feeder:lone', { ringing: false })
    expect(report.districts[0]!.weakestShort).toEqual({ low: 0, high: 0 })
    expect(report.districts[0]!.loadAmp).toEqual({ low: 0, high: 0 })
    expect(report.trains[0]).toMatchObject({
      volt: { low: 0, high: 0 },
      amp: { low: 0, high: 0 },
      brownOut: true,
    })
  })

  it('says what is not there', () => {
    expect(() => planWithFault(model.plan, 'open-feeder:lime.3')).toThrow(
      /no feeder "lime\.3"; the nearest is "line\.3"/,
    )
    expect(() => planWithFault(model.plan, 'bad-joiner:nowhere')).toThrow(/no joint without gaps "nowhere"/)
    expect(() => planWithFault(model.plan, 'rust:line.1')).toThrow(/expected open-feeder:/)
    expect(() => planWithFault(model.plan, 'toString:line.1')).toThrow(/expected open-feeder:/)
  })

  it('does not change the railroad without it', () => {
    const before = JSON.stringify(model.plan.feeders)
    const { without, report } = reportFault(model, given, 'swapped-feeder:line.3', { ringing: false })
    expect(JSON.stringify(model.plan.feeders)).toBe(before)
    expect(without[0]!.worstVolt).toBeGreaterThan(14)
    expect(report.districts[0]!.worstVolt.low).toBeLessThan(8)
    expect(report.findings.map((f) => f.text).join()).toMatch(/trips at once, with no train on it/)
    for (const t of report.trains) {
      expect(t.volt.low).toBeGreaterThanOrEqual(0)
      expect(t.volt.high).toBeGreaterThanOrEqual(t.volt.low)
    }
  })

  it('has maps of its own', () => {
    const { model: faulty, report } = reportFault(model, given, 'open-feeder:line.5', { ringing: false })
    const drawn = trackDrawings(faulty, report)
    expect(drawn.map((d) => d.name)).toEqual(['voltage', 'voltage-worst', 'shorts'])
    for (const { svg } of drawn) expect(svg).not.toMatch(/NaN|undefined/)
  })
})

describe('rails that a fault cuts off', () => {
  const given = input(
    { only: { length: '2 m', feeders } },
    {},
    { loco: { running: '0.5 A', section: 'only' } },
  )
  it('have no voltage and no short, and the train on them stands', () => {
    const { report } = reportFault(modelTrack(given), given, 'open-feeder:only/A', { ringing: false })
    expect(report.sections[0]!.volt).toEqual({ low: 0, high: 0 })
    expect(report.sections[0]!.envelopeVolt).toBe(0)
    expect(report.sections[0]!.tripUs).toBeNull()
    expect(report.trains[0]!.brownOut).toBe(true)
    expect(report.evidence.find((e) => e.clause === 'voltage-drop')!.verdict).toBe('broken')
  })
})

describe('swapped feeders', () => {
  const swapped = { ...feeders, at: '1 m', swapped: true }
  const plain = { ...feeders, at: '1 m' }
  const judge = (sections: object, bus: object = {}) => {
    const given = input(sections, {
      bus: { bus: { wire: '14 AWG', length: '10 m' }, ...bus },
    })
    const report = reportTrack(modelTrack(given), given, { ringing: false, faults: false })
    const polarity = report.evidence.find((e) => e.clause === 'polarity')!
    return { ...report.polarity.swapped[0]!, verdict: polarity.verdict, findings: report.findings }
  }
  const two = (b: object) => ({
    a: { length: '1 m', to: 'x', feeders: { ...plain, bus: 'bus' } },
    b: { length: '1 m', ...b },
  })

  it('short the bus where others feed the same rails', () => {
    const seen = judge(two({ from: 'x', feeders: { ...swapped, bus: 'bus' } }))
    expect(seen).toMatchObject({ harm: 'short', verdict: 'broken' })
    expect(seen.because).toMatch(/joins the two bus wires/)
  })

  it('wait for a train at the gaps where one lone feeder is swapped', () => {
    const seen = judge(two({ from: 'x', gaps: 'from', feeders: { ...swapped, bus: 'bus' } }))
    expect(seen).toMatchObject({ harm: 'gaps', verdict: 'broken' })
    expect(seen.because).toMatch(
      /^The only feeder of the part with b is swapped: nothing happens until a train bridges the gaps at x/,
    )
  })

  it('are harmless behind an automatic reverser', () => {
    const loop = { from: 'bus', wire: '14 AWG', length: '2 m', reverser: { trip: '1.5 A', time: '5 ms' } }
    const seen = judge(two({ from: 'x', gaps: 'from', feeders: { ...swapped, bus: 'loop' } }), { loop })
    expect(seen).toMatchObject({ harm: 'harmless', verdict: 'met' })
    expect(seen.findings.filter((f) => f.severity === 'error')).toEqual([])
  })

  it('are harmless where everything is swapped, or nothing lies beyond gaps', () => {
    expect(judge({ only: { length: '1 m', feeders: { ...swapped, bus: 'bus' } } })).toMatchObject({
      harm: 'harmless',
      verdict: 'met',
    })
    const all = two({ from: 'x', gaps: 'from', feeders: { ...swapped, bus: 'bus' } })
    all.a.feeders = { ...swapped, bus: 'bus' }
    expect(judge(all)).toMatchObject({ harm: 'harmless', verdict: 'met' })
  })
})
