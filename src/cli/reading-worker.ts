/** A thread that reads edges while the main one finds them in a large file. */
import { parentPort, workerData } from 'node:worker_threads'
import { type ReaderOptions, SignalReader } from '../signal/reader.js'
import { type RingMemory, RingReader } from './edge-ring.js'

const { memory, options } = workerData as { memory: RingMemory; options: ReaderOptions }
const ring = new RingReader(memory)
try {
  const clock = ring.clock()
  if (clock !== undefined) {
    const reader = new SignalReader(clock, options)
    const end = ring.readAll((block) => reader.push(block))
    parentPort!.postMessage({ reading: reader.finish(end) })
  }
} catch (error) {
  ring.fail()
  throw error
}
