/** Plays runs of a campaign in a thread of its own: design and firmware are read once, each run has a machine of its own. */
import { parentPort, workerData } from 'node:worker_threads'
import type { CampaignTask } from '../proof/index.js'
import { type CampaignData, playerOf } from './campaign-player.js'

const player = playerOf(workerData as CampaignData)

parentPort?.on('message', ({ index, task }: { index: number; task: CampaignTask }) => {
  parentPort?.postMessage({ index, result: player.do(task) })
})
