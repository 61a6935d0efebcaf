/** The table of what faults change, which leaves out whatever a fault does not reach, against every reading calculated in full. */
import { describe, expect, it } from 'vitest'
import type { Finder } from '../../src/find/index.js'
import { figureOf } from '../../src/find/model/expect.js'
import { Forecasts } from '../../src/find/model/forecasts.js'
import { finderOf } from './designs.js'

/** Far below what any meter shows, in spreads of meter and model. */
const NOTHING = 2e-3

function widest(finder: Finder, step: number): { apart: number; compared: number } {
  const none = new Map<string, number>()
  const table = new Forecasts(finder.station, finder.hypotheses, finder.spots, none)
  let [apart, compared] = [0, 0]
  for (let h = 0; h < finder.hypotheses.length; h += step)
    for (const spot of finder.spots) {
      const instrument = spot.kind.instruments[0]!
      const listed = table.column(spot, instrument).of(h)
      finder.expected(h, spot).forEach((e, f) => {
        const own = listed[f]!
        compared++
        if ('words' in e) {
          const chances = (own as { chances: Record<string, number> }).chances
          for (const [word, p] of Object.entries(e.words))
            apart = Math.max(apart, Math.abs(p - chances[word]!))
        } else {
          const full = figureOf(e, instrument)
          const { mean, sd: single, perUnit = 0 } = own as { mean: number; sd: number; perUnit?: number }
          // What several readings share is a part of the spread of each.
          const sd = Math.hypot(single, mean * perUnit)
          apart = Math.max(apart, Math.abs(mean - full.mean) / full.sd, Math.abs(sd / full.sd - 1))
        }
      })
    }
  return { apart, compared }
}

describe('what a fault changes', () => {
  it.each([
    ['shelf', 3],
    ['automation', 5],
    ['flawed', 5],
    ['exhibition', 97],
  ])('is all that it changes on %s', (example, step) => {
    const { apart, compared } = widest(finderOf(example), step)
    expect(compared).toBeGreaterThan(1000)
    expect(apart).toBeLessThan(NOTHING)
  })
})
