/** What follows from the design's text: asked of the worker, always for the newest text, one question at a time. */
import { computed, effect, signal } from '@preact/signals'
import { isShownCell, type Row, type RunEvidence } from '../../proof/index.js'
import { STAGES, type StageId } from '../stages.js'
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
        if (next.problems.length > 0) {
          // The proof of the text before, marked as that.
          if (lastValid.value) lastValid.value = { ...lastValid.value, proof: next.proof }
          return
        }
        lastValid.value = next
        lastValidText.value = now
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
        { text: now, file: fileName.peek(), runs: [...runEvidence.peek().values()] },
        {
          progress: (_share, _says, first) => {
            early = true
            latencyMs.value = performance.now() - since
            take(first as Judged)
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

export interface Standing {
  verdict: Row['verdict']
  /** Smallest margin of what is shown; undefined when nothing is. */
  margin: number | undefined
  worst: Row | undefined
  rows: Row[]
}

const RANK = { 'not shown': 0, met: 1, undecided: 2, broken: 3 } as const

/** How each stop stands: its worst clause. */
export const standings = computed<Record<StageId, Standing>>(() => {
  const all = lastValid.value?.proof?.rows ?? []
  const entries = STAGES.map((stage): [StageId, Standing] => {
    const rows = stage.id === 'proof' ? all : all.filter((row) => stage.clauses.includes(row.clause))
    const standing = standingOf(rows)
    // The whole is met only where all of it is.
    if (stage.id === 'proof' && standing.verdict === 'met')
      return [stage.id, { ...standing, verdict: lastValid.value?.proof?.verdict ?? 'not shown' }]
    return [stage.id, standing]
  })
  return Object.fromEntries(entries) as Record<StageId, Standing>
})

export function standingOf(rows: readonly Row[]): Standing {
  let verdict: Row['verdict'] = 'not shown'
  let worst: Row | undefined
  let margin: number | undefined
  for (const row of rows) {
    if (row.verdict === 'not shown') continue
    const own = Math.min(
      ...Object.values(row.cells).map((cell) => (isShownCell(cell) ? cell.margin : Infinity)),
    )
    const worse =
      RANK[row.verdict] > RANK[verdict] ||
      (RANK[row.verdict] === RANK[verdict] && own < (margin ?? Number.POSITIVE_INFINITY))
    if (!worse) continue
    verdict = row.verdict
    margin = own
    worst = row
  }
  return { verdict, margin, worst, rows: [...rows] }
}
