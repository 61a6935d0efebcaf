import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import type { ScenarioDesign } from '../scenario/design.js'
import {
  type CampaignPlan,
  mergeReports,
  type RunRecord,
  readReport,
  recordOf,
  reportOf,
  runsOfShard,
} from './campaign.js'
import { drawScenario } from './draw.js'

const base: ScenarioDesign = {
  scenario: 1,
  name: 'short',
  lasts: 2e6,
  seed: 1,
  acts: [
    { at: 100e3, drive: { train: 'express', speed: 0.5 } },
    { at: 500e3, short: { at: { district: 'main' }, lasts: 100e3 } },
    { at: 800e3, power: 'on' },
  ],
  expect: [{ shortOff: {} }],
}
const ranges = { supply: 0.03, sense: 0.05, clock: 0.01, contactOhm: 0.05 }

describe('a drawn run', () => {
  it('depends on seed and number alone, and lies within the tolerances', () => {
    fc.assert(
      fc.property(fc.nat(0xffffffff), fc.nat(1e6), (seed, run) => {
        const drawn = drawScenario(base, seed, run, ranges)
        expect(drawScenario(base, seed, run, ranges)).toEqual(drawn)
        expect(Math.abs(drawn.drawn!.supply!)).toBeLessThanOrEqual(0.03)
        expect(Math.abs(drawn.drawn!.sense!)).toBeLessThanOrEqual(0.05)
        expect(Math.abs(drawn.drawn!.clock!)).toBeLessThanOrEqual(0.01)
        const short = drawn.acts[1]!.short!
        expect(short.resistance).toBeGreaterThan(0)
        expect(short.resistance).toBeLessThanOrEqual(0.05)
        // The command after the short keeps its distance from it.
        expect(drawn.acts[2]!.at! - drawn.acts[1]!.at!).toBeCloseTo(300e3, 3)
        expect(drawn.acts[2]!.at!).toBeLessThanOrEqual(drawn.lasts)
      }),
      { numRuns: runs(200) },
    )
  })

  it('differs from the next one and from that of another seed', () => {
    const drawn = drawScenario(base, 1, 0, ranges)
    expect(drawScenario(base, 1, 1, ranges).drawn).not.toEqual(drawn.drawn)
    expect(drawScenario(base, 2, 0, ranges).drawn).not.toEqual(drawn.drawn)
  })
})

const plan: CampaignPlan = { of: 'a', runs: 7, seed: 1, scenarios: ['short', 'start'] }
const record = (run: number, verdict: RunRecord['verdict'] = 'met'): RunRecord => ({
  run,
  scenario: plan.scenarios[run % 2]!,
  verdict,
  codes: verdict === 'met' ? [] : ['bench/short-late'],
  digest: `d${run}`,
})
const all = Array.from({ length: 7 }, (_, i) => record(i, i === 4 ? 'broken' : i === 5 ? 'open' : 'met'))

describe('parts of a campaign', () => {
  it('put together are the campaign in one piece, byte for byte, whatever their number and order', () => {
    const whole = JSON.stringify(reportOf(plan, all))
    for (let of = 1; of <= 9; of++) {
      const parts = Array.from({ length: of }, (_, i) => {
        const own = runsOfShard(plan.runs, i + 1, of).map((run) => all[run]!)
        const text = JSON.stringify(reportOf(plan, own, { shard: `${i + 1}/${of}` }))
        return { file: `part-${i}`, report: readReport(text, `part-${i}`) }
      }).reverse()
      expect(JSON.stringify(mergeReports(parts))).toBe(whole)
    }
  })

  it('are refused where they do not belong together, or a run is there twice', () => {
    const part = (more: Partial<CampaignPlan>, records: RunRecord[]) => ({
      file: 'x.json',
      report: reportOf({ ...plan, ...more }, records),
    })
    expect(() => mergeReports([part({}, [record(0)]), part({ seed: 2 }, [record(1)])])).toThrow(
      /another campaign/,
    )
    expect(() => mergeReports([part({}, [record(0)]), part({ of: 'b' }, [record(1)])])).toThrow(
      /another campaign/,
    )
    expect(() => mergeReports([part({}, [record(0)]), part({}, [record(0)])])).toThrow(/run 0.*once/)
    expect(mergeReports([part({}, [record(0)])]).interrupted).toBe(true)
  })

  it('are refused where they are no report', () => {
    const bad = (change: object) => JSON.stringify({ ...reportOf(plan, all), ...change })
    for (const text of [
      '',
      '[]',
      'null',
      '{"halfbit":1}',
      bad({ halfbit: 2 }),
      bad({ campaign: { of: 'a' } }),
      bad({ runs: [{ ...record(0), run: 99 }] }),
      bad({ runs: [{ ...record(0), scenario: 'other' }] }),
      bad({ runs: [null] }),
    ])
      expect(() => readReport(text, 'x.json')).toThrow(/expected the JSON of a campaign/)
  })
})

describe('the verdict', () => {
  const many = (n: number) => reportOf({ ...plan, runs: n, scenarios: ['short'] }, records(n))
  const records = (n: number) => Array.from({ length: n }, (_, run) => ({ ...record(0), run }))

  it('is never met from too few runs', () => {
    expect(many(0).verdict).toBe('undecided')
    expect(many(1).verdict).toBe('undecided')
    expect(many(71).verdict).toBe('undecided')
    expect(many(72).verdict).toBe('met')
  })

  it('is broken by a single run, and not met by runs that show nothing', () => {
    expect(reportOf(plan, all).verdict).toBe('broken')
    const open = records(72).map((r) => ({ ...r, verdict: 'open' as const }))
    expect(reportOf({ ...plan, scenarios: ['short'] }, open).verdict).toBe('undecided')
  })

  it('of a run without any outcome is open', () => {
    const silent = { name: 'short', outcomes: [], statements: [], digest: '' } as never
    expect(recordOf(0, silent).verdict).toBe('open')
  })
})
