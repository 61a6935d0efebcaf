import type { ComponentChildren } from 'preact'
import type { AskedStudy } from '../state/asked-study.js'
import { lastValidText } from '../state/consequences.js'
import { COUPLED } from '../state/coupled.js'
import { going } from '../state/runs.js'

/**
 * What is under way, how far it is, and how to stop it.
 * @param bench on the stage of the bench; elsewhere one that runs by itself is seen in the list of runs alone.
 */
export function GoingOn({ bench = false }: { bench?: boolean }) {
  const now = going.value
  if (!bench && now?.key === COUPLED && now.isAutomatic) return null
  return now ? <HowFar what={now.what} share={now.share} says={now.says} stop={now.stop} /> : null
}

function HowFar({ what, share, says, stop }: { what: string; share: number; says: string; stop(): void }) {
  return (
    <div class="going">
      <label>
        <span>{what}</span>
        <progress max={1} value={share} />
      </label>
      <span class="mono">{says}</span>
      <button type="button" data-stops onClick={stop}>
        Stop
      </button>
    </div>
  )
}

/** The button that asks for a study, how far it is, and what it found once it is there. */
export function StudyRun({
  study,
  ask,
  what,
  children,
}: {
  study: AskedStudy
  ask: string
  what: string
  children: ComponentChildren
}) {
  const now = study.going.value
  const found = study.found.value
  return (
    <>
      {now ? (
        <HowFar what={what} share={now.share} says={now.says} stop={now.stop} />
      ) : (
        <button type="button" class={found ? undefined : 'main'} onClick={() => void study.run()}>
          {found ? `${ask} again` : ask}
        </button>
      )}
      {study.fault.value && <p class="notice broken">✗ {study.fault.value}</p>}
      {found && found.of !== lastValidText.value && (
        <p class="notice">The design has changed since; these are the previous results.</p>
      )}
      {children}
    </>
  )
}
