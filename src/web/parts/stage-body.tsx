/** A stage: its figures, and beside them what it must meet and what has been run for it. */
import type { ComponentChildren } from 'preact'
import type { Stage } from '../stages.js'
import { MustMeet } from './must-meet.js'
import { RunStatus } from './run-status.js'

interface StageBodyProps {
  stage: Stage
  /** A figure too wide to share the row with what the stage must meet. */
  top?: ComponentChildren
  /** Beside the figure, above what the stage must meet. */
  beside?: ComponentChildren
  children: ComponentChildren
}

export function StageBody({ stage, top, beside, children }: StageBodyProps) {
  return (
    <>
      {top && <div class="figures top-figure">{top}</div>}
      <div class="stage-body">
        <div class="figures">{children}</div>
        <div class="beside" tabIndex={0} role="group" aria-label="Requirements">
          {beside}
          <MustMeet stage={stage} />
          <RunStatus />
        </div>
      </div>
    </>
  )
}
