/** Plays scenarios, several at once where there are cores for them. */
import { availableParallelism } from 'node:os'
import type { Playable, ScenarioResult } from '../bench/index.js'
import type { Bench } from '../proof/index.js'
import { InputError } from '../units/index.js'
import { type BenchData, playTask, type ScenarioDone, type ScenarioTask } from './bench-player.js'
import type { Io } from './command.js'
import { runPool } from './pool.js'

/** A scenario, and how a thread finds it again. */
export interface ChosenScenario {
  playable: Playable
  task: ScenarioTask
}

const WORKER = new URL('./bench-worker.js', import.meta.url)

/**
 * @param onResult called in the order of the scenarios, as soon as those before are done.
 * @returns those that were done when Ctrl-C came: the first ones, without a gap.
 * @throws InputError with the line of an act that the bench cannot do.
 */
export async function playScenarios(
  chosen: readonly ChosenScenario[],
  bench: Bench,
  data: BenchData,
  io: Pick<Io, 'progress' | 'signal'>,
  { jobs, onResult }: { jobs?: number | undefined; onResult?: (result: ScenarioResult) => void } = {},
): Promise<ScenarioResult[]> {
  const done: ScenarioResult[] = []
  const next = (result: ScenarioResult) => {
    done.push(result)
    onResult?.(result)
  }
  if (Math.min(chosen.length, jobs ?? availableParallelism()) <= 1) {
    for (const [i, { playable }] of chosen.entries()) {
      const result = await played(playable.steps(), io, (share) =>
        io.progress(`${i + 1} of ${chosen.length}: ${playable.name} ${Math.floor(100 * share)} %`),
      )
      if (!result) break
      next(result)
    }
  } else {
    const waiting: ScenarioDone[] = []
    let finished = 0
    // The longest first, so that none of them keeps one thread busy when the others are done.
    const lasts = (i: number) => chosen[i]!.playable.scenario?.lasts ?? 0
    const order = [...chosen.keys()].sort((a, b) => lasts(b) - lasts(a))
    io.progress(`0 of ${chosen.length} scenarios done`)
    await runPool<ScenarioTask, ScenarioDone>({
      tasks: order.map((i) => chosen[i]!.task),
      worker: WORKER,
      data,
      jobs,
      here: (task) => playTask(bench, task),
      signal: io.signal,
      onResult(result, index) {
        waiting[order[index]!] = result
        io.progress(`${++finished} of ${chosen.length} scenarios done`)
        for (let first = waiting[done.length]; first; first = waiting[done.length]) {
          if ('refused' in first) throw new InputError(first.refused, first.place)
          next(first.result)
        }
      },
    })
    if (done.length < chosen.length && !io.signal.aborted)
      throw new Error('a thread ended before its scenario')
  }
  io.progress('')
  return done
}

/** Plays to the end, and lets Ctrl-C through; undefined when it came. */
async function played(
  steps: ReturnType<Playable['steps']>,
  io: Pick<Io, 'signal'>,
  progress: (share: number) => void,
): Promise<ScenarioResult | undefined> {
  for (;;) {
    await new Promise((resolve) => setImmediate(resolve))
    if (io.signal.aborted) return undefined
    const step = steps.next()
    if (step.done) return step.value
    progress(step.value)
  }
}
