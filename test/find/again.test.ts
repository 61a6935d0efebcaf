/** Readings that are worth taking again: a wrong one must not hide the fault for good. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import {
  entropy,
  figureGainAgain,
  groupDensity,
  parseReading,
  type Reading,
  wordGainAgain,
  wordsChance,
} from '../../src/find/index.js'
import { finderOf } from './designs.js'

describe('a reading taken again', () => {
  it('shares the error of its meter: the same number twice says little more than once, by numeric integration', () => {
    // One reading in fifty is wrong; repeats differ by a quarter of the meter's spread (both assumed: docs/find.md).
    const [wrong, own, width] = [1 / 50, 1 / 4, 20]
    const gauss = (x: number, sd: number) => Math.exp(-((x / sd) ** 2) / 2) / (sd * Math.sqrt(2 * Math.PI))
    const random = seededRandom(3)
    for (let round = 0; round < 30; round++) {
      const sd = 0.05 + random.uniform()
      const mean = 5 + 10 * random.uniform()
      const values = Array.from({ length: 2 + (round % 3) }, () => mean + sd * (2 * random.uniform() - 1))
      let exact = 0
      for (let right = 0; right < 1 << values.length; right++) {
        const good = values.filter((_, i) => right & (1 << i))
        const chance = (1 - wrong) ** good.length * (wrong / width) ** (values.length - good.length)
        let density = good.length === 0 ? 1 : 0
        const [shared, steps] = [sd * Math.sqrt(1 - own * own), 4000]
        for (let i = 0; good.length > 0 && i < steps; i++) {
          const error = 8 * shared * ((i + 0.5) / steps - 0.5) * 2
          const each = good.map((v) => gauss(v - mean - error, own * sd))
          density += ((16 * shared) / steps) * gauss(error, shared) * each.reduce((a, b) => a * b, 1)
        }
        exact += chance * density
      }
      expect(groupDensity(values, mean, sd, width) / exact).toBeCloseTo(1, 5)
    }
  })
})

describe('information of reading again', () => {
  it('is that of brute force for figures', () => {
    const random = seededRandom(8)
    const width = 20
    const steps = 8000
    for (let round = 0; round < 10; round++) {
      const raw = Array.from({ length: 3 }, () => ({
        weight: 0.1 + random.uniform(),
        expects: { mean: 5 + 10 * random.uniform(), sd: 0.1 + 0.5 * random.uniform() },
      }))
      const sum = raw.reduce((s, r) => s + r.weight, 0)
      const list = raw.map((r) => ({ ...r, weight: r.weight / sum }))
      // Far from all, or near one of them.
      const had = [round % 2 === 0 ? 18.5 : list[0]!.expects.mean]
      let after = 0
      for (let i = 0; i < steps; i++) {
        const y = ((i + 0.5) / steps) * width
        const joint = list.map(
          ({ weight, expects: { mean, sd } }) =>
            (weight * groupDensity([...had, y], mean, sd, width)) / groupDensity(had, mean, sd, width),
        )
        const all = joint.reduce((s, v) => s + v, 0)
        after += (all * width * entropy(joint.map((j) => j / all))) / steps
      }
      const exact = entropy(list.map((l) => l.weight)) - after
      expect(Math.abs(figureGainAgain(list, width, had) - exact)).toBeLessThan(0.03 + 0.05 * exact)
    }
  })

  it('is that of brute force for words', () => {
    const list = [
      { weight: 0.6, expects: { yes: 0.99, no: 0.01 } },
      { weight: 0.4, expects: { yes: 0.5, no: 0.5 } },
    ]
    let after = 0
    for (const word of ['yes', 'no']) {
      const joint = list.map(
        (l) => (l.weight * wordsChance(['no', word], l.expects)) / wordsChance(['no'], l.expects),
      )
      const all = joint.reduce((s, v) => s + v, 0)
      after += all * entropy(joint.map((j) => j / all))
    }
    expect(wordGainAgain(list, ['yes', 'no'], ['no'])).toBeCloseTo(entropy([0.6, 0.4]) - after, 10)
  })
})

describe('a wrong reading that hides the fault', () => {
  const shelf = finderOf('shelf')
  const read = (text: string) => parseReading(shelf.station, shelf.spots, text)

  it('is asked for again before the finder runs out of readings', () => {
    // The right joiner of B.diverging is bad, and so is the left one, of which the meter slipped.
    const id = 'bad-joiner at joint B.diverging/left and bad-joiner at joint B.diverging/right'
    const fault = shelf.hypotheses.findIndex((h) => h.id === id)
    const key = 'joint B.diverging/left: drop'
    const readings: Reading[] = [
      read('joint B.diverging/right drop 0.037 V'),
      read('joint B.diverging/left drop 13.9 V'),
    ]
    let asked = 0
    for (let i = 0; i < 40; i++) {
      const next = shelf.diagnose(readings).next[0]
      if (!next) break
      if (next.spot.key === key) asked++
      const expected = shelf.expected(fault, next.spot)[1]!
      const value =
        'words' in expected
          ? Object.entries(expected.words).reduce((a, b) => (b[1] > a[1] ? b : a))[0]
          : (expected.span.low + expected.span.high) / 2
      readings.push({ spot: next.spot, instrument: next.instrument, value })
    }
    expect(asked).toBeGreaterThan(0)
    expect(shelf.diagnose(readings).ranking[0]!.hypothesis.id).toBe(id)
  })

  it('does not end the search when it is wrong twice in different ways, only when the two agree', () => {
    const outcome = (first: string, second: string) =>
      shelf.diagnose([
        read(`track mill track volts ${first}`),
        read(`track mill track volts ${second}`),
        read('track mill track volts 12.9 V'),
        read('track stick track volts 12.9 V'),
        read('district shelf output volts 13 V'),
      ]).outcome
    expect(outcome('17.3 V', '27 V')).not.toBe('nothing fits')
    expect(outcome('27 V', '27.1 V')).toBe('nothing fits')
  })
})
