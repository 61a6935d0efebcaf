/** What runs and captures showed, kept to be compared: figures and evidence, not the edges. */
import { signal } from '@preact/signals'
import type { SimulationReport } from '../../controller/index.js'
import type { RunEvidence } from '../../proof/index.js'
import type { ReadSignal } from '../worker/calls.js'
import type { CompareSource } from '../worker/study-calls.js'
import { fileName } from './design.js'

export interface KeptSide {
  id: string
  source: CompareSource
}

export const keptSides = signal<readonly KeptSide[]>([])

const MOST = 12
let last = 0

/**
 * @param text the design under which it was answer.
 * @returns its id.
 */
export function keepSide(
  name: string,
  text: string,
  gives: { reads: readonly ReadSignal[]; evidence: RunEvidence; report?: SimulationReport },
): string {
  const kind = gives.evidence.kind === 'run' ? 'run' : 'capture'
  const id = `kept ${++last}`
  const source: CompareSource = {
    label: `${kind} ${last}: ${name}`,
    text,
    file: fileName.value,
    runs: [gives.evidence],
    alone: true,
    readings: gives.reads.map(({ output, reading }) => ({ output, reading })),
    report: gives.report,
  }
  keptSides.value = [...keptSides.value, { id, source }].slice(-MOST)
  return id
}

/** A design file that was dropped to be compared. */
export function keepDesign(name: string, text: string): string {
  const id = `kept ${++last}`
  const source: CompareSource = {
    label: `design ${last}: ${name}`,
    text,
    file: name,
    runs: [],
    alone: false,
    readings: [],
  }
  keptSides.value = [...keptSides.value, { id, source }].slice(-MOST)
  return id
}
