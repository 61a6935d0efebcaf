/** Information and likelihood against plain sums, and a greedy plan against the best one there is. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import {
  entropy,
  figureGain,
  groupDensity,
  INSTRUMENTS,
  normal,
  smallCases,
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
  it('takes little longer than the best plan of all on small cases, and is never better', () => {
    const { readings, minutes } = smallCases(finderOf('two-tracks'), 24, seededRandom(77))
    for (const { followed, best } of [readings, minutes]) {
      expect(best).toBeGreaterThan(1)
      expect(followed).toBeGreaterThanOrEqual(best - 1e-9)
    }
    expect(minutes.followed).toBeLessThan(1.15 * minutes.best)
    expect(readings.followed).toBeLessThan(1.3 * readings.best)
  })
})
