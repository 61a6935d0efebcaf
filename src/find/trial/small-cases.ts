/** The finder's plan beside the best plan of all, where there are so few faults and readings that every plan can be tried. */
import type { Random } from '../../corner/index.js'
import type { Finder } from '../finder.js'
import { wordGain } from '../reason/gain.js'

/** Means over all cases, each fault as often as its prior says. */
export interface PlanCost {
  followed: number
  best: number
}

interface Question {
  minutes: number
  /** What each fault of the case answers. */
  words: readonly string[]
  list: readonly string[]
}

const FAULTS = 6

/**
 * Cases of six single faults, drawn at random, and all readings in words of the design, each taken as certain.
 * @param cases how many
 */
export function smallCases(
  finder: Finder,
  cases: number,
  random: Random,
): { readings: PlanCost; minutes: PlanCost } {
  const spots = finder.spots.filter((s) => s.kind.words)
  const faults = finder.hypotheses.map((_, h) => h).filter((h) => finder.hypotheses[h]!.kinds.length === 1)
  const says = (h: number, s: (typeof spots)[number]) => {
    const e = finder.expected(h, s)[0]!
    if (!('words' in e)) throw new RangeError('a reading in words without words')
    return Object.entries(e.words).reduce((a, b) => (b[1] > a[1] ? b : a))[0]
  }
  const sum = { readings: { followed: 0, best: 0 }, minutes: { followed: 0, best: 0 } }
  for (let round = 0; round < cases; round++) {
    const own = drawn(faults, FAULTS, random)
    const questions = spots
      .map(
        (s): Question => ({
          minutes: s.kind.minutes,
          words: own.map((h) => says(h, s)),
          list: s.kind.words!,
        }),
      )
      .filter((q) => new Set(q.words).size > 1)
    const prior = own.map((h) => finder.hypotheses[h]!.prior)
    for (const [unit, cost] of [
      ['readings', () => 1],
      ['minutes', (q: Question) => q.minutes],
    ] as const) {
      sum[unit].followed += followed(questions, prior, cost) / cases
      sum[unit].best += optimum(questions, prior, cost) / cases
    }
  }
  return sum
}

function drawn(from: readonly number[], count: number, random: Random): number[] {
  const left = [...from]
  return Array.from({ length: Math.min(count, left.length) }, () => {
    const [one] = left.splice(Math.floor(random.uniform() * left.length), 1)
    return one!
  })
}

const weightOf = (set: readonly number[], prior: readonly number[]) =>
  set.reduce((sum, i) => sum + prior[i]!, 0)

/** Faults that remain after each answer. */
const partsOf = (set: readonly number[], { list, words }: Question) =>
  list.map((w) => set.filter((i) => words[i] === w)).filter((part) => part.length > 0)

/** Mean cost of the plan that takes the most bits per minute first. */
function followed(
  questions: readonly Question[],
  prior: readonly number[],
  cost: (q: Question) => number,
): number {
  const of = (set: readonly number[]): number => {
    const total = weightOf(set, prior)
    const rate = (q: Question) =>
      wordGain(
        set.map((i) => ({
          weight: prior[i]! / total,
          expects: Object.fromEntries(q.list.map((w) => [w, w === q.words[i] ? 1 : 0])),
        })),
        q.list,
      ) / q.minutes
    const useful = questions.filter((q) => partsOf(set, q).length > 1)
    const [first] = useful.map((q) => ({ q, rate: rate(q) })).sort((a, b) => b.rate - a.rate)
    if (!first) return 0
    return cost(first.q) * total + partsOf(set, first.q).reduce((sum, part) => sum + of(part), 0)
  }
  const all = prior.map((_, i) => i)
  return of(all) / weightOf(all, prior)
}

/** Least mean cost of any plan. */
function optimum(
  questions: readonly Question[],
  prior: readonly number[],
  cost: (q: Question) => number,
): number {
  const known = new Map<string, number>()
  const of = (set: readonly number[]): number => {
    const key = set.join()
    const had = known.get(key)
    if (had !== undefined) return had
    let least = Number.POSITIVE_INFINITY
    for (const q of questions) {
      const parts = partsOf(set, q)
      if (parts.length < 2) continue
      least = Math.min(least, cost(q) * weightOf(set, prior) + parts.reduce((sum, part) => sum + of(part), 0))
    }
    const made = Number.isFinite(least) ? least : 0
    known.set(key, made)
    return made
  }
  const all = prior.map((_, i) => i)
  return of(all) / weightOf(all, prior)
}
