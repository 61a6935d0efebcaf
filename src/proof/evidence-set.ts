/** What one source of evidence gives: the one form in which command line, workbench and reports have it. */
import type { Finding } from '../finding/index.js'
import type { Statement } from '../standard/index.js'
import type { ProofInput } from './proof.js'

export interface EvidenceSet {
  statements: Statement[]
  notes: Finding[]
  /** Files it was made from, with their sums where they are known. */
  inputs: ProofInput[]
}

/** A file that evidence comes from, as reports name it. */
export interface SourceFile {
  file: string
  /** Of its bytes, hexadecimal; absent for what cannot be read twice. */
  sha256?: string | undefined
}

/** What a run of the firmware or a capture shows. Plain data, so that it can be kept and sent to a worker. */
export interface RunEvidence extends EvidenceSet {
  kind: 'run' | 'capture'
  /** Outputs that were read. */
  outputs: string[]
  /** What of the design it depends on; where that has changed, it says nothing of the design as it is. See `dependsOn`. */
  dependsOn: string
  /** Of a capture: the firmware build that it was taken with, or that made it; the first digits may do. */
  build?: string
  /** A signal that was calculated from packets, not sent by any firmware. */
  withoutFirmware?: true
  /** In words, for reasons: `5 s of station.elf`, `capture main.vcd`. */
  source: string
}
