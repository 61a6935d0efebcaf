/** What the signal path says under the names of stages that are not summed up by the margin of their clauses. */
import { classOf, Sign } from '../parts/margin.js'
import { runCounts } from '../state/automatic.js'
import { lastValid } from '../state/consequences.js'
import { COUPLED, scenarios } from '../state/coupled.js'
import { going } from '../state/runs.js'

/** Always the same words. */
export function TextLine(text: string) {
  return () => <span class="state quiet">{text}</span>
}

export function BenchLine() {
  const statements = scenarios.value.flatMap((s) => s.statements)
  if (going.value?.key === COUPLED)
    return (
      <span class="state quiet">
        <span aria-hidden="true">◔</span> running
      </span>
    )
  if (statements.length === 0) return <span class="state quiet">– not run</span>
  const broken = statements.filter((s) => s.verdict === 'broken').length
  const met = statements.filter((s) => s.verdict === 'met').length
  return (
    <span class="state">
      {broken > 0 && <span class="broken">✗ {broken} broken, </span>}
      {met === statements.length && (
        <span class="met">
          <Sign verdict="met" />{' '}
        </span>
      )}
      {met} of {statements.length} met
    </span>
  )
}

/** Counts with their signs, so that met and not shown stand beside each other in the smallest room. */
export function ProofLine() {
  const { running } = runCounts.value
  const proof = lastValid.value?.proof
  if (!proof) return <span class="state quiet">–</span>
  const { counts } = proof
  const isAll = proof.verdict === 'met'
  const parts = (['broken', 'undecided', 'met', 'not shown'] as const).filter(
    (verdict) => counts[verdict] > 0 || verdict === 'met' || verdict === 'not shown',
  )
  return (
    <span class="state" title={parts.map((verdict) => `${counts[verdict]} ${verdict}`).join(', ')}>
      {parts.map((verdict) => (
        // The space is outside, so that the line may break there.
        <>
          <span class={verdict === 'met' && !isAll ? 'part' : classOf(verdict)}>
            <Sign verdict={verdict} /> {counts[verdict]}
            <span class="unseen"> {verdict}</span>
          </span>{' '}
        </>
      ))}
      {running > 0 && (
        <span class="quiet">
          <span aria-hidden="true">◔</span>
          <span class="unseen">running</span>
        </span>
      )}
    </span>
  )
}
