/** A second thread for proofs, one after the other: it runs the firmware, and calculates what of the design takes longest. */
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import { Worker } from 'node:worker_threads'
import type { Design, LoadedDesign } from '../design/index.js'
import type { RunEvidence, SlowResult } from '../proof/index.js'
import { InputError, type InputPlace } from '../units/index.js'
import type { Io } from './command.js'
import type { AskedRun } from './firmware-evidence.js'

/** What the thread is to do. */
export interface ThreadTask {
  design: Design
  variant: string | undefined
  run: AskedRun
  /** Not 0 when it shall stop. */
  stop: Int32Array
}

export type ThreadMessage =
  | { kind: 'progress'; text: string }
  | ({ kind: 'done' } & ThreadResult)
  | { kind: 'unusable'; message: string; place: InputPlace }

export interface ThreadResult {
  run: RunEvidence
  slow: SlowResult[]
}

export interface ProofThread {
  /** The promise fails with an InputError when the firmware cannot be run as asked. */
  run(loaded: LoadedDesign, run: AskedRun, io: Pick<Io, 'progress' | 'signal'>): Promise<ThreadResult>
  close(): void
}

const WORKER = new URL('./proof-worker.js', import.meta.url)

/**
 * Starts one before there is anything to do, as it takes as long to load as the command itself.
 * @returns `undefined` where there is one core only, or the sources are run, which no thread can.
 */
export function startProofThread(): ProofThread | undefined {
  if (availableParallelism() < 2 || !existsSync(fileURLToPath(WORKER))) return undefined
  const worker = new Worker(WORKER)
  worker.unref()
  let fault: Error | undefined
  worker.on('error', (error) => {
    fault = error
  })
  const stop = new Int32Array(new SharedArrayBuffer(4))
  const halt = () => void Atomics.store(stop, 0, 1)
  let isBusy = false
  return {
    run({ design, variant }, run, io) {
      // What the one says would reach the other.
      if (isBusy) throw new Error('the thread proves one design at a time')
      isBusy = true
      worker.ref()
      if (io.signal.aborted) halt()
      io.signal.addEventListener('abort', halt)
      let end = () => {}
      const found = new Promise<ThreadResult>((resolve, reject) => {
        if (fault) reject(fault)
        const onMessage = (message: ThreadMessage) => {
          if (message.kind === 'progress') io.progress(message.text)
          else if (message.kind === 'done') resolve(message)
          else reject(new InputError(message.message, message.place))
        }
        const onExit = (code: number) =>
          reject(new Error(`the thread that runs the firmware ended with ${code}`))
        worker.on('message', onMessage).on('error', reject).on('exit', onExit)
        end = () => {
          isBusy = false
          io.signal.removeEventListener('abort', halt)
          worker.off('message', onMessage).off('error', reject).off('exit', onExit)
        }
      }).finally(() => end())
      // Nobody may listen yet when it fails.
      found.catch(() => {})
      const task: ThreadTask = { design, variant, run, stop }
      worker.postMessage(task)
      return found
    },
    close() {
      // Its end is that of a run under way.
      void worker.terminate()
    },
  }
}
