/** A stage: its figures, and beside them what it must meet and what has been run for it. */
import type { ComponentChildren } from 'preact'
import type { Stage } from '../stages.js'
import { MustMeet } from './must-meet.js'
import { RunStatus } from './run-status.js'

export function StageBody({ stage, children }: { stage: Stage; children: ComponentChildren }) {
  return (
    <div class="stage-body">
      <div class="figures">{children}</div>
      <div class="beside" role="group" aria-label="Requirements">
        <MustMeet stage={stage} />
        <RunStatus />
      </div>
    </div>
  )
}
