/** The workers, each started when it is first called. */
import type { BenchCalls, DeskCalls } from './calls.js'
import { type Caller, type Calls, callWorker } from './channel.js'
import type { FindCalls } from './find-calls.js'
import type { RingCalls } from './ring-calls.js'
import type { StudyCalls } from './study-calls.js'

let deskCaller: Caller<DeskCalls> | undefined
export function desk(): Caller<DeskCalls> {
  deskCaller ??= callWorker<DeskCalls>(
    new Worker(new URL('./desk.ts', import.meta.url), { type: 'module', name: 'desk' }),
  )
  return deskCaller
}

let benchCaller: Caller<BenchCalls> | undefined
/** Long work has a worker of its own, so that editing stays quick. */
export function bench(): Caller<BenchCalls> {
  benchCaller ??= callWorker<BenchCalls>(
    new Worker(new URL('./bench.ts', import.meta.url), { type: 'module', name: 'bench' }),
  )
  return benchCaller
}

/** A worker that can be ended, with all that it has loaded; the next call starts it anew. */
function endable<C extends Calls>(start: () => Worker) {
  let worker: Worker | undefined
  let caller: Caller<C> | undefined
  return {
    caller(): Caller<C> {
      worker ??= start()
      caller ??= callWorker<C>(worker)
      return caller
    },
    end(): void {
      worker?.terminate()
      worker = undefined
      caller = undefined
    },
  }
}

/** Scenarios take longest: the signals that are looked at meanwhile are read by {@link bench}. */
export const { caller: player, end: endPlayer } = endable<BenchCalls>(
  () => new Worker(new URL('./bench.ts', import.meta.url), { type: 'module', name: 'player' }),
)

let studyCaller: Caller<StudyCalls> | undefined
export function study(): Caller<StudyCalls> {
  studyCaller ??= callWorker<StudyCalls>(
    new Worker(new URL('./study.ts', import.meta.url), { type: 'module', name: 'study' }),
  )
  return studyCaller
}

let findCaller: Caller<FindCalls> | undefined
export function finder(): Caller<FindCalls> {
  findCaller ??= callWorker<FindCalls>(
    new Worker(new URL('./find.ts', import.meta.url), { type: 'module', name: 'find' }),
  )
  return findCaller
}

/** The SPICE engine keeps some 400 MB and cannot be stopped otherwise. */
export const { caller: ring, end: endRing } = endable<RingCalls>(
  () => new Worker(new URL('./ring.ts', import.meta.url), { type: 'module', name: 'ring' }),
)
