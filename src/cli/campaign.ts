/** Runs a campaign of the bench over the cores, and writes what failed as scenario files. */
import { join } from 'node:path'
import {
  type CampaignPlan,
  type CampaignReport,
  ENOUGH_RUNS,
  type RunRecord,
  reportOf,
  runsOfShard,
  WANTED_SHARE,
} from '../bench/index.js'
import { scenarioText } from '../design/index.js'
import type { CampaignAnswer, CampaignTask } from '../proof/index.js'
import { formatShare } from '../units/index.js'
import { type CampaignData, playerOf } from './campaign-player.js'
import type { Io } from './command.js'
import { makeFolder, writeWhole } from './files/index.js'
import { runPool } from './pool.js'

export interface CampaignRequest {
  plan: CampaignPlan
  data: CampaignData
  shard?: { index: number; of: number } | undefined
  jobs?: number | undefined
  stopAtFirst: boolean
  /** Folder for the scenario files of what fails. */
  failures?: string | undefined
}

const WORKER = new URL('./campaign-worker.js', import.meta.url)

/** After Ctrl-C what is done counts, and is said to be a part. */
export async function runCampaign(request: CampaignRequest, io: Io): Promise<CampaignReport> {
  const { plan, data, shard, jobs, stopAtFirst, failures } = request
  const numbers = shard ? runsOfShard(plan.runs, shard.index, shard.of) : runsOfShard(plan.runs, 1, 1)
  const player = playerOf(data)
  const pool = (
    tasks: readonly CampaignTask[],
    says: (done: number) => string,
    isLast?: (a: CampaignAnswer) => boolean,
  ) =>
    runPool<CampaignTask, CampaignAnswer>({
      tasks,
      worker: WORKER,
      data,
      jobs,
      here: (task) => player.do(task),
      signal: io.signal,
      onProgress: (done) => io.progress(says(done)),
      ...(isLast ? { isLast: isLast as (a: never) => boolean } : {}),
    })
  let broken = 0
  const isBroken = (answer: CampaignAnswer) => 'record' in answer && answer.record.verdict === 'broken'
  const answers = await pool(
    numbers.map((run) => ({ run })),
    (done) => `${done} of ${numbers.length} runs${broken > 0 ? `, ${broken} broken` : ''}`,
    (answer) => {
      if (isBroken(answer)) broken++
      return stopAtFirst && isBroken(answer)
    },
  )
  let records = answers.flatMap((a) => (a && 'record' in a ? [a.record] : []))
  if (stopAtFirst) {
    // Threads end in any order: what comes after the first failure is left out, so that each order gives the same.
    const first = records.find((r) => r.verdict === 'broken')
    if (first) records = records.filter((r) => r.run <= first.run)
  }
  if (failures !== undefined && !io.signal.aborted) {
    const wrong = records.filter((r) => r.verdict === 'broken')
    await writeFailures(wrong, failures)
  }
  io.progress('')
  return reportOf(plan, records, {
    shard: shard && `${shard.index}/${shard.of}`,
    interrupted: io.signal.aborted || (stopAtFirst && records.length < numbers.length),
  })

  /** Of failures that are alike the first is shrunk; the others are written as they were drawn. */
  async function writeFailures(wrong: readonly RunRecord[], folder: string): Promise<void> {
    if (wrong.length === 0) return
    makeFolder(folder)
    const kinds = new Map<string, RunRecord>()
    for (const r of wrong) {
      const kind = `${r.scenario}: ${r.codes.join()}`
      if (!kinds.has(kind)) kinds.set(kind, r)
    }
    const firsts = [...kinds.values()]
    const shrunk = await pool(
      firsts.map((r) => ({ shrink: r.run, codes: r.codes })),
      (done) => `${done} of ${firsts.length} failures shrunk`,
    )
    for (const r of wrong) {
      const answer = shrunk[firsts.indexOf(r)]
      const scenario = answer && 'shrunk' in answer ? answer.shrunk : player.scenario(r.run)
      const path = join(folder, `run-${r.run}.yaml`)
      writeWhole(path, scenarioText(scenario))
      io.note(`wrote ${path}: ${r.codes.join(', ')}`)
    }
  }
}

export function campaignLines(report: CampaignReport): string[] {
  const { campaign, runs, summary, verdict, interrupted, shard } = report
  const width = Math.max(8, ...summary.map((s) => s.scenario.length))
  const part = shard ? `, part ${shard}` : ''
  const lines = [
    `${runs.length} of ${campaign.runs} runs, seed ${campaign.seed}${part}${interrupted && !shard ? ': not all of them were run' : ''}`,
    '',
    `${'scenario'.padEnd(width)}    runs     met  broken    open  share met (95 % confidence)`,
  ]
  for (const s of summary) {
    const figures = [s.runs, s.met, s.broken, s.open].map((n) => String(n).padStart(8)).join('')
    lines.push(
      `${s.scenario.padEnd(width)}${figures}  ${formatShare(s.share.low)} to ${formatShare(s.share.high)}`,
    )
  }
  lines.push('')
  for (const r of runs.filter((r) => r.verdict !== 'met').slice(0, 20))
    lines.push(
      `run ${r.run}, ${r.scenario}: ${r.verdict === 'open' ? 'shows nothing' : 'broken'}, ${r.codes.join(', ')}`,
    )
  if (verdict === 'met')
    lines.push(`Each scenario is met in ${formatShare(WANTED_SHARE)} of the runs or more.`)
  if (verdict === 'undecided')
    lines.push(
      `Too few runs to show that ${formatShare(WANTED_SHARE)} are met: ${ENOUGH_RUNS} of each scenario, all met, would show it.`,
    )
  return lines
}
