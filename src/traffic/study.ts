/** The whole study of a traffic: every policy, clean and on dirty track, and how many locomotives each carries. */
import { type CaseChoice, type CaseResult, runCase } from './case.js'
import {
  type Carries,
  type CaseSummary,
  carried,
  refineTasks,
  runTask,
  type SweepTask,
  sweepTasks,
} from './compare.js'
import type { ResolvedTraffic } from './plan.js'

/** One simulation of a study, as data: a worker runs it. */
export type TrafficTask = { full: CaseChoice } | { point: SweepTask }

export function doTrafficTask(traffic: ResolvedTraffic, task: TrafficTask): CaseResult | CaseSummary {
  return 'full' in task ? runCase(traffic, task.full) : runTask(traffic, task.point)
}

export interface TrafficStudy {
  /** Each policy without loss and on dirty track, in the order of the policies; only those with both results. */
  clean: CaseResult[]
  dirty: CaseResult[]
  points: CaseSummary[]
  carries: Carries[]
}

export interface StudyChoice {
  policies: readonly string[]
  /** Sweep up to this many locomotives; 0: no sweep. */
  most: number
  /** Railroad time, us, instead of as long as the figures need. */
  forUs?: number | undefined
}

/** Runs tasks in any order and gives their results in theirs; undefined for what was not run any more. */
export type RunTasks = (
  tasks: readonly TrafficTask[],
  says: string,
) => Promise<readonly (CaseResult | CaseSummary | undefined)[]>

const REFINEMENTS = 4

/** @param stopped once it is true no further tasks are asked for. */
export async function studyTraffic(
  traffic: ResolvedTraffic,
  { policies, most, forUs }: StudyChoice,
  run: RunTasks,
  stopped: () => boolean,
): Promise<TrafficStudy> {
  const { lost, limit } = traffic.input.traffic
  const cases = policies.flatMap((policy) =>
    [0, lost].map((share) => ({ full: { policy, lost: share, ...(forUs === undefined ? {} : { forUs }) } })),
  )
  const results = (await run(cases, 'policies')) as readonly (CaseResult | undefined)[]
  const points: CaseSummary[] = []
  let carries: Carries[] = []
  if (most > 0 && !stopped()) {
    let tasks = sweepTasks(traffic, policies, most)
    for (let round = 0; tasks.length > 0 && round <= REFINEMENTS && !stopped(); round++) {
      const says = round === 0 ? 'numbers of locomotives' : 'closing in'
      const found = (await run(
        tasks.map((point) => ({ point })),
        says,
      )) as readonly (CaseSummary | undefined)[]
      points.push(...found.filter((p) => p !== undefined))
      carries = carried(points, limit)
      tasks = refineTasks(carries)
    }
  }
  const done = policies.map((_, i) => i).filter((i) => results[2 * i] && results[2 * i + 1])
  const of = (k: number) => done.map((i) => results[2 * i + k]!)
  return { clean: of(0), dirty: of(1), points, carries }
}

/** How far a sweep goes when nobody says: the capacity of the station, or twice the fleet and 40 at least. */
export function usualMost(traffic: ResolvedTraffic): number {
  const { input } = traffic
  const size = Object.values(input.fleet).reduce((sum, l) => sum + l.count, 0)
  return input.traffic.capacity ?? Math.max(40, 2 * size)
}
