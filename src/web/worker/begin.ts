/** The beginning of a design for the page: what is asked, and what the answers so far make. */
import { parseDocument } from 'yaml'
import { loadDesign } from '../../design/index.js'
import { isShownCell, proofOfDesign, type Row } from '../../proof/index.js'
import { CLAUSE_FACTS, type ClauseId, type Interval, isShown, type Statement } from '../../standard/index.js'
import {
  AnswerError,
  type Given,
  pictureOf,
  type QuestionId,
  questionsOf,
  type Settled,
  STEPS,
  type Started,
  type StepId,
  settle,
  startDesign,
} from '../../start/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import type { AskedStep, Begun, BegunRow } from './calls.js'
import { railroadFigures } from './railroad.js'

/** The steps with their questions, choices and usual answers, as far as the answers settle them. */
export function askedSteps(given: Given): {
  steps: AskedStep[]
  problem?: { question: QuestionId; says: string }
} {
  // An answer that does not fit leaves the questions after it at what is usual.
  let kept = given
  let problem: { question: QuestionId; says: string } | undefined
  for (;;) {
    try {
      const { answers, written } = settle(kept)
      return {
        steps: STEPS.map((step) => asked(step.id, answers, written, given)),
        ...(problem ? { problem } : {}),
      }
    } catch (error) {
      if (!(error instanceof AnswerError) || !(error.question in kept)) throw error
      problem ??= { question: error.question, says: error.message }
      const { [error.question]: _, ...rest } = kept
      kept = rest
    }
  }
}

function asked(
  id: StepId,
  settled: Settled,
  written: Readonly<Record<QuestionId, string>>,
  given: Given,
): AskedStep {
  const step = STEPS.find((s) => s.id === id)!
  return {
    ...step,
    questions: questionsOf(id, settled).map((q) => ({
      id: q.id,
      asks: q.asks,
      help: q.help,
      kind: q.kind,
      value: given[q.id] ?? written[q.id],
      usual: q.usual(settled),
      ...(q.max === undefined ? {} : { max: q.max }),
      choices: (q.choices?.(settled) ?? []).map((c) => {
        const picture = pictureOf(q.id, c.value)
        return { ...c, ...(picture ? { picture } : {}) }
      }),
    })),
  }
}

/** The step in which a clause is decided. */
function stepOf(clause: ClauseId): StepId {
  const { stage } = CLAUSE_FACTS[clause]
  if (stage === 'controller') return 'controller'
  if (stage === 'driver') return 'power'
  if (stage === 'track') return 'shape'
  return 'trains'
}

/** Top keys of the file that a step fills in. */
const KEYS: Readonly<Record<StepId, readonly string[]>> = {
  railroad: ['standard', 'scale'],
  controller: ['controller', 'signal'],
  power: ['power'],
  shape: ['track'],
  trains: ['rollingStock', 'fleet', 'traffic'],
  write: ['halfbit', 'name'],
}

export function begun(given: Given): Begun {
  let result: ReturnType<typeof startDesign>
  try {
    result = startDesign(given)
  } catch (error) {
    if (error instanceof AnswerError) return { refused: { question: error.question, because: error.message } }
    throw error
  }
  if ('refused' in result) {
    const { question, because, nearest } = result.refused
    return {
      refused: {
        question,
        because: because.sentence,
        ...(nearest ? { nearest: { says: nearest.finding.sentence, changes: nearest.changes } } : {}),
      },
    }
  }
  const { started } = result
  const { map } = railroadFigures(started.text)
  const rows = proofRows(started).map(begunRow)
  return {
    started: {
      text: started.text,
      rows,
      parts: partsOf(started.text),
      figures: figuresOf(started.statements, rows),
      feeders: map?.feeders.map((f) => f.at) ?? [],
      tracks:
        map?.tracks.map(({ points, worst, name }) => ({
          points,
          name,
          label: worst.label,
          grade: worst.grade,
        })) ?? [],
      trackMm: started.plan.trackMm,
      trains:
        map?.stands.flatMap((s) =>
          s.track === undefined ? [] : [{ name: s.name, track: s.track, atMm: s.atMm }],
        ) ?? [],
    },
  }
}

/** The rows of the proof that the file will have, so that both count alike. */
function proofRows({ text, statements }: Started): Row[] {
  const calculated = { statements, notes: [], inputs: [], cautions: [], complete: true }
  return proofOfDesign(loadDesign(text, 'halfbit.yaml'), { calculated, runs: [], version: '' }).rows
}

function begunRow({ clause, title, about, cells, verdict }: Row): BegunRow {
  const row = { clause, title, ...(about === undefined ? {} : { about }), step: stepOf(clause) }
  const cell = cells.calculated
  if (verdict === 'met' && cell && isShownCell(cell))
    return { ...row, margin: cell.margin, because: cell.evidence[0]?.because ?? '' }
  // What only a declaration speaks of needs a run as well.
  const isRun = !CLAUSE_FACTS[clause].shownBy.includes('calculated') || (cell && isShownCell(cell))
  return { ...row, needs: isRun ? 'firmware or record' : 'not calculated', because: '' }
}

const n3 = (value: number) => formatNumber(value, 3)

/** The figures that matter, each by its unfavourable end. */
const CARDS: readonly (readonly [ClauseId, string, (value: Interval) => string])[] = [
  ['voltage-drop', 'lowest voltage', ({ low }) => `${n3(low)} V`],
  ['short-current', 'a short anywhere draws', ({ low }) => `${n3(low)} × trip`],
  ['short-trip', 'switched off after', ({ high }) => formatTimeUs(high, 3)],
  ['driver-heat', 'hottest driver', ({ high }) => `${n3(high)} °C`],
]

function figuresOf(
  statements: readonly Statement[],
  rows: readonly BegunRow[],
): { label: string; value: string; margin?: number }[] {
  return CARDS.flatMap(([clause, label, text]) => {
    const own = statements.filter((s) => s.clause === clause).filter(isShown)
    const least = own.sort((a, b) => a.margin - b.margin)[0]
    if (!least) return []
    const isMet = rows.every((row) => row.clause !== clause || row.margin !== undefined)
    return [{ label, value: text(least.value), ...(isMet ? { margin: least.margin } : {}) }]
  })
}

/** The lines of the file that each step fills in, the comment above them too. */
function partsOf(text: string): Record<StepId, { fromLine: number; text: string }> {
  const lines = text.split('\n')
  const at = new Map<string, number>()
  for (const key of Object.keys(parseDocument(text).toJS() as object)) {
    const line = lines.findIndex((l) => l.startsWith(`${key}:`))
    if (line >= 0) at.set(key, line)
  }
  const starts = [...at.values(), lines.length].sort((a, b) => a - b)
  const above = (line: number) => {
    let first = line
    while (first > 0 && lines[first - 1]!.startsWith('#')) first--
    return first
  }
  return Object.fromEntries(
    STEPS.map(({ id }) => {
      const ranges = KEYS[id].flatMap((key) => {
        const from = at.get(key)
        if (from === undefined) return []
        const next = starts.find((s) => s > from)!
        return [[above(from), next === lines.length ? next : above(next)] as const]
      })
      const from = Math.min(...ranges.map(([a]) => a))
      const to = Math.max(...ranges.map(([, b]) => b))
      return [id, { fromLine: from + 1, text: lines.slice(from, to).join('\n').trimEnd() }]
    }),
  ) as Record<StepId, { fromLine: number; text: string }>
}
