/** Many drawn runs of some scenarios: which of them fail, and what share that shows. */
import { InputError } from '../../units/index.js'
import type { ScenarioDesign } from '../scenario/design.js'
import { isComplete, type ScenarioResult } from '../scenario/result.js'
import { exactInterval, runsToShow } from './binomial.js'

export interface CampaignPlan {
  /** SHA-256 of design, firmware and scenarios: runs of other ones are not counted together. */
  of: string
  runs: number
  seed: number
  /** Names, in the order in which the runs take them. */
  scenarios: string[]
}

export type RunVerdict = 'met' | 'broken' | 'open'

export interface RunRecord {
  run: number
  scenario: string
  verdict: RunVerdict
  /** What was found that is not met. */
  codes: string[]
  /** Of everything that happened: two runs with the same are the same. */
  digest: string
}

export interface CampaignReport {
  halfbit: 1
  campaign: CampaignPlan
  /** `2/3`, where it is a part. */
  shard?: string
  runs: RunRecord[]
  summary: RateOf[]
  /** Of all runs together. */
  verdict: 'met' | 'broken' | 'undecided'
  interrupted: boolean
}

export interface RateOf {
  scenario: string
  runs: number
  met: number
  broken: number
  /** Runs that show nothing. */
  open: number
  /** Share of runs that hold, with 95 % confidence. */
  share: { low: number; high: number }
}

/** Share of runs that must hold at the least for a campaign to be met. */
export const WANTED_SHARE = 0.95
export const ENOUGH_RUNS = runsToShow(WANTED_SHARE)

/** Which scenario a run plays: they take turns. */
export function scenarioOfRun(run: number, scenarios: readonly ScenarioDesign[]): ScenarioDesign {
  return scenarios[run % scenarios.length]!
}

/** Numbers of the runs of a part. @param shard from 1. */
export function runsOfShard(runs: number, shard: number, of: number): number[] {
  return Array.from({ length: runs }, (_, i) => i).filter((i) => i % of === shard - 1)
}

export function recordOf(run: number, result: ScenarioResult): RunRecord {
  const { name, outcomes, statements, digest } = result
  const verdicts = [...outcomes.map((o) => o.verdict), ...statements.map((s) => s.verdict)]
  const broken = verdicts.includes('broken')
  const codes = [
    ...outcomes.filter((o) => o.verdict !== 'met').map((o) => o.finding.code),
    ...statements
      .filter((s) => s.verdict === 'broken' || outcomes.length === 0)
      .map((s) => s.finding?.code ?? s.clause),
  ]
  // A run without an outcome shows nothing, however still it was; nor does one in which something never happened.
  const met = outcomes.length > 0 && outcomes.every((o) => o.verdict === 'met') && isComplete(result)
  return {
    run,
    scenario: name,
    verdict: broken ? 'broken' : met ? 'met' : 'open',
    codes: [...new Set(codes)].sort(),
    digest,
  }
}

export function reportOf(
  campaign: CampaignPlan,
  records: readonly RunRecord[],
  { shard, interrupted = false }: { shard?: string | undefined; interrupted?: boolean } = {},
): CampaignReport {
  const runs = [...records].sort((a, b) => a.run - b.run)
  const summary = campaign.scenarios.map((scenario) =>
    rateOf(
      scenario,
      runs.filter((r) => r.scenario === scenario),
    ),
  )
  const verdict = runs.some((r) => r.verdict === 'broken')
    ? 'broken'
    : summary.every((s) => s.share.low >= WANTED_SHARE)
      ? 'met'
      : 'undecided'
  return {
    halfbit: 1,
    campaign,
    ...(shard === undefined ? {} : { shard }),
    runs,
    summary,
    verdict,
    interrupted,
  }
}

function rateOf(scenario: string, runs: readonly RunRecord[]): RateOf {
  const of = (verdict: RunVerdict) => runs.filter((r) => r.verdict === verdict).length
  const met = of('met')
  return {
    scenario,
    runs: runs.length,
    met,
    broken: of('broken'),
    open: of('open'),
    share: exactInterval(met, runs.length),
  }
}

/**
 * The parts of a campaign as one; the same as that campaign in one piece.
 * @throws InputError when they are of different campaigns, or a run is there twice.
 */
export function mergeReports(parts: readonly { file: string; report: CampaignReport }[]): CampaignReport {
  const [first] = parts
  if (!first) throw new InputError('no part of a campaign; expected at least one file')
  const records = new Map<number, { file: string; record: RunRecord }>()
  const wanted = JSON.stringify(first.report.campaign)
  for (const { file, report } of parts) {
    if (JSON.stringify(report.campaign) !== wanted)
      throw new InputError(
        `is of another campaign than ${first.file}; expected the same design, firmware, scenarios, runs and seed`,
        { file },
      )
    for (const record of report.runs) {
      const other = records.get(record.run)
      if (other)
        throw new InputError(`has run ${record.run}, which ${other.file} has too; expected each run once`, {
          file,
        })
      records.set(record.run, { file, record })
    }
  }
  const { campaign } = first.report
  const interrupted = records.size < campaign.runs
  return reportOf(
    campaign,
    [...records.values()].map((r) => r.record),
    { interrupted },
  )
}

/**
 * A report that was written before.
 * @throws InputError when it is none.
 */
export function readReport(text: string, file: string): CampaignReport {
  const bad = (what: string) =>
    new InputError(`${what}; expected the JSON of a campaign of the bench`, { file })
  let value: unknown
  try {
    value = JSON.parse(text)
  } catch {
    throw bad('is no JSON')
  }
  const report = value as Partial<CampaignReport> | null
  const plan = report?.campaign
  const isPlan =
    plan !== undefined &&
    typeof plan.of === 'string' &&
    Number.isInteger(plan.runs) &&
    Number.isInteger(plan.seed) &&
    Array.isArray(plan.scenarios)
  if (report?.halfbit !== 1 || !isPlan || !Array.isArray(report.runs)) throw bad('is no report of a campaign')
  for (const r of report.runs) {
    const whole = Number.isInteger(r?.run) && r.run >= 0 && r.run < plan.runs
    const said = plan.scenarios.includes(r?.scenario) && ['met', 'broken', 'open'].includes(r?.verdict)
    if (!whole || !said || !Array.isArray(r.codes) || typeof r.digest !== 'string')
      throw bad(`run ${JSON.stringify(r?.run)} is not one of its campaign`)
  }
  return report as CampaignReport
}
