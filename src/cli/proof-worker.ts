/** Runs the firmware of one proof after another in a thread of its own, and calculates what of each design takes longest. */
import { parentPort } from 'node:worker_threads'
import type { LoadedDesign } from '../design/index.js'
import { slowResults } from '../proof/index.js'
import { InputError } from '../units/index.js'
import { judgedRun } from './firmware-evidence.js'
import type { ThreadMessage, ThreadTask } from './proof-thread.js'

const say = (message: ThreadMessage) => parentPort?.postMessage(message)

parentPort?.on('message', async ({ design, variant, run, stop }: ThreadTask) => {
  /** As the main thread has it, but for the places in the file: statements get their lines there. */
  const loaded: LoadedDesign = {
    design,
    version: design.halfbit,
    variants: [],
    ...(variant === undefined ? {} : { variant }),
    placeOf() {
      throw new Error('places are known where the file was read')
    },
  }
  const signal = {
    get aborted() {
      return Atomics.load(stop, 0) !== 0
    },
  }
  try {
    const progress = (text: string) => say({ kind: 'progress', text })
    const judged = await judgedRun(loaded, run, { signal, progress })
    say({ kind: 'done', run: judged, slow: signal.aborted ? [] : slowResults(loaded) })
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    say({ kind: 'unusable', message: error.message, place: error.place })
  }
})
