/** What is chosen, the same at every stage: a clause, a place of the railroad, a finding of a record. */
import { effect, signal } from '@preact/signals'
import { rowName } from '../../proof/index.js'
import type { RecordFinding } from '../wave/findings.js'
import { lastValid } from './consequences.js'

/** Name of a row of the proof. */
export const chosenRow = signal<string | undefined>(undefined)
/** A section of the railroad that the map is asked to show. */
export const wantedSection = signal<string | undefined>(undefined)
/** Key of the fleet. */
export const chosenTrain = signal<string | undefined>(undefined)
/** Of the record that is looked at. */
export const chosenFinding = signal<RecordFinding | undefined>(undefined)

// A finding belongs to a clause: where the proof has that clause, it is chosen with it.
effect(() => {
  const finding = chosenFinding.value
  if (!finding) return
  const row = lastValid.peek()?.proof?.rows.find((r) => r.clause === finding.clause)
  if (row) chosenRow.value = rowName(row)
})
