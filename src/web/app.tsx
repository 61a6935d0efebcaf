/** The workbench: the signal path on top, the design at the left, the open stage beside it. */
import { signal } from '@preact/signals'
import type { ComponentType } from 'preact'
import { lazy, Suspense } from 'preact/compat'
import { useEffect, useRef, useState } from 'preact/hooks'
import { isBeginning, openBeginning } from './begin/state.js'
import { half, isPaneOpen, side } from './edit/pane-state.js'
import { ProblemLine } from './edit/problem-line.js'
import { Conflict } from './shell/conflict.js'
import { Header, SaveTrouble } from './shell/header.js'
import { GoTo, Keyboard, onKey } from './shell/keyboard.js'
import { Tour } from './shell/tour.js'
import { STAGES, type Stage, type StageId, stageBy } from './stages.js'
import { isSettled } from './state/automatic.js'
import { answer, isStageStale, lastValid, partialWords } from './state/consequences.js'
import { isBlank, news, redo, save, undo } from './state/design.js'
import { route } from './state/route.js'
import type { Salvaged } from './worker/salvage.js'

const loaders = Object.fromEntries(
  STAGES.map((stage) => [stage.id, lazy(async () => ({ default: await stage.view() }))]),
) as Record<StageId, ComponentType>

// The open stage's part of the program is asked for at once, while the design is still being read.
void stageBy(route.peek()).view()

const DesignPane = lazy(async () => ({ default: (await import('./edit/pane.js')).DesignPane }))

const PrintedProof = lazy(async () => ({ default: (await import('./parts/printed-proof.js')).PrintedProof }))

/** Stages that print pages of their own. */
const OWN_PAGES: readonly StageId[] = ['proof', 'book', 'compare']

const Beginning = lazy(async () => ({ default: (await import('./begin/beginning.js')).Beginning }))

export function App() {
  const stage = stageBy(route.value)
  const View = loaders[stage.id]
  const heading = useRef<HTMLHeadingElement>(null)
  const first = useRef(true)

  useEffect(() => {
    document.title = `${stage.title} · Halfbit workbench`
    // Who follows a link hears where it led; at the start the page itself is enough.
    // The tour goes on by the key that led here.
    if (!first.current && !document.activeElement?.closest('.tour'))
      heading.current?.focus({ preventScroll: true })
    // A link to a stage leaves the beginning.
    if (!first.current) isBeginning.value = false
    first.current = false
    half.value = 'consequences'
  }, [stage.id])

  // The button that ended the beginning is gone with its form.
  const began = useRef(false)
  useEffect(() => {
    if (began.current && !isBeginning.value) heading.current?.focus({ preventScroll: true })
    began.current = isBeginning.value
  }, [isBeginning.value])

  useEffect(() => {
    const keys = (event: KeyboardEvent) => {
      if (onKey(event)) return
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return
      const key = event.key.toLowerCase()
      const act =
        key === 'z' ? (event.shiftKey ? redo : undo) : key === 'y' ? redo : key === 's' ? save : undefined
      if (!act) return
      // What is typed for a packet or a search is no part of the design: there the field's own undo is meant.
      if (act !== save && isOwnField(event.target)) return
      event.preventDefault()
      void act()
    }
    addEventListener('keydown', keys)
    return () => removeEventListener('keydown', keys)
  }, [])

  if (isBeginning.value)
    return (
      <>
        <Header />
        <SaveTrouble />
        <Conflict />
        <Suspense fallback={<p class="quiet">Loading …</p>}>
          <Beginning />
        </Suspense>
        <News />
      </>
    )
  return (
    <>
      <a
        class="skip"
        href="#consequences"
        onClick={(event) => {
          event.preventDefault()
          heading.current?.focus()
        }}
      >
        Skip to the results
      </a>
      <Header />
      <SaveTrouble />
      <Conflict />
      <Tour />
      <div
        class={`sides on-${half.value}${isPaneOpen.value ? '' : ' folded'}${side.value === 'text' ? ' texting' : ''}`}
      >
        <PaneWhenReady stage={stage} />
        <main
          class="consequences"
          id="consequences"
          aria-labelledby="stage-title"
          data-stage={stage.id}
          data-busy={isSettled.value ? undefined : ''}
        >
          <div class="title">
            <h2 id="stage-title" tabIndex={-1} ref={heading}>
              {stage.title}
            </h2>
            <p class="quiet">{stage.about}</p>
          </div>
          <Validity />
          <Suspense fallback={<p class="quiet">Loading …</p>}>
            {lastValid.value ? (
              <>
                <View />
                <WhenDrawn />
              </>
            ) : (
              answer.value.problems.length === 0 && <p class="quiet">Calculating …</p>
            )}
          </Suspense>
          <Keyboard />
          <p class="foot">
            <a href="./docs/index.html" target="_blank" rel="noreferrer">
              Documentation
            </a>
          </p>
          {isDrawn.value && lastValid.value?.proof && !OWN_PAGES.includes(stage.id) && (
            <Suspense fallback={null}>
              <PrintedProof />
            </Suspense>
          )}
        </main>
      </div>
      <News />
      <GoTo />
    </>
  )
}

