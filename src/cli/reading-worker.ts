/** The second thread: see `reading-thread.ts`. */
import { parentPort, receiveMessageOnPort, workerData } from 'node:worker_threads'
import { type ReaderOptions, SignalReader } from '../signal/reader.js'
import { type RingMemory, RingReader } from './edge-ring.js'

const ring = new RingReader(workerData as RingMemory)
try {
  const clock = ring.clock()
  if (clock !== undefined) {
    // Sent before the clock was told.
    const options = receiveMessageOnPort(parentPort!)?.message as ReaderOptions | undefined
    const reader = new SignalReader(clock, options)
    const [end, start] = ring.readAll((block) => reader.push(block))
    parentPort!.postMessage(reader.finish(end, start))
  }
} catch (error) {
  ring.fail()
  throw error
}
