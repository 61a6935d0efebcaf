import { binomialDistribution } from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import { exactInterval, runsToShow } from './binomial.js'

/** Probability of k or more of n, from the distribution of a general statistics library. */
function atLeast(k: number, n: number, p: number): number {
  const masses = binomialDistribution(n, p) ?? []
  return masses.reduce((sum, mass, i) => (i >= k ? sum + mass : sum), 0)
}

describe('an exact interval', () => {
  // Clopper and Pearson (1934): each bound leaves just half of what is missing from the confidence in its tail.
  it.each([
    [1, 10],
    [5, 10],
    [9, 10],
    [3, 40],
    [37, 40],
    [70, 72],
    [120, 200],
  ])('of %i in %i has tails of 2.5 percent by another library', (hits, runs) => {
    const { low, high } = exactInterval(hits, runs)
    // That library cuts its distribution at 1e-4.
    expect(atLeast(hits, runs, low)).toBeCloseTo(0.025, 3)
    expect(1 - atLeast(hits + 1, runs, high)).toBeCloseTo(0.025, 3)
  })

  it('has closed forms where none or all are hits', () => {
    for (const n of [1, 7, 72, 1000]) {
      const edge = 0.025 ** (1 / n)
      expect(exactInterval(0, n)).toEqual({ low: 0, high: expect.closeTo(1 - edge, 12) })
      expect(exactInterval(n, n)).toEqual({ low: expect.closeTo(edge, 12), high: 1 })
    }
    expect(exactInterval(0, 0)).toEqual({ low: 0, high: 1 })
  })

  it('is symmetrical, and narrow for many runs', () => {
    const a = exactInterval(13, 50)
    const b = exactInterval(37, 50)
    expect(a.low).toBeCloseTo(1 - b.high, 12)
    expect(a.high).toBeCloseTo(1 - b.low, 12)
    const many = exactInterval(900_000, 1_000_000)
    // Normal approximation: 0.9 ± 1.96 · √(0.9 · 0.1 / 1e6).
    expect(many.low).toBeCloseTo(0.9 - 1.96 * 3e-4, 5)
    expect(many.high).toBeCloseTo(0.9 + 1.96 * 3e-4, 5)
  })

  it('refuses what is no count', () => {
    expect(() => exactInterval(3, 2)).toThrow(RangeError)
    expect(() => exactInterval(0.5, 2)).toThrow(RangeError)
  })
})

it('72 runs without a failure show 95 %, 71 do not', () => {
  expect(runsToShow(0.95)).toBe(72)
  expect(exactInterval(72, 72).low).toBeGreaterThanOrEqual(0.95)
  expect(exactInterval(71, 71).low).toBeLessThan(0.95)
})
