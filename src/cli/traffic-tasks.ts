/** The study of a traffic, shared out to the cores. */
import {
  doTrafficTask,
  type ResolvedTraffic,
  resolveTraffic,
  type StudyChoice,
  studyTraffic,
  type TrafficInput,
  type TrafficStudy,
  type TrafficTask,
} from '../traffic/index.js'
import type { Io } from './command.js'
import { runPool } from './pool.js'

export interface TrafficRuns extends TrafficStudy {
  traffic: ResolvedTraffic
  interrupted: boolean
}

export interface TrafficRequest extends StudyChoice {
  input: TrafficInput
  jobs?: number | undefined
}

const WORKER = new URL('./traffic-worker.js', import.meta.url)

/** All simulations of one call. After Ctrl-C only policies with both results count. */
export async function runTraffic(
  request: TrafficRequest,
  io: Pick<Io, 'progress' | 'signal'>,
): Promise<TrafficRuns> {
  const { input, jobs, ...choice } = request
  const traffic = resolveTraffic(input)
  const study = await studyTraffic(
    traffic,
    choice,
    (tasks, says) =>
      runPool<TrafficTask, ReturnType<typeof doTrafficTask>>({
        tasks,
        worker: WORKER,
        data: input,
        jobs,
        here: (task) => doTrafficTask(traffic, task),
        signal: io.signal,
        onProgress: (done, of) => io.progress(`${says}: ${done} of ${of} simulations`),
      }),
    () => io.signal.aborted,
  )
  io.progress('')
  return { traffic, ...study, interrupted: io.signal.aborted }
}
