/** What the traffic command has to calculate, as tasks that a worker thread can do. */
import {
  type Carries,
  type CaseChoice,
  type CaseResult,
  type CaseSummary,
  carried,
  type ResolvedTraffic,
  refineTasks,
  resolveTraffic,
  runCase,
  runTask,
  type SweepTask,
  sweepTasks,
  type TrafficInput,
} from '../traffic/index.js'
import type { Io } from './command.js'
import { runPool } from './pool.js'

export type TrafficTask = { full: CaseChoice } | { point: SweepTask }

export function doTrafficTask(traffic: ResolvedTraffic, task: TrafficTask): CaseResult | CaseSummary {
  return 'full' in task ? runCase(traffic, task.full) : runTask(traffic, task.point)
}

export interface TrafficRuns {
  traffic: ResolvedTraffic
  /** Each policy without loss and on dirty track, in the order of the policies. */
  clean: CaseResult[]
  dirty: CaseResult[]
  points: CaseSummary[]
  carries: Carries[]
  interrupted: boolean
}

export interface TrafficRequest {
  input: TrafficInput
  policies: readonly string[]
  /** Sweep up to this many locomotives; 0: no sweep. */
  most: number
  jobs?: number | undefined
  /** Railroad time, us, instead of as long as the figures need. */
  forUs?: number | undefined
}

const WORKER = new URL('./traffic-worker.js', import.meta.url)
const REFINEMENTS = 4

/** All simulations of one call, shared out to the cores. */
export async function runTraffic(
  request: TrafficRequest,
  io: Pick<Io, 'progress' | 'signal'>,
): Promise<TrafficRuns> {
  const { input, policies, most, jobs, forUs } = request
  const traffic = resolveTraffic(input)
  const pool = async <R>(tasks: readonly TrafficTask[], says: string): Promise<(R | undefined)[]> =>
    runPool<TrafficTask, R>({
      tasks,
      worker: WORKER,
      data: input,
      jobs,
      here: (task) => doTrafficTask(traffic, task),
      signal: io.signal,
      onProgress: (done, of) => io.progress(`${says}: ${done} of ${of} simulations`),
    })
  const lost = input.traffic.lost
  const cases = policies.flatMap((policy) =>
    [0, lost].map((share) => ({ full: { policy, lost: share, ...(forUs === undefined ? {} : { forUs }) } })),
  )
  const results = await pool<CaseResult>(cases, 'policies')
  const points: CaseSummary[] = []
  let carries: Carries[] = []
  if (most > 0 && !io.signal.aborted) {
    let tasks = sweepTasks(traffic, policies, most)
    for (let round = 0; tasks.length > 0 && round <= REFINEMENTS && !io.signal.aborted; round++) {
      const says = round === 0 ? 'numbers of locomotives' : 'closing in'
      const found = await pool<CaseSummary>(
        tasks.map((point) => ({ point })),
        says,
      )
      points.push(...found.filter((p) => p !== undefined))
      carries = carried(points, input.traffic.limit)
      tasks = refineTasks(carries)
    }
  }
  io.progress('')
  // After Ctrl-C only policies with both results count.
  const done = policies.map((_, i) => i).filter((i) => results[2 * i] && results[2 * i + 1])
  const of = (k: number) => done.map((i) => results[2 * i + k]!)
  return { traffic, clean: of(0), dirty: of(1), points, carries, interrupted: io.signal.aborted }
}
