/**
 * From answers to a whole, sound design file. The parts are sized, the whole design is judged, what is not met is made
 * stronger, and it is judged again. Where nothing helps the combination is refused, with the reason and the nearest
 * sound choice.
 */
import { DesignError, loadDesign, startFindings } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { driverPart } from '../power/index.js'
import { evidenceOfDesign } from '../proof/index.js'
import type { ClauseId, Statement } from '../standard/index.js'
import { AnswerError, type Given, settle } from './answers.js'
import { planOf } from './layout.js'
import type { Plan } from './plan.js'
import { type QuestionId, questionOf } from './questions.js'
import { adjusted, firstSizes, type Sizes } from './sizes.js'
import { stationText } from './text.js'
import { type Train, trainsOf } from './trains.js'
import { wiringOf } from './wiring.js'

/** A sound design. */
export interface Started {
  text: string
  /** Every answer as it is written, defaults among them. */
  answers: Record<QuestionId, string>
  plan: Plan
  sizes: Sizes
  trains: Train[]
  statements: Statement[]
}

/** Why these answers make no sound design. */
export interface Refused {
  /** The question whose answer does not fit, where it is one. */
  question?: QuestionId
  because: Finding
  /** The clauses that stay broken or undecided. */
  clauses: ClauseId[]
  /** The change of fewest answers that was found to be sound. */
  nearest?: { changes: Given; finding: Finding }
}

export type StartResult = { started: Started } | { refused: Refused }

/** Judgements at most for one set of answers. */
const MOST_JUDGED = 14
const FILE = 'halfbit.yaml'

/** What calculation must not say of a design that is offered as sound. */
const isBad = (s: Statement) => s.verdict === 'broken' || s.verdict === 'undecided'

/**
 * The design that the answers make, or why there is none and which change of the answers makes one.
 * @throws AnswerError for an answer that does not fit its question
 */
export function startDesign(given: Given): StartResult {
  const result = sized(given)
  if ('started' in result) return result
  const nearest = nearestSound(given, result.refused)
  return { refused: { ...result.refused, ...(nearest ? { nearest } : {}) } }
}

/** The design that the answers make, sized until it is sound. */
function sized(given: Given): StartResult {
  const { answers, written } = settle(given)
  const plan = planOf(answers)
  const wiring = wiringOf(answers)
  if ('finding' in wiring)
    return { refused: { question: wiring.question, because: wiring.finding, clauses: [] } }
  const trains = trainsOf(answers, plan)
  const longestMm = Math.max(...trains.map((t) => t.lengthMm))
  if (plan.loopMm !== undefined && longestMm > plan.loopMm)
    return {
      refused: {
        question: 'depth',
        because: startFindings.find('loop-too-short', { loopMm: plan.loopMm, trainMm: longestMm }),
        clauses: [],
      },
    }
  let sizes = firstSizes(answers, plan, trains)
  let stuck: Statement | undefined
  let bad: Statement[] = []
  for (let i = 0; i < MOST_JUDGED && !stuck; i++) {
    const text = stationText({ answers, plan, wiring, trains, sizes })
    const judged = judge(text)
    if ('because' in judged) return { refused: { because: judged.because, clauses: [] } }
    bad = judged.statements.filter(isBad)
    if (bad.length === 0)
      return { started: { text, answers: written, plan, sizes, trains, statements: judged.statements } }
    const asked = new Map(bad.map((s) => [s.clause, s]))
    // One remedy serves both: taken twice in a row it would lift the trip too near to what the supply gives.
    if (asked.has('polarity')) asked.delete('gap-bridging')
    for (const statement of asked.values()) {
      const next = adjusted(sizes, statement.clause)
      if (next) sizes = next
      else stuck ??= statement
    }
  }
  const { clause, because } = stuck ?? bad[0]!
  const { name, neverSound } = driverPart(answers.driver) ?? {}
  // What to find out comes first: the clause alone does not tell a builder what to do.
  const first =
    neverSound === undefined
      ? ''
      : `the ${name} is not shown to be sound with any answers, as ${neverSound}. Put what you measure or read into the driver's figures of a design that was begun with another driver. `
  return {
    refused: {
      because: startFindings.find('not-sound', { because: `${first}${clause}: ${because}` }),
      clauses: [...new Set(bad.map((s) => s.clause))],
    },
  }
}

function judge(text: string): { statements: Statement[] } | { because: Finding } {
  try {
    const loaded = loadDesign(text, FILE)
    return { statements: evidenceOfDesign(loaded, { file: FILE }, { pace: 'slow' }).statements }
  } catch (error) {
    if (!(error instanceof DesignError)) throw error
    return { because: startFindings.find('not-sound', { because: error.problems[0]!.message }) }
  }
}

/** Questions whose answers are given up one after the other, those that somebody most likely can change first. */
const GIVEN_UP: readonly QuestionId[] = [
  'pin',
  'rating',
  'voltage',
  'limit',
  'limiter',
  'trains',
  'feeders',
  'source',
  'clock',
  'driver',
  'districts',
  'depth',
  'length',
  'chip',
  'rail',
]
const RATINGS = ['1 A', '1.5 A', '2 A', '2.5 A', '3 A', '4 A', '5 A']

/** Changes of one answer, then of more and more of them, until the design is sound. */
function nearestSound(given: Given, refused: Refused): Refused['nearest'] {
  const { written } = settle(given)
  const tries: Given[] = []
  const without = (ids: readonly QuestionId[]): Given => {
    const rest = Object.fromEntries(Object.entries(given).filter(([id]) => !ids.includes(id as QuestionId)))
    return settle(rest).written
  }
  const own = GIVEN_UP.filter((id) => {
    try {
      return without([id])[id] !== written[id]
    } catch {
      return false
    }
  })
  const first = [
    ...(refused.question ? [refused.question] : []),
    ...own.filter((id) => id !== refused.question),
  ]
  for (const id of first) {
    const usual = (() => {
      try {
        return without([id])[id]
      } catch {
        return undefined
      }
    })()
    if (usual !== undefined && usual !== written[id]) tries.push({ [id]: usual })
  }
  const { rating } = settle(given).answers
  const stronger = RATINGS.filter((r) => Number.parseFloat(r) > rating)
  const weaker = RATINGS.filter((r) => Number.parseFloat(r) < rating).reverse()
  const needsMore = refused.clauses.some((c) => c === 'supply-current' || c === 'short-current')
  for (const r of (needsMore ? [...stronger, ...weaker] : [...weaker, ...stronger]).slice(0, 3))
    tries.push({ rating: r })
  for (let i = 2; i <= own.length; i++) {
    const changed = without(own.slice(0, i))
    tries.push(Object.fromEntries(own.slice(0, i).map((id) => [id, changed[id]])))
  }
  for (const changes of tries) {
    try {
      if (!('started' in sized({ ...given, ...changes }))) continue
    } catch (error) {
      if (error instanceof AnswerError) continue
      throw error
    }
    const real = Object.fromEntries(
      Object.entries(changes).filter(([id, value]) => value !== written[id as QuestionId]),
    ) as Given
    const says = Object.entries(real).map(
      ([id, value]) => `${questionOf(id as QuestionId).asks} ${value === '' ? 'left open' : value}`,
    )
    return { changes: real, finding: startFindings.find('sound-with', { changes: says }) }
  }
  return undefined
}
