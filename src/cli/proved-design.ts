/** All that design, firmware and captures show, as one proof. */
import { readFileSync } from 'node:fs'
import { evidenceOfDesign, type Proof, proofOfDesign } from '../proof/index.js'
import type { Origin } from '../standard/index.js'
import { benchEvidence } from './bench-evidence.js'
import { captureEvidence, capturesOf } from './capture-evidence.js'
import type { Io } from './command.js'
import { displayPath } from './display-path.js'
import { sha256 } from './file-sum.js'
import { firmwareEvidence, type SimulateRequest } from './firmware-evidence.js'
import type { DesignFile } from './read-design.js'

export interface ProofRequest extends SimulateRequest {
  /** In place of the design's. */
  captures?: readonly string[]
  /** The firmware build that those were taken with. */
  build?: string | undefined
  /** Also the built-in scenarios of the coupled bench. */
  bench?: boolean
  /** Origins that must show whatever they can; the design's own where there are none. */
  require?: readonly Origin[]
  date?: string | undefined
}

export async function provedDesign(
  loaded: DesignFile,
  { captures = [], build, bench: withBench = false, require = [], date, ...request }: ProofRequest,
  io: Io,
): Promise<Proof> {
  const source = { file: displayPath(loaded.file), sha256: sha256(loaded.bytes) }
  const calculated = evidenceOfDesign(loaded, source)
  const list = capturesOf(loaded, captures, build)
  const { sum, run } = io.signal.aborted ? {} : await firmwareEvidence(loaded, request, io)
  const bench =
    withBench && !io.signal.aborted ? await benchEvidence(loaded, request.firmware, io) : undefined
  const taken = await captureEvidence(loaded, list, io)
  return proofOfDesign(loaded, {
    calculated,
    runs: [...(run ? [run] : []), ...(bench ? [bench] : []), ...taken],
    firmware: sum,
    version: JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')).version,
    date,
    require: require.length > 0 ? require : loaded.design.require,
    interrupted: io.signal.aborted,
  })
}
