/** What follows from the design's text: asked of the worker, always for the newest text, one question at a time. */
import { computed, effect, signal } from '@preact/signals'
import type { RunEvidence } from '../../proof/index.js'
import { bench, desk } from '../worker/callers.js'
import type { Judged } from '../worker/calls.js'
import { fileName, text } from './design.js'

export { bench, desk }

export const answer = signal<Judged>({ problems: [], tookMs: 0 })
/** The last answer for a valid text: what the screens show while the text has problems. */
export const lastValid = signal<Judged | undefined>(undefined)
/** The text that {@link lastValid} is about. */
export const lastValidText = signal('')
export const busy = signal(false)
/** From the change to the answer, ms. */
export const latencyMs = signal(0)

/** What runs and captures have shown, by a key of their own: a new run replaces the old one. */
export const runEvidence = signal<ReadonlyMap<string, RunEvidence>>(new Map())

export function addRunEvidence(key: string, what: RunEvidence): void {
  runEvidence.value = new Map(runEvidence.value).set(key, what)
}

/** As on the command line: the run first, then the captures in the order of the design, then those dropped here. */
function runsInOrder(): RunEvidence[] {
  const listed = lastValid.peek()?.facts?.captures.map((c) => `capture ${c.file}`) ?? []
  const place = (key: string) => (listed.includes(key) ? listed.indexOf(key) : listed.length)
  return [...runEvidence.peek()]
    .sort(
      ([a, x], [b, y]) =>
        Number(a !== 'firmware') - Number(b !== 'firmware') ||
        Number(x.kind !== 'run') - Number(y.kind !== 'run') ||
        place(a) - place(b),
    )
    .map(([, evidence]) => evidence)
}

/** After the frame that shows an answer, and the effects after it: then whatever is on screen has asked for its figures. */
const onceDrawn = (then: () => void) => requestAnimationFrame(() => setTimeout(() => setTimeout(then)))

/** Begin to follow the text. */
export function follow(): void {
  let stale = false
  let changedAt = 0
  effect(() => {
    void text.value
    void runEvidence.value
    changedAt = performance.now()
    stale = true
    if (!busy.peek()) void ask()
  })

  async function ask(): Promise<void> {
    busy.value = true
    const since = changedAt
    const now = text.peek()
    stale = false
    try {
      const take = (next: Judged) => {
        answer.value = next
        if (!next.proof) return
        if (next.problems.length > 0 && !next.partial) {
          // The proof of the text before, marked as that.
          if (lastValid.value) lastValid.value = { ...lastValid.value, proof: next.proof }
          return
        }
        lastValid.value = next
        lastValidText.value = next.partial?.text ?? now
        // On screen with the next frame; named so that a browser's own tools, and a benchmark, find it.
        requestAnimationFrame(() =>
          performance.measure(next.complete === false ? 'first consequences' : 'all consequences', {
            start: since,
          }),
        )
      }
      let early = false
      const last = await desk().call(
        'judge',
        { text: now, file: fileName.peek(), runs: runsInOrder() },
        {
          progress: (_share, _says, first) => {
            early = true
            latencyMs.value = performance.now() - since
            take(first as Judged)
            onceDrawn(() => void desk().call('drawn', null))
          },
        },
      )
      take(last)
      if (!early) latencyMs.value = performance.now() - since
    } finally {
      busy.value = false
      if (stale) void ask()
    }
  }
}

/**
 * Why what is on screen is not of the text as it is now; empty where it is. Whatever leaves the page says it too.
 */
export const staleNote = computed<string>(() => {
  if (!lastValid.value) return ''
  const { partial } = answer.value
  if (partial) return `PARTLY OUT OF DATE: the design has problems; ${partialWords(partial)}`
  if (answer.value.problems.length > 0)
    return 'OUT OF DATE: made from the last valid version of the design, which has problems now'
  return text.value === lastValidText.value ? '' : 'OUT OF DATE: the design has been changed since'
})

/** Where the parts with problems are from, as a clause of a sentence. */
export function partialWords({ before, without }: { before: string[]; without: string[] }): string {
  return [
    before.length > 0 ? `${before.join(', ')} as in the last valid version` : '',
    without.length > 0 ? `without ${without.join(', ')}` : '',
  ]
    .filter(Boolean)
    .join(', ')
}

/** Whether what a stage shows of its own parts is not that of the text as it is now. */
export function isStageStale(parts: readonly string[]): boolean {
  const { partial } = answer.value
  if (!partial) return staleNote.value !== ''
  return [...partial.before, ...partial.without].some((key) => parts.includes(key))
}
