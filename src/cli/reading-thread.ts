/** A second thread for large captures: it reads the edges that the first one finds. */
import { statSync } from 'node:fs'
import { Worker } from 'node:worker_threads'
import type { CaptureSink } from '../capture/importer.js'
import type { ReaderOptions } from '../signal/reader.js'
import type { SignalReading } from '../signal/reading.js'
import { RingWriter, ringMemory } from './edge-ring.js'

/** From this size on a second thread pays, bytes. */
const LARGE = 8e6

/** Takes the edges, and knows what they say once they are all there. */
export interface Reading extends CaptureSink {
  /**
   * @param tick end of the record; @param start of it, NaN where it begins with its first edge.
   * @throws what went wrong in the reader.
   */
  finish(tick: number, start: number): Promise<SignalReading>
  close(): void
  /** Only of a reader in the same thread: a decoder acknowledged, us. */
  acknowledge?(timeUs: number): void
}

export interface ReadingThread {
  with(options: ReaderOptions): Reading
  close(): void
}

/** Starts one if the file is large; undefined when it is not, or cannot be looked at. */
export function startReadingThread(path: string): ReadingThread | undefined {
  const info = statSync(path, { throwIfNoEntry: false })
  // Source files cannot be run by a thread.
  if (!info?.isFile() || info.size < LARGE || !import.meta.url.endsWith('.js')) return undefined
  const memory = ringMemory()
  const ring = new RingWriter(memory)
  const worker = new Worker(new URL('./reading-worker.js', import.meta.url), { workerData: memory })
  let fault: Error | undefined
  const found = new Promise<SignalReading>((resolve, reject) => {
    worker.on('message', resolve)
    worker.on('error', (error) => {
      fault = error
      reject(error)
    })
    worker.on('exit', () => reject(fault ?? new Error('the thread that reads the signal ended early')))
  })
  // Nobody listens yet when it fails during the import: finish() does.
  found.catch(() => {})
  const close = () => void worker.terminate()
  return {
    close,
    with(options) {
      worker.postMessage(options)
      return {
        begin: (clock) => ring.begin(clock),
        push: (block) => void ring.push(block),
        finish(tick, start) {
          ring.end(tick, start)
          return found
        },
        close,
      }
    },
  }
}
