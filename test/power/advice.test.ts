/** Figures that are advised beside the proposals: a design that takes them is nowhere worse. All designs are invented. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { parseDocument } from 'yaml'
import { loadDesign } from '../../src/design/index.js'
import { type PowerReport, powerReport } from '../../src/power/index.js'
import { powerInput, railroadOf } from '../../src/proof/index.js'
import type { Evidence } from '../../src/standard/index.js'
import {
  modelTrack,
  ringCircuit,
  runToEnd,
  sourcesFromPower,
  terminatorSteps,
} from '../../src/track/index.js'

const odd = new URL('./odd/', import.meta.url).pathname
const RANK = { met: 2, undecided: 1, broken: 0 } as const

const reportOf = (text: string) => powerReport(powerInput(loadDesign(text))!.input)

function changed(text: string, changes: readonly [(string | number)[], unknown][]): string {
  const doc = parseDocument(text)
  for (const [path, value] of changes) doc.setIn(path, value)
  return doc.toString()
}

/** Clauses that a change makes worse, with their reason. */
function worse(before: readonly Evidence[], after: readonly Evidence[]): string[] {
  return before.flatMap((e) =>
    after
      .filter((a) => a.clause === e.clause && a.about === e.about && RANK[a.verdict] < RANK[e.verdict])
      .map((a) => `${a.clause} ${a.about}: ${e.verdict} becomes ${a.verdict}: ${a.because}`),
  )
}

const names = readdirSync(odd).filter((name) => name !== 'two-signals.yaml')

/** A supply as advised, of the kind that it is; its limit at the rating. */
function withAdvisedSupply(text: string, report: PowerReport): string {
  const { supplies } = loadDesign(text).design.power!
  return changed(
    text,
    report.supplies.flatMap((s): [(string | number)[], unknown][] => {
      const design = supplies[s.name]!
      const at = (key: string) => ['power', 'supplies', s.name, key]
      const limit =
        design.limitCurrent === undefined
          ? []
          : [[at('limitCurrent'), `${s.adviseRatingAmp} A`] as [(string | number)[], unknown]]
      return [[at('rating'), `${s.adviseRatingAmp} A`], ...limit]
    }),
  )
}

describe('the advised rating of a supply', () => {
  it.each(names)('carries the load and trips: %s', (name) => {
    const text = readFileSync(`${odd}${name}`, 'utf8')
    const before = reportOf(text)
    if (before.supplies.some((s) => s.without.length > 0)) return
    const after = reportOf(withAdvisedSupply(text, before))
    for (const e of after.evidence.filter((x) => x.clause === 'supply-current')) {
      const was = before.evidence.find((x) => x.clause === e.clause && x.about === e.about)
      if (was?.verdict === 'met') expect(e.verdict, `${e.about}: ${e.because}`).toBe('met')
    }
  })
})

describe('the advised fuse of a district', () => {
  it.each(names)('carries its load: %s', (name) => {
    const text = readFileSync(`${odd}${name}`, 'utf8')
    const report = reportOf(text)
    const fused = changed(
      text,
      report.districts.flatMap((d): [(string | number)[], unknown][] =>
        d.adviseFuseAmp === undefined
          ? []
          : [[['power', 'districts', d.name, 'fuse'], `${d.adviseFuseAmp} A`]],
      ),
    )
    for (const e of reportOf(fused).evidence.filter((x) => x.clause === 'fuse'))
      if (/A: the worst load is/.test(e.because)) expect(e.verdict, e.because).toBe('met')
  })
})

/** A station whose bus has open ends, with feeders far along it. */
const openEnds = (lengthM: number, wire: string) => `halfbit: 2
name: Open ends (invented)
scale: H0
controller: { chip: atmega328p, clock: { frequency: 16 MHz, source: crystal } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  supplies: { main: { voltage: 15 V, tolerance: 2 %, rating: 4 A, limit: constant, limitCurrent: 4.6 A } }
  drivers: { main: { part: DRV8874, cooling: { junctionToAmbient: 25 K/W } } }
  districts:
    main:
      fuse: 3.15 A
      trip: { current: 2 A, by: breaker, after: 1 ms }
track:
  defaults: { joiner: soldered, feeder: { wire: 0.75 mm2, length: 200 mm } }
  bus: { ring: { district: main, wire: ${wire}, length: ${lengthM} m, geometry: twisted } }
  sections: { line: { count: 3, length: 900 mm, feeders: { bus: ring, at: ${lengthM - 4} m, step: 1 m } } }
rollingStock: { loco: { running: 0.3 A, stall: 0.8 A, length: 300 mm, section: line.1 } }
`

describe('the advised terminator', () => {
  it.each([
    [8, '1.5 mm2'],
    [20, '2.5 mm2'],
    [40, '2.5 mm2'],
  ])('at the end of a bus of %d m makes no clause worse, and lowers the peak', (lengthM, wire) => {
    const text = openEnds(lengthM, wire)
    const before = railroadOf(loadDesign(text))!.report
    const { design } = loadDesign(text)
    const sources = sourcesFromPower(design.power!, design.signal)
    const { plan, net } = modelTrack({ track: design.track!, rollingStock: design.rollingStock, sources })
    const { ohm, farad, watt, peakVolt } = runToEnd(terminatorSteps(ringCircuit(plan, net, 0)!))
    expect(peakVolt).toBeLessThan(before.ringing!.districts[0]!.worst.peakVolt)
    const after = changed(text, [
      [
        ['track', 'bus', 'ring', 'terminator'],
        { resistance: `${ohm} Ohm`, capacitance: `${farad * 1e9} nF`, power: `${2 * watt} W` },
      ],
    ])
    const loaded = loadDesign(after)
    expect(worse(before.evidence, railroadOf(loaded)!.report.evidence)).toEqual([])
    expect(worse(reportOf(text).evidence, reportOf(after).evidence)).toEqual([])
  })
})
