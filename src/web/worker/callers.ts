/** The workers, each started when it is first called. */
import type { BenchCalls, DeskCalls } from './calls.js'
import { type Caller, callWorker } from './channel.js'
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

let playerWorker: Worker | undefined
let playerCaller: Caller<BenchCalls> | undefined
/** Scenarios take longest: the signals that are looked at meanwhile are read by {@link bench}. */
export function player(): Caller<BenchCalls> {
  if (!playerCaller) {
    playerWorker = new Worker(new URL('./bench.ts', import.meta.url), { type: 'module', name: 'player' })
    playerCaller = callWorker<BenchCalls>(playerWorker)
  }
  return playerCaller
}

/** What it has loaded is not kept for the next run. */
export function endPlayer(): void {
  playerWorker?.terminate()
  playerWorker = undefined
  playerCaller = undefined
}

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

let ringWorker: Worker | undefined
let ringCaller: Caller<RingCalls> | undefined
export function ring(): Caller<RingCalls> {
  if (!ringCaller) {
    ringWorker = new Worker(new URL('./ring.ts', import.meta.url), { type: 'module', name: 'ring' })
    ringCaller = callWorker<RingCalls>(ringWorker)
  }
  return ringCaller
}

/** The SPICE engine keeps some 400 MB and cannot be stopped otherwise. */
export function endRing(): void {
  ringWorker?.terminate()
  ringWorker = undefined
  ringCaller = undefined
}
