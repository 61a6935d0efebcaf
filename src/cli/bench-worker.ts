/** Plays scenarios of one bench in a thread of its own: design and firmware are read once. */
import { parentPort, workerData } from 'node:worker_threads'
import { type BenchData, benchFrom, playTask, type ScenarioTask } from './bench-player.js'

const { bench } = benchFrom(workerData as BenchData)

parentPort?.on('message', ({ index, task }: { index: number; task: ScenarioTask }) => {
  parentPort?.postMessage({ index, result: playTask(bench, task) })
})
