/** The beginning of a design: open or not, the step, the answers so far, and what they make. */
import { effect, signal } from '@preact/signals'
import type { Given, QuestionId } from '../../start/index.js'
import { desk } from '../state/consequences.js'
import { change, isBlank } from '../state/design.js'
import type { AskedStep, Begun } from '../worker/calls.js'

/** Whether the beginning is open in place of the stages. */
export const isBeginning = signal(false)
export const step = signal(0)
export const given = signal<Given>({})
export const steps = signal<AskedStep[]>([])
export const problem = signal<{ question: QuestionId; says: string } | undefined>(undefined)
/** What the answers make; while `isSizing`, what those before them made. */
export const made = signal<Begun | undefined>(undefined)
export const isSizing = signal(false)

export function openBeginning(): void {
  given.value = {}
  step.value = 0
  made.value = undefined
  isBeginning.value = true
}

// Where there is nothing yet, this is what to do.
let isFirst = true
effect(() => {
  if (!isFirst) return
  isBeginning.value = isBlank.value
  // Before a design is read there is no text either: what it holds then decides.
  if (!isBlank.value) isFirst = false
})

export function answerWith(id: QuestionId, value: string): void {
  given.value = { ...given.value, [id]: value }
}

/** The answers with those of a choice that is sound. */
export function takeNearest(changes: Given): void {
  given.value = { ...given.value, ...changes }
}

/** The design goes into the file as one step back. */
export function writeDesign(): void {
  const text = made.value?.started?.text
  if (text === undefined || isSizing.value) return
  change(text, 'beginning of a new design')
  isBeginning.value = false
}

/** The same design without its railroad, which is then drawn on an empty map. */
export async function drawInstead(): Promise<void> {
  const started = made.value?.started
  if (started === undefined || isSizing.value) return
  const { withoutRailroad } = await import('./without-railroad.js')
  change(withoutRailroad(started), 'beginning of a new design')
  isBeginning.value = false
  location.hash = '#/track'
}

const AFTER_TYPING_MS = 300
let timer: ReturnType<typeof setTimeout> | undefined
let asking = false
let stale = false

/** Follow the answers: the questions at once, the design when typing rests. */
export function followAnswers(): () => void {
  const stop = effect(() => {
    void given.value
    isSizing.value = true
    stale = true
    clearTimeout(timer)
    timer = setTimeout(() => void ask(), steps.peek().length === 0 ? 0 : AFTER_TYPING_MS)
  })
  return () => {
    stop()
    clearTimeout(timer)
  }
}

async function ask(): Promise<void> {
  if (asking) return
  asking = true
  try {
    while (stale) {
      stale = false
      const now = given.peek()
      const asked = await desk().call('ask', { given: now })
      if (!stale) {
        steps.value = asked.steps
        problem.value = asked.problem
      }
      const begun = await desk().call('begin', { given: now })
      if (!stale) {
        made.value = begun
        isSizing.value = false
      }
    }
  } finally {
    asking = false
  }
}
