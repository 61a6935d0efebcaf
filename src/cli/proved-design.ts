/** All that design, firmware and captures show, as one proof. */
import { readFileSync } from 'node:fs'
import {
  type CalculationMemory,
  evidenceOfDesign,
  memoryOf,
  type Proof,
  proofOfDesign,
  type Requirement,
  type RunEvidence,
} from '../proof/index.js'
import { benchEvidence } from './bench-evidence.js'
import { captureEvidence, capturesOf } from './capture-evidence.js'
import type { Io } from './command.js'
import { displayPath } from './display-path.js'
import { sha256 } from './file-sum.js'
import { firmwareOf, judgedRun, type SimulateRequest } from './firmware-evidence.js'
import { PACKAGE_FOLDER } from './package-folder.js'
import type { ProofThread } from './proof-thread.js'
import type { DesignFile } from './read-design.js'

export interface ProofRequest extends SimulateRequest {
  /** In place of the design's. */
  captures?: readonly string[]
  /** The firmware build that those were taken with. */
  build?: string | undefined
  /** Also the built-in scenarios of the coupled bench. */
  bench?: boolean
  /** What must be shown; the design's own where there is none. */
  require?: readonly Requirement[]
  date?: string | undefined
}

/** @param thread to run the firmware in, and to calculate what takes longest; all of it is done here where there is none. */
export async function provedDesign(
  loaded: DesignFile,
  { captures = [], build, bench: withBench = false, require = [], date, ...request }: ProofRequest,
  io: Io,
  thread?: ProofThread,
): Promise<Proof> {
  const source = { file: displayPath(loaded.file), sha256: sha256(loaded.bytes) }
  const asked = attempt(() => (io.signal.aborted ? {} : firmwareOf(loaded, request)))
  const askedRun = 'value' in asked ? asked.value.run : undefined
  const elsewhere = askedRun && thread?.run(loaded, askedRun, io)
  // What is wrong is told in the same order, whichever thread finds it first.
  const memory: CalculationMemory = new Map()
  let calculated = evidenceOfDesign(loaded, source, elsewhere ? { memory, pace: 'soon' } : {})
  const list = capturesOf(loaded, captures, build)
  if ('error' in asked) throw asked.error
  let run: RunEvidence | undefined
  if (elsewhere) {
    const found = await elsewhere
    run = found.run
    const known = new Map([...memory, ...memoryOf(loaded, found.slow)])
    calculated = evidenceOfDesign(loaded, source, { memory: known })
  } else if (askedRun && !io.signal.aborted) run = await judgedRun(loaded, askedRun, io)
  const bench = withBench && !io.signal.aborted ? await benchEvidence(loaded, request, io) : undefined
  const taken = await captureEvidence(loaded, list, io)
  return proofOfDesign(loaded, {
    calculated,
    runs: [...(run ? [run] : []), ...(bench ? [bench] : []), ...taken],
    firmware: asked.value.sum,
    version: JSON.parse(readFileSync(new URL('package.json', PACKAGE_FOLDER), 'utf8')).version,
    date,
    require: require.length > 0 ? require : loaded.design.require,
    interrupted: io.signal.aborted,
  })
}

/** What a function gives, or what it throws, for later. */
function attempt<T>(work: () => T): { value: T } | { error: unknown } {
  try {
    return { value: work() }
  } catch (error) {
    return { error }
  }
}
