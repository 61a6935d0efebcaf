import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { random } from '../../test/track/random.js'
import { liesOn, liesOnPlainly } from './resolution.js'

describe('the quick look at a grid', () => {
  it('refutes no grid that the whole look takes, and takes none that it refutes', () => {
    const chance = random(11)
    let taken = 0
    let refuted = 0
    for (let round = 0; round < runs(4000); round++) {
      const whole = chance() < 0.5
      const step = whole ? 1 + Math.floor(90 * chance()) : 1.2 + 90 * chance()
      // About as far as rounding to a digit goes: a little less, a little more, or the arithmetic alone.
      const most = [0, 1e-6, 2e-6, 0.5, 0.52, 0.53, 0.6, 1.1][Math.floor(8 * chance())]!
      const first = Math.floor(chance() * 10 ** Math.floor(15 * chance()))
      let multiple = 0
      const times = Array.from({ length: 3 + Math.floor(60 * chance()) }, () => {
        multiple += 1 + Math.floor(200 * chance())
        return first + multiple * step + (2 * chance() - 1) * most
      }).sort((a, b) => a - b)
      if (chance() < 0.3) for (const [i, t] of times.entries()) times[i] = Math.round(t)
      const tried = chance() < 0.8 ? step : step * (1 + 1e-4 * (chance() - 0.5))
      const found = liesOnPlainly(times, tried)
      expect(liesOn(times, tried)).toBe(found)
      if (found) taken++
      else refuted++
    }
    expect(Math.min(taken, refuted)).toBeGreaterThan(runs(4000) / 10)
  })
})
