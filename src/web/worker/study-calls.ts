/** What the page can ask of the worker for studies. */
import type { SimulationReport } from '../../controller/index.js'
import type { CornerReport } from '../../power/index.js'
import type { Comparison, Matrix, RunEvidence } from '../../proof/index.js'
import type { SignalReading } from '../../signal/index.js'
import type { Figure, Report } from './calls.js'

/** One side of a comparison. */
export interface CompareSource {
  label: string
  /** The design it is about, or under which a run or a capture is judged. */
  text: string
  file: string
  runs: readonly RunEvidence[]
  /** Only what is in `runs`, nothing calculated. */
  alone: boolean
  readings: readonly { output: string; reading: SignalReading }[]
  report?: SimulationReport | undefined
}

export type CompareForm = 'html' | 'md' | 'json'

export type StudyCalls = {
  compare: {
    takes: { a: CompareSource; b: CompareSource; isNarrow: boolean }
    gives: { comparison: Comparison; figures: Figure[] }
  }
  exportComparison: {
    takes: { comparison: Comparison; drawings: string[]; form: CompareForm; onlyDifferences: boolean }
    gives: string
  }
  /** The proofs of the design as written and of every variant; nothing where it was stopped. */
  variants: {
    takes: { text: string; file: string; runs: readonly RunEvidence[] }
    gives: Matrix | undefined
  }
  /** What decides the clauses of the power stage: corners, yields and the quantities that matter most. */
  corners: { takes: { text: string }; gives: CornerReport[] }
  /** Policies side by side and the sweep over numbers of locomotives. */
  traffic: { takes: { text: string; most?: number | undefined }; gives: Report & { interrupted: boolean } }
}
