/** Runs simulations of the traffic in a thread of their own. */
import { parentPort, workerData } from 'node:worker_threads'
import { doTrafficTask, resolveTraffic, type TrafficInput, type TrafficTask } from '../traffic/index.js'

const traffic = resolveTraffic(workerData as TrafficInput)

parentPort?.on('message', ({ index, task }: { index: number; task: TrafficTask }) => {
  parentPort?.postMessage({ index, result: doTrafficTask(traffic, task) })
})
