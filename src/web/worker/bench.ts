/** The worker for long work: reads captures and runs firmware, through the one reader, with progress. */
import type { BenchCalls, ReadSignal } from './calls.js'
import { capture, look, stretch } from './captures.js'
import { answerCalls } from './channel.js'
import { transfersOf } from './kept-record.js'
import { playScenario, runScenarios } from './scenarios.js'
import { simulate } from './simulate.js'

answerCalls<BenchCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  async capture(takes, tools) {
    const gives = await capture(takes, tools)
    return { gives, transfer: transfers([gives.read]) }
  },
  async look(takes) {
    return { gives: await look(takes) }
  },
  async stretch(takes, tools) {
    const gives = await stretch(takes, tools)
    return { gives, transfer: gives ? transfersOf(gives) : [] }
  },
  async simulate(takes, tools) {
    const gives = await simulate(takes, tools)
    return { gives, transfer: transfers(gives.reads) }
  },
  scenario: async (takes, tools) => ({ gives: await playScenario(takes, tools) }),
  scenarios: async (takes, tools) => ({ gives: await runScenarios(takes, tools) }),
})

function transfers(reads: readonly ReadSignal[]): Transferable[] {
  return reads.flatMap(({ record }) => transfersOf(record))
}
