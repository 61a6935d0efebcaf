/** What is printed of a stage that has no report of its own: the pages of the proof, the same as its HTML report. */
import { desk, lastValid } from '../state/consequences.js'
import { text } from '../state/design.js'
import { usePrinted } from './printed.js'

/** It waits longer than where a report is in sight: nothing else here needs it. */
const REST_MS = 3000

export function PrintedProof() {
  const proof = lastValid.value!.proof!
  usePrinted(
    () => desk().call('export', { proof, text: text.value, form: 'html' }),
    [proof, text.value],
    REST_MS,
  )
  return null
}