/** Whether the first results are on screen. */
const isDrawn = signal(false)

/** Beside the stage: it is there once the stage is, and the frame after that has been painted. */
function WhenDrawn() {
  useEffect(() => {
    if (isDrawn.value) return
    requestAnimationFrame(() => setTimeout(() => (isDrawn.value = true)))
  }, [])
  return null
}

/** The forms and their parser are loaded when the first results are on screen: these come first. */
function PaneWhenReady({ stage }: { stage: Stage }) {
  const waiting = <section class={`design${isPaneOpen.value ? '' : ' rail'}`} aria-label="Design" />
  if (!isDrawn.value && answer.value.problems.length === 0) return waiting
  return (
    <Suspense fallback={waiting}>
      <DesignPane stage={stage} />
    </Suspense>
  )
}

/** What happened last, for a while: seen and heard. */
function News() {
  useEffect(() => {
    if (news.value === '') return
    const timer = setTimeout(() => (news.value = ''), NEWS_MS)
    return () => clearTimeout(timer)
  }, [news.value])
  const isFirst = useRef(true)
  useEffect(() => {
    // What was said of one stage, or of the map, would cover what is looked at next.
    if (!isFirst.current) news.value = ''
    isFirst.current = false
  }, [route.value, half.value])
  const shown = useRef<HTMLParagraphElement>(null)
  const [isAside, setAside] = useState(false)
  useEffect(() => {
    setAside(false)
    if (news.value === '') return
    // Nobody waits for it to uncover a field: it goes where the pointer or the focus comes.
    const comesTo = (left: number, top: number, right: number, bottom: number) => {
      const box = shown.current!.getBoundingClientRect()
      if (right >= box.left && left <= box.right && bottom >= box.top && top <= box.bottom) setAside(true)
    }
    const moved = ({ clientX: x, clientY: y }: PointerEvent) => comesTo(x, y, x, y)
    const focused = ({ target }: FocusEvent) => {
      const { left, top, right, bottom } = (target as Element).getBoundingClientRect()
      comesTo(left, top, right, bottom)
    }
    addEventListener('pointermove', moved)
    addEventListener('focusin', focused)
    return () => {
      removeEventListener('pointermove', moved)
      removeEventListener('focusin', focused)
    }
  }, [news.value])
  return (
    <p class={news.value && !isAside ? 'news' : 'unseen'} role="status" ref={shown}>
      {news.value}
    </p>
  )
}
const NEWS_MS = 12_000

/** A field to type in that does not change the design. */
function isOwnField(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement)) return false
  if (['checkbox', 'radio', 'range', 'file', 'button'].includes(target.type)) return false
  return target.closest('.design, .map-form') === null
}

/** Says when the screen shows an older text, or could not calculate all. */
function Validity() {
  const { problems, fault, partial } = answer.value
  if (partial && lastValid.value) return <Partly partial={partial} count={problems.length} />
  if (problems.length > 0 && !lastValid.value) return <NothingYet />
  if (problems.length > 0)
    return (
      <p class="notice broken" role="status">
        The design has {problems.length === 1 ? 'a problem' : `${problems.length} problems`}; what you see
        comes from its last valid version.
      </p>
    )
  return fault ? (
    <p class="notice broken" role="status">
      Some results could not be calculated: {fault}
    </p>
  ) : null
}

/** Some parts of the text have problems: what is sound is calculated, and it says with what. */
function Partly({ partial, count }: { partial: Salvaged; count: number }) {
  const stage = stageBy(route.value)
  const isOwn = isStageStale(stage.parts)
  return (
    <p class={`notice ${isOwn ? 'broken' : 'part'}`} role="status">
      The design has {count === 1 ? 'a problem' : `${count} problems`}. What you see is calculated from the
      text as it is now, but {partialWords(partial)}
      {isOwn ? `: ${stage.title} shows that, not what you have just written.` : '.'}
    </p>
  )
}

/** No text was valid so far: there is nothing to see, and this is what to do. */
function NothingYet() {
  const { problems } = answer.value
  const several = problems.length === 1 ? 'a problem' : `${problems.length} problems`
  return (
    <div class="notice broken" role="status">
      <p>The design has {several}, so there are no results yet. Fix the following:</p>
      <ul>
        {problems.slice(0, 5).map((p) => (
          <ProblemLine problem={p} />
        ))}
      </ul>
      {problems.length > 5 && <p>and {problems.length - 5} more</p>}
      <p>
        {isBlank.value ? 'Or start' : 'Or start over'} from what you have, step by step; undo brings this text
        back.
      </p>
      <button type="button" onClick={openBeginning}>
        Begin a new design
      </button>
    </div>
  )
}
