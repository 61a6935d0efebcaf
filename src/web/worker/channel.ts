/** One typed channel between the page and its worker: calls with progress that can be cancelled. */

/** A table of calls: name → what goes in and what comes out. Both must survive structured cloning. */
export type Calls = Record<string, { takes: unknown; gives: unknown }>

/** `detail`: plain data for who wants to show more than a sentence. */
export type Progress = (share: number, says: string, detail?: unknown) => void

/** What a handler gets to say how far it is, and to hear that it may stop. */
export interface Tools {
  progress: Progress
  cancelled: () => boolean
}

type Message =
  | { id: number; call: string; takes: unknown }
  | { id: number; cancel: true }
  | { id: number; gives: unknown }
  | { id: number; failed: string; place?: { line?: number | undefined; column?: number | undefined } }
  | { id: number; share: number; says: string; detail?: unknown }

/** A call failed with a message for people. */
export class CallFailed extends Error {
  readonly place: { line?: number | undefined; column?: number | undefined } | undefined
  constructor(message: string, place?: { line?: number | undefined; column?: number | undefined }) {
    super(message)
    this.place = place
  }
}

export interface Caller<C extends Calls> {
  call<K extends keyof C & string>(
    name: K,
    takes: C[K]['takes'],
    options?: { progress?: Progress; signal?: AbortSignal; transfer?: Transferable[] },
  ): Promise<C[K]['gives']>
}

/** The page's side. */
export function callWorker<C extends Calls>(worker: Worker): Caller<C> {
  let last = 0
  const open = new Map<
    number,
    { done: (v: unknown) => void; failed: (e: Error) => void; progress?: Progress | undefined }
  >()
  worker.addEventListener('message', ({ data }: MessageEvent<Message>) => {
    const one = open.get(data.id)
    if (!one) return
    if ('share' in data) one.progress?.(data.share, data.says, data.detail)
    else if ('gives' in data) {
      open.delete(data.id)
      one.done(data.gives)
    } else if ('failed' in data) {
      open.delete(data.id)
      one.failed(new CallFailed(data.failed, data.place))
    }
  })
  return {
    call(name, takes, { progress, signal, transfer } = {}) {
      const id = ++last
      return new Promise((done, failed) => {
        open.set(id, { done: done as (v: unknown) => void, failed, progress })
        const cancel = () => worker.postMessage({ id, cancel: true })
        worker.postMessage({ id, call: name, takes }, transfer ?? [])
        // A stop may have come before the call could begin, as while a file was read for it.
        if (signal?.aborted) cancel()
        else signal?.addEventListener('abort', cancel)
      })
    },
  }
}

export type Handlers<C extends Calls> = {
  [K in keyof C]: (
    takes: C[K]['takes'],
    tools: Tools,
  ) => Promise<{ gives: C[K]['gives']; transfer?: Transferable[] }>
}

/** The worker's side. A handler asks `cancelled()` now and then and must yield to hear of it. */
export function answerCalls<C extends Calls>(scope: DedicatedWorkerGlobalScope, handlers: Handlers<C>): void {
  const cancelled = new Set<number>()
  scope.addEventListener('message', async ({ data }: MessageEvent<Message>) => {
    const { id } = data
    if ('cancel' in data) {
      cancelled.add(id)
      return
    }
    if (!('call' in data)) return
    try {
      const handler = handlers[data.call]
      if (!handler) throw new Error(`no call ${data.call}`)
      const progress: Progress = (share, says, detail) => scope.postMessage({ id, share, says, detail })
      const { gives, transfer } = await handler(data.takes, { progress, cancelled: () => cancelled.has(id) })
      scope.postMessage({ id, gives }, transfer ?? [])
    } catch (error) {
      const place = (error as { place?: { line?: number; column?: number } }).place
      scope.postMessage({ id, failed: error instanceof Error ? error.message : String(error), place })
    } finally {
      cancelled.delete(id)
    }
  })
}
