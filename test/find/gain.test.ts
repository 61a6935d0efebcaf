/** Information and likelihood against plain sums, and a greedy plan against the best one there is. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import {
  entropy,
  figureGain,
  groupDensity,
  INSTRUMENTS,
  normal,
  WRONG_READING,
  wordChance,
  wordGain,
} from '../../src/find/index.js'
import { finderOf } from './designs.js'

type Figure = { weight: number; expects: { mean: number; sd: number } }

/** Entropy before, less the mean entropy after, over a fine grid of readings. */
function gainBySum(list: readonly Figure[], width: number): number {
  const steps = 20_000
  let after = 0
  for (let i = 0; i < steps; i++) {
    const y = ((i + 0.5) / steps) * width
    const joint = list.map(
      ({ weight, expects: { mean, sd } }) =>
        weight * ((1 - WRONG_READING) * normal(y, mean, sd) + WRONG_READING / width),
    )
    const all = joint.reduce((s, v) => s + v, 0)
    after += (all * width * entropy(joint.map((j) => j / all))) / steps
  }
  return entropy(list.map((l) => l.weight)) - after
}

describe('expected information', () => {
  it('is that of brute force for figures', () => {
    const random = seededRandom(3)
    for (let round = 0; round < 20; round++) {
      const raw = Array.from({ length: 2 + (round % 4) }, () => ({
        weight: 0.05 + random.uniform(),
        expects: { mean: 5 + 10 * random.uniform(), sd: 0.05 + 0.8 * random.uniform() },
      }))
      const sum = raw.reduce((s, r) => s + r.weight, 0)
      const list = raw.map((r) => ({ ...r, weight: r.weight / sum }))
      const exact = gainBySum(list, 20)
      expect(Math.abs(figureGain(list, 20) - exact)).toBeLessThan(0.02 + 0.04 * exact)
    }
  })

  it('is that of brute force for words', () => {
    const list = [
      { weight: 0.5, expects: { yes: 0.98, no: 0.02 } },
      { weight: 0.3, expects: { yes: 0.02, no: 0.98 } },
      { weight: 0.2, expects: { yes: 0.5, no: 0.5 } },
    ]
    let after = 0
    for (const word of ['yes', 'no']) {
      const joint = list.map((l) => l.weight * wordChance(word, l.expects))
      const all = joint.reduce((s, v) => s + v, 0)
      after += all * entropy(joint.map((j) => j / all))
    }
    expect(wordGain(list, ['yes', 'no'])).toBeCloseTo(entropy([0.5, 0.3, 0.2]) - after, 10)
  })

  it('is nought where all expect the same', () => {
    const same = { mean: 12, sd: 0.2 }
    expect(
      figureGain(
        [
          { weight: 0.5, expects: same },
          { weight: 0.5, expects: same },
        ],
        30,
      ),
    ).toBe(0)
  })
})

describe('likelihood', () => {
  it('adds to one over all readings, repeated ones too', () => {
    const [mean, sd, width] = [10, 0.4, 20]
    const n = 400
    let one = 0
    let two = 0
    for (let i = 0; i < n; i++) {
      const x = ((i + 0.5) / n) * width
      one += (groupDensity([x], mean, sd, width) * width) / n
      for (let j = 0; j < n; j++)
        two += (groupDensity([x, ((j + 0.5) / n) * width], mean, sd, width) * width * width) / n / n
    }
    expect(one).toBeCloseTo(1, 3)
    expect(two).toBeCloseTo(1, 2)
  })

  it('grows no surer by reading the same place again and again than the meter allows', () => {
    const odds = (times: number) => {
      const values = Array.from({ length: times }, () => 10.2)
      return groupDensity(values, 10.4, 0.4, 20) / groupDensity(values, 9.9, 0.4, 20)
    }
    expect(odds(5)).toBeLessThan(odds(1) * 1.5)
  })
})

it('an average-responding meter shows of a square wave what numeric integration says', () => {
  const steps = 100_000
  let sineMean = 0
  for (let i = 0; i < steps; i++) sineMean += Math.abs(Math.sin((2 * Math.PI * (i + 0.5)) / steps)) / steps
  // Scaled so that a sine of 1 V RMS shows 1: rectified mean times the form factor of a sine. Of a square of 1 V it is 1.
  const formFactor = Math.SQRT1_2 / sineMean
  expect(INSTRUMENTS['average meter'].shows).toBeCloseTo(formFactor, 6)
})

describe('a plan by information per minute', () => {
  /** Faults and readings in words of a real design, each reading certain: what a decision tree needs. */
  const finder = finderOf('two-tracks')
  const spots = finder.spots.filter((s) => s.kind.words)
  const faults = finder.hypotheses.map((_, h) => h).filter((h) => finder.hypotheses[h]!.kinds.length === 1)
  const says = (h: number, s: (typeof spots)[number]) => {
    const e = finder.expected(h, s)[0]!
    if (!('words' in e)) throw new Error('no word')
    return Object.entries(e.words).reduce((a, b) => (b[1] > a[1] ? b : a))[0]
  }

  it('takes little longer than the best plan of all on small cases', () => {
    const random = seededRandom(77)
    let [greedy, best] = [0, 0]
    for (let round = 0; round < 12; round++) {
      const own = [...faults].sort(() => random.uniform() - 0.5).slice(0, 6)
      const useful = spots
        .map((s) => ({ minutes: s.kind.minutes, words: own.map((h) => says(h, s)), list: s.kind.words! }))
        .filter((u) => new Set(u.words).size > 1)
      const prior = own.map((h) => finder.hypotheses[h]!.prior)
      const split = (set: readonly number[], u: (typeof useful)[number]) =>
        u.list.map((w) => set.filter((i) => u.words[i] === w)).filter((part) => part.length > 0)
      const weight = (set: readonly number[]) => set.reduce((s, i) => s + prior[i]!, 0)
      const known = new Map<string, number>()
      /** Least mean minutes, times the weight. */
      const optimum = (set: readonly number[]): number => {
        const key = set.join()
        const had = known.get(key)
        if (had !== undefined) return had
        let least = Number.POSITIVE_INFINITY
        for (const u of useful) {
          const parts = split(set, u)
          if (parts.length < 2) continue
          least = Math.min(least, u.minutes * weight(set) + parts.reduce((s, p) => s + optimum(p), 0))
        }
        const made = Number.isFinite(least) ? least : 0
        known.set(key, made)
        return made
      }
      const followed = (set: readonly number[]): number => {
        const rated = useful
          .filter((u) => split(set, u).length > 1)
          .map((u) => ({
            u,
            rate:
              wordGain(
                set.map((i) => ({
                  weight: prior[i]! / weight(set),
                  expects: Object.fromEntries(u.list.map((w) => [w, w === u.words[i] ? 1 : 0])),
                })),
                u.list,
              ) / u.minutes,
          }))
          .sort((a, b) => b.rate - a.rate)
        if (rated.length === 0) return 0
        const { u } = rated[0]!
        return u.minutes * weight(set) + split(set, u).reduce((s, p) => s + followed(p), 0)
      }
      const set = own.map((_, i) => i)
      greedy += followed(set) / weight(set)
      best += optimum(set) / weight(set)
    }
    expect(best).toBeGreaterThan(1)
    expect(greedy).toBeGreaterThanOrEqual(best - 1e-9)
    expect(greedy).toBeLessThan(1.15 * best)
  })
})
