/** Beside the questions: the proof as far as the steps have settled it, and the lines of the file that this step fills in. */
import { marginWords } from '../parts/margin.js'
import type { AskedStep, BegunRow } from '../worker/calls.js'
import { isSizing, made } from './state.js'

const nameOf = ({ title, about }: BegunRow) => (about === undefined ? title : `${title} (${about})`)

export function Growing({ stepIndex, steps }: { stepIndex: number; steps: readonly AskedStep[] }) {
  const started = made.value?.started
  const at = (row: BegunRow) => steps.findIndex((s) => s.id === row.step)
  const rows = started?.rows ?? []
  const isSettled = (row: BegunRow) => row.margin !== undefined && at(row) <= stepIndex
  const met = rows.filter(isSettled)
  const fresh = met.filter((row) => at(row) === stepIndex)
  const older = met.filter((row) => at(row) < stepIndex)
  const later = rows.filter((row) => !isSettled(row))
  const part = started?.parts[steps[stepIndex]!.id]
  return (
    <aside class="begin-beside" aria-label="The design so far">
      <h3>The proof so far</h3>
      <p class="begin-count" role="status">
        {isSizing.value ? (
          <span class="quiet">◔ calculating …</span>
        ) : started ? (
          <>
            <span class="met">
              ✓ <b>{met.length}</b> met
            </span>{' '}
            <span class="quiet">{later.length} not shown yet</span>
          </>
        ) : (
          <span class="broken">✗ no working design</span>
        )}
      </p>
      {started && (
        <ul class={`begin-rows${isSizing.value ? ' stale' : ''}`} tabIndex={0} aria-label="Clauses">
          {[...fresh, ...older].map((row) => (
            <li title={row.because}>
              <span class="met">✓</span> {nameOf(row)}{' '}
              <span class={at(row) === stepIndex ? 'begin-new' : 'quiet'}>
                {at(row) === stepIndex ? 'new, ' : ''}
                {marginWords(row.margin!)}
              </span>
            </li>
          ))}
          {later.map((row) => (
            <li class="quiet">
              <span>–</span> {nameOf(row)} <span>{row.needs ?? `step ${at(row) + 1}`}</span>
            </li>
          ))}
        </ul>
      )}
      {part && (
        <>
          <h3>
            The design file <span class="quiet">halfbit.yaml, line {part.fromLine}</span>
          </h3>
          <pre class="begin-text" role="region" tabIndex={0} aria-label="Lines of the design file">
            {part.text}
          </pre>
        </>
      )}
    </aside>
  )
}
