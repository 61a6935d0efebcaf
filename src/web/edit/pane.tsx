/** The design side: forms made from the shapes, and the text itself. Both show and change the same text. */
import { effect } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import type { Stage } from '../stages.js'
import { answer } from '../state/consequences.js'
import { raw } from '../state/values.js'
import { Form } from './form.js'
import { isPaneOpen, isPaneWanted, setPaneOpen, side } from './pane-state.js'
import { ProblemLine } from './problem-line.js'
import { TextEditor } from './text.js'

// Text that no form can show is shown as text. Beside the text itself nobody asks, as reading it for each letter takes time.
effect(() => {
  if (side.value !== 'text' && raw.value === undefined) side.value = 'text'
})

const problemCount = (count: number) =>
  count === 0 ? 'no problems' : `✗ ${count === 1 ? '1 problem' : `${count} problems`}`

export function DesignPane({ stage }: { stage: Stage }) {
  const { problems } = answer.value
  const pane = useRef<HTMLElement>(null)
  const isWanted = isPaneWanted.value
  useEffect(() => {
    if (!isWanted) return
    isPaneWanted.value = false
    // Where it is open already, the focus shows where to go on.
    const first = pane.current?.querySelector<HTMLElement>(
      ':scope > :not(.switch) :is(input, select, textarea, button, summary)',
    )
    first?.focus({ focusVisible: true } as FocusOptions)
  }, [isWanted])
  if (!isPaneOpen.value)
    return (
      <section class="design rail" aria-label="Design">
        <button type="button" aria-expanded={false} onClick={() => setPaneOpen(true)}>
          <span aria-hidden="true">▸</span> Design
        </button>
        <span class={problems.length > 0 ? 'broken' : 'quiet'} role="status">
          {problemCount(problems.length)}
        </span>
      </section>
    )
  return (
    <section class="design" aria-label="Design" ref={pane}>
      <div class="switch" role="group" aria-label="Edit the design as">
        <button type="button" aria-pressed={side.value === 'form'} onClick={() => (side.value = 'form')}>
          Form
        </button>
        <button type="button" aria-pressed={side.value === 'text'} onClick={() => (side.value = 'text')}>
          Text
        </button>
        <span class={problems.length > 0 ? 'broken' : 'quiet'} role="status">
          {problemCount(problems.length)}
        </span>
        <button type="button" class="icon fold" aria-expanded={true} onClick={() => setPaneOpen(false)}>
          <span aria-hidden="true">◂</span>
          <span class="unseen">Fold the design</span>
        </button>
      </div>
      {side.value === 'form' ? <Form stage={stage} /> : <TextEditor />}
      {side.value === 'form' && problems.length > 0 && (
        <ul class="problems">
          {problems.slice(0, 8).map((p) => (
            <ProblemLine problem={p} />
          ))}
        </ul>
      )}
    </section>
  )
}
