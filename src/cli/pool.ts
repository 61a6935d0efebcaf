/** Shares tasks out to worker threads: as many as there are cores, results in the order of the tasks. */
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import { Worker } from 'node:worker_threads'

export interface PoolRequest<Task> {
  tasks: readonly Task[]
  /** Module that answers `{ index, task }` with `{ index, result }`. */
  worker: URL
  /** Given to each worker when it starts. */
  data: unknown
  /** Workers at most; the number of cores when absent. */
  jobs?: number | undefined
  /** Does a task here, when one job is wanted or the worker's module is not there (run from sources). */
  here: (task: Task) => unknown
  onProgress?: (done: number, of: number) => void
  /** Called with each result as it comes, whatever its place; what it throws ends the pool. */
  onResult?: (result: never, index: number) => void
  /** Whether a result is the last that is wanted: those under way end, no other begins. */
  isLast?: (result: never) => boolean
  signal?: AbortSignal
}

/** @returns results in the order of the tasks; holes for those not done when the signal aborted. */
export async function runPool<Task, Result>(request: PoolRequest<Task>): Promise<(Result | undefined)[]> {
  const { tasks, signal, onProgress } = request
  const isLast = request.isLast as ((result: Result) => boolean) | undefined
  const onResult = request.onResult as ((result: Result, index: number) => void) | undefined
  const results: (Result | undefined)[] = new Array(tasks.length)
  const jobs = Math.min(tasks.length, request.jobs ?? availableParallelism())
  let done = 0
  if (jobs <= 1 || !existsSync(fileURLToPath(request.worker))) {
    for (const [i, task] of tasks.entries()) {
      if (signal?.aborted) break
      results[i] = request.here(task) as Result
      onResult?.(results[i] as Result, i)
      onProgress?.(++done, tasks.length)
      if (isLast?.(results[i] as Result)) break
      // Lets Ctrl-C be seen.
      await new Promise((resolve) => setImmediate(resolve))
    }
    return results
  }
  let next = 0
  let ended = false
  const workers: Worker[] = []
  const stops = new Set<() => void>()
  const stop = () => {
    for (const end of stops) end()
  }
  const one = () =>
    new Promise<void>((resolve, reject) => {
      stops.add(resolve)
      const worker = new Worker(request.worker, { workerData: request.data })
      workers.push(worker)
      const give = () => {
        if (next >= tasks.length || ended || signal?.aborted) resolve()
        else worker.postMessage({ index: next, task: tasks[next++] })
      }
      worker.on('message', (message: { index: number; result: Result }) => {
        results[message.index] = message.result
        try {
          onResult?.(message.result, message.index)
        } catch (error) {
          reject(error)
          return
        }
        ended ||= isLast?.(message.result) === true
        onProgress?.(++done, tasks.length)
        give()
      })
      worker.on('error', reject)
      worker.on('exit', (code) => (code === 0 ? resolve() : reject(new Error(`worker ended with ${code}`))))
      give()
    })
  signal?.addEventListener('abort', stop)
  try {
    await Promise.all(Array.from({ length: jobs }, one))
  } finally {
    // Many pools share one signal, so none may leave a listener behind.
    signal?.removeEventListener('abort', stop)
    await Promise.all(workers.map((w) => w.terminate()))
  }
  return results
}
