/** Answers as they are written, and as they are meant: every question that has no answer takes its default. */
import type { ChipId } from '../controller/index.js'
import { startFindings } from '../design/index.js'
import type { Scale } from '../standard/index.js'
import { InputError, nearest, parseQuantity } from '../units/index.js'
import { TRAIN_KINDS } from './parts.data.js'
import { QUESTIONS, type Question, type QuestionId } from './questions.js'
import type { ShapeId } from './shapes.data.js'

/** What is known when everything is answered. Lengths in mm, V, A, Hz. */
export interface Answers {
  scale: Scale
  profile: 'nmra' | 'rcn'
  chip: ChipId
  clock: number
  source: string
  /** Empty: the best there is. */
  pin: string
  driver: string
  voltage: number
  rating: number
  /** Where the current is limited: in the supply, or right before the driver, with no capacitor behind it. */
  limiter: 'supply' | 'driver'
  limit: 'constant' | 'hiccup'
  shape: ShapeId
  length: number
  depth: number
  tracks: number
  rail: number
  feeders: number
  districts: number
  /** How many of each kind of train. */
  trains: ReadonlyMap<string, number>
  drivenBy: 'panel' | 'computer'
  name: string
}

/** What the questions so far have settled. */
export type Settled = Partial<Answers>

/** Answers as they are written, by question. */
export type Given = Readonly<Partial<Record<QuestionId, string>>>

/** An answer that is no answer to its question. */
export class AnswerError extends InputError {
  override name = 'AnswerError'
  readonly question: QuestionId

  constructor(question: QuestionId, message: string) {
    super(message)
    this.question = question
  }
}

/**
 * The answers as they are meant, and as they would be written, defaults among them.
 * @throws AnswerError for the first answer that does not fit its question.
 */
export function settle(given: Given): { answers: Answers; written: Record<QuestionId, string> } {
  const settled: Record<string, unknown> = {}
  const written: Partial<Record<QuestionId, string>> = {}
  for (const q of QUESTIONS) {
    const own = given[q.id]?.trim()
    const text =
      own === undefined || (own === '' && q.id !== 'trains' && q.id !== 'name')
        ? q.usual(settled as Settled)
        : own
    written[q.id] = text
    settled[q.id] = meant(q, text, settled as Settled)
  }
  return {
    answers: settled as unknown as Answers,
    written: written as Record<QuestionId, string>,
  }
}

/**
 * What one answer means.
 * @param settled the answers before it
 * @throws AnswerError
 */
export function meant(q: Question, text: string, settled: Settled): unknown {
  const bad = (expected: string) =>
    new AnswerError(
      q.id,
      startFindings.find('bad-value', { question: q.asks, given: text, expected }).sentence,
    )
  switch (q.kind) {
    case 'text':
      if (text.length > 120 || /[\p{Cc}]/u.test(text)) throw bad('one line of at most 120 characters')
      return q.id === 'pin' ? text.toUpperCase() : text
    case 'choice': {
      const choices = q.choices!(settled).map((c) => c.value)
      const found = choices.find((c) => c.toLowerCase() === text.toLowerCase())
      if (found === undefined) {
        const near = nearest(text, choices)
        const finding = startFindings.find('unknown-choice', { question: q.asks, given: text, choices, near })
        throw new AnswerError(q.id, finding.sentence)
      }
      return q.id === 'districts' || q.id === 'rail' ? Number(found) : found
    }
    case 'whole': {
      const value = Number(text)
      if (!/^\d+$/.test(text) || value < q.min! || value > q.max!)
        throw bad(`a whole number from ${q.min} to ${q.max}`)
      return value
    }
    case 'quantity': {
      const read = parseQuantity(text, q.dimension!)
      const range = `a ${q.dimension} such as ${q.usual(settled)}`
      if (!read.ok) throw bad(range)
      if (read.value < q.min! || read.value > q.max!) throw bad(`${range}, neither less nor more than can be`)
      return read.value
    }
    case 'counts':
      return countsOf(text, bad, q.max!)
  }
}

function countsOf(text: string, bad: (expected: string) => Error, most: number): Map<string, number> {
  const kinds = TRAIN_KINDS.map((k) => k.id)
  const counts = new Map<string, number>()
  for (const part of text.split(',').map((p) => p.trim())) {
    if (part === '' || part === 'none') continue
    const [, count, kind] = /^(\d+)\s+([a-z]+)$/.exec(part.toLowerCase()) ?? []
    if (count === undefined || kind === undefined || !kinds.includes(kind))
      throw bad(`a list such as "2 local, 1 shunter" of ${kinds.join(', ')}`)
    const sum = (counts.get(kind) ?? 0) + Number(count)
    if (sum > most) throw bad(`at most ${most} of a kind`)
    counts.set(kind, sum)
  }
  if ([...counts.values()].every((n) => n === 0)) throw bad('at least one train')
  return counts
}
