/** The options of a campaign, and what the command prints of one. */
import { type CampaignReport, mergeReports, type Playable, readReport } from '../bench/index.js'
import { scenarioText } from '../design/index.js'
import type { SourceFile } from '../proof/index.js'
import { InputError } from '../units/index.js'
import { benchData } from './bench-player.js'
import { campaignLines, runCampaign } from './campaign.js'
import type { Arguments, ExitStatus, Io } from './command.js'
import { sha256 } from './file-sum.js'
import { countOption } from './quantity-option.js'
import { type DesignFile, readTextFile } from './read-design.js'

export interface CampaignOptions {
  runs: number
  seed: number
  jobs: number | undefined
  shard: { index: number; of: number } | undefined
}

const NEEDS_RUNS = ['seed', 'shard', 'failures']

export function campaignOptions(args: Arguments): CampaignOptions | undefined {
  const runs = countOption(args, 'runs', 1, 1_000_000)
  if (runs === undefined) {
    const without = NEEDS_RUNS.find((name) => args.text(name) !== undefined)
    if (without !== undefined || args.on('stop-at-first'))
      throw new InputError(`--${without ?? 'stop-at-first'} needs --runs`)
    return undefined
  }
  const seed = countOption(args, 'seed', 0, 4294967295) ?? 1
  const jobs = jobsOption(args)
  const text = args.text('shard')
  const [, index, of] = /^(\d{1,6})\/(\d{1,6})$/.exec(text ?? '') ?? []
  const shard = index === undefined ? undefined : { index: Number(index), of: Number(of) }
  if (text !== undefined && !(shard && shard.index >= 1 && shard.index <= shard.of))
    throw new InputError(`--shard ${text}; expected a part such as 1/4, from 1/4 to 4/4`)
  if (shard && args.on('stop-at-first'))
    throw new InputError(
      '--stop-at-first with --shard; expected one of them: a part knows nothing about the others',
    )
  return { runs, seed, jobs, shard }
}

/** Threads at most. */
export function jobsOption(args: Arguments): number | undefined {
  return countOption(args, 'jobs', 1, 1024)
}

export interface CampaignSubject {
  loaded: DesignFile
  firmware: { bytes: Uint8Array; sha256: string; source: SourceFile }
  chosen: readonly Playable[]
}

export async function campaignOf(
  { runs, seed, jobs, shard }: CampaignOptions,
  { loaded, firmware, chosen }: CampaignSubject,
  args: Arguments,
  io: Io,
): Promise<ExitStatus> {
  const scenarios = chosen.flatMap((c) => c.scenario ?? [])
  if (scenarios.length === 0)
    throw new InputError('none of the scenarios can be run with this design', { file: loaded.file })
  const data = benchData(loaded, firmware, args.on('translate'))
  const of = sha256(
    new TextEncoder().encode(
      JSON.stringify([
        data.design,
        ...(loaded.variant === undefined ? [] : [{ variant: loaded.variant }]),
        firmware.sha256,
        ...scenarios.map(scenarioText),
      ]),
    ),
  )
  const report = await runCampaign(
    {
      plan: { of, runs, seed, scenarios: scenarios.map((s) => s.name) },
      data: { ...data, scenarios, seed },
      shard,
      jobs,
      stopAtFirst: args.on('stop-at-first'),
      failures: args.text('failures'),
    },
    io,
  )
  tell(report, args, io)
  for (const c of chosen) if (!c.scenario) io.note(c.run().findings[0]!.sentence)
  if (io.signal.aborted) return 3
  return report.verdict === 'broken' ? 1 : 0
}

export function mergeParts(args: Arguments, io: Io): ExitStatus {
  const parts = args.positionals.map((file) => ({
    file,
    report: readReport(readTextFile(file, 'a report of a campaign'), file),
  }))
  const report = mergeReports(parts)
  tell(report, args, io)
  if (report.interrupted)
    io.note(`${report.campaign.runs - report.runs.length} of ${report.campaign.runs} runs are missing`)
  return report.verdict === 'broken' ? 1 : 0
}

function tell(report: CampaignReport, args: Arguments, io: Io): void {
  io.out(args.on('json') ? JSON.stringify(report, null, 1) : campaignLines(report).join('\n'))
}
