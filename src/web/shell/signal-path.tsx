/** The navigation: the stages along the signal's path, each with its smallest margin, the proof at the end. */
import { signal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { Fitted } from '../parts/fitted.js'
import { classOf, marginWords, Sign } from '../parts/margin.js'
import { PROOF, STAGES, type Stage } from '../stages.js'
import { isStageStale, lastValid } from '../state/consequences.js'
import { route } from '../state/route.js'
import { type Standing, standings } from '../state/standings.js'

/** On a narrow screen the path is one line that opens. */
const isOpen = signal(false)

export function SignalPath() {
  const nav = useRef<HTMLElement>(null)
  const here = STAGES.find((s) => s.id === route.value) ?? PROOF
  useEffect(() => {
    isOpen.value = false
  }, [route.value])
  return (
    <nav
      class="line"
      aria-label="Signal path"
      ref={nav}
      onKeyDown={(event) => {
        if (event.key !== 'Escape' || !isOpen.value) return
        isOpen.value = false
        nav.current?.querySelector('button')?.focus()
      }}
    >
      <button
        type="button"
        class="path-open"
        aria-expanded={isOpen.value}
        aria-controls="signal-path"
        onClick={() => (isOpen.value = !isOpen.value)}
      >
        <span class="name">{here.title}</span>
        <StandingLine stage={here} />
        <span aria-hidden="true">{isOpen.value ? '▴' : '▾'}</span>
      </button>
      <ol id="signal-path" class={isOpen.value ? 'open' : undefined}>
        {STAGES.map((stage) => (
          <StageLink stage={stage} />
        ))}
      </ol>
    </nav>
  )
}

function StageLink({ stage }: { stage: Stage }) {
  const here = route.value === stage.id
  const { margin, verdict } = standings.value[stage.id]
  const isStale = isStageStale(stage.parts)
  return (
    <li>
      <a
        href={`#/${stage.id}`}
        class={`stage${here ? ' here' : ''}${isStale ? ' stale' : ''}`}
        aria-current={here ? 'page' : undefined}
      >
        <span class="name">
          <StageIcon path={stage.icon} />
          {stage.title}
        </span>
        <StandingLine stage={stage} />
        {margin !== undefined && (
          <span class={`fill ${classOf(verdict)}`} aria-hidden="true">
            <svg viewBox="0 0 100 3" preserveAspectRatio="none">
              <rect width={100 * Math.min(1, Math.max(0.02, margin))} height="3" fill="currentColor" />
            </svg>
          </span>
        )}
      </a>
    </li>
  )
}

function StageIcon({ path }: { path: string }) {
  return (
    <svg class="icon" viewBox="0 0 16 16" aria-hidden="true">
      <path d={path} />
    </svg>
  )
}

/** Sign, smallest margin and its clause; what nothing shows is counted beside it. */
function StandingLine({ stage }: { stage: Stage }) {
  const standing = standings.value[stage.id]
  if (lastValid.value?.complete === false && standing.verdict === 'not shown' && stage.clauses.length > 0)
    return <span class="state quiet">◔ calculating …</span>
  if (stage.line) return <stage.line />
  const { verdict, margin, worst, notShown, rows } = standing
  if (rows.length === 0) return <span class="state quiet">nothing to meet</span>
  return (
    <span class="state" title={titleOf(standing)}>
      <span class={notShown > 0 && verdict === 'met' ? 'part' : classOf(verdict)}>
        <Sign verdict={verdict} />
        <span class="unseen">{verdict}</span> {margin === undefined ? '' : marginWords(margin)}
      </span>
      <span class="quiet">
        {notShown > 0 && verdict === 'met' && margin !== undefined ? ', ' : ' '}
        {isStageStale(stage.parts) ? (
          <em>before edit</em>
        ) : worst ? (
          notShown > 0 && verdict === 'met' ? (
            `${notShown} not shown`
          ) : (
            <Fitted text={worst.title} within=".state" />
          )
        ) : (
          'not shown'
        )}
      </span>
    </span>
  )
}

function titleOf({ worst, notShown, rows }: Standing): string {
  const least = worst
    ? `smallest margin: ${worst.title}${worst.about === undefined ? '' : `, ${worst.about}`}; `
    : ''
  return `${least}${rows.length} to meet, ${notShown} not shown`
}
