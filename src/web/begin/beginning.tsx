/** The screen of the beginning: steps at the left, one step's questions in the middle, the proof growing beside it. */
import { useEffect, useRef } from 'preact/hooks'
import { hostKind, isBlank } from '../state/design.js'
import './beginning.css'
import { Growing } from './growing.js'
import { PlanFigure } from './plan-figure.js'
import { QuestionField } from './question-field.js'
import {
  drawInstead,
  followAnswers,
  isBeginning,
  isSizing,
  made,
  problem,
  step,
  steps,
  takeNearest,
  writeDesign,
} from './state.js'

export function Beginning() {
  const heading = useRef<HTMLHeadingElement>(null)
  const first = useRef(true)
  useEffect(followAnswers, [])
  useEffect(() => {
    document.title = 'Start a design · Halfbit workbench'
    if (!first.current) heading.current?.focus()
    first.current = false
  }, [step.value])
  const hasSteps = steps.value.length > 0
  useEffect(() => {
    for (const chosen of document.querySelectorAll('.begin-steps li.now, .begin-cards label.chosen'))
      bringIntoRow(chosen)
  }, [step.value, hasSteps])
  const all = steps.value
  const now = all[step.value]
  if (!now) return <p class="quiet begin-wait">Loading …</p>
  const last = step.value === all.length - 1
  const begun = made.value
  const canWrite = begun?.started !== undefined && !isSizing.value && !problem.value
  return (
    <div class="begin">
      <nav class="begin-steps" aria-label="Steps">
        <h2>Start from what you have</h2>
        <ol>
          {all.map((s, i) => (
            <li class={i < step.value ? 'done' : i === step.value ? 'now' : undefined}>
              <button
                type="button"
                aria-current={i === step.value ? 'step' : undefined}
                onClick={() => (step.value = i)}
              >
                <span class="dot" aria-hidden="true">
                  {i < step.value ? '✓' : i + 1}
                </span>
                <span>
                  <b>{s.title}</b>
                  <small class="quiet">{summary(s)}</small>
                </span>
              </button>
            </li>
          ))}
        </ol>
        <button
          type="button"
          class="begin-draw"
          disabled={begun?.started === undefined || isSizing.value}
          onClick={() => void drawInstead()}
          title="The answers so far, and an empty map to draw sections, curves and turnouts on"
        >
          Draw the railroad yourself
        </button>
        {!isBlank.value && (
          <button type="button" onClick={() => (isBeginning.value = false)}>
            Keep the design as it is
          </button>
        )}
      </nav>
      <main class="begin-main" aria-labelledby="begin-title">
        <div class="title">
          <h2 id="begin-title" tabIndex={-1} ref={heading}>
            {now.title}
          </h2>
          <p class="quiet">
            Step {step.value + 1} of {all.length}. {now.about}
          </p>
        </div>
        <form
          class="begin-form"
          onSubmit={(event) => {
            event.preventDefault()
            if (!last) step.value += 1
            else if (canWrite) writeDesign()
          }}
        >
          {now.questions.map((q) => (
            <QuestionField
              key={q.id}
              question={q}
              problem={problem.value?.question === q.id ? problem.value.says : undefined}
            />
          ))}
          {(now.id === 'shape' || now.id === 'trains' || now.id === 'write') && begun?.started && (
            <PlanFigure started={begun.started} withTrains={now.id !== 'shape'} />
          )}
          <Refusal />
          <div class="begin-acts">
            <button type="button" disabled={step.value === 0} onClick={() => (step.value -= 1)}>
              Back
            </button>
            {last ? (
              <button type="submit" class="main" disabled={!canWrite}>
                {hostKind.value === 'server' ? 'Write the file' : 'Take this design'}
              </button>
            ) : (
              <button type="submit" class="main">
                Next: {all[step.value + 1]!.title}
              </button>
            )}
          </div>
        </form>
      </main>
      <Growing stepIndex={step.value} steps={all} />
    </div>
  )
}

/** Scrolls the row that holds it, on a narrow screen, but not the page. */
function bringIntoRow(one: Element) {
  const row = one.parentElement!
  const [outer, inner] = [row.getBoundingClientRect(), one.getBoundingClientRect()]
  row.scrollLeft += (inner.left + inner.right - outer.left - outer.right) / 2
}

/** Why no design works with the answers, and the nearest that does. */
function Refusal() {
  const refused = made.value?.refused
  if (!refused || isSizing.value) return <div role="alert" />
  return (
    <div class="notice broken" role="alert">
      <p>No design works with these answers: {refused.because}.</p>
      {refused.nearest && (
        <button type="button" onClick={() => takeNearest(refused.nearest!.changes)}>
          Make this change: {refused.nearest.says}
        </button>
      )}
    </div>
  )
}

function summary({
  questions,
}: {
  questions: { value: string; choices: { value: string; label: string }[] }[]
}): string {
  const words = questions
    .map((q) => q.choices.find((c) => c.value === q.value)?.label ?? q.value)
    .filter((w) => w !== '')
  return words.slice(0, 2).join('; ')
}
