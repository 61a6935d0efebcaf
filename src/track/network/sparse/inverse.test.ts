import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../../test/runs.js'
import { analyse, Factor } from './ldlt.js'

/** Connected random networks: a chain with more edges thrown in; node −1 is ground. */
const network = fc.integer({ min: 2, max: 40 }).chain((size) =>
  fc.record({
    size: fc.constant(size),
    more: fc.array(fc.tuple(fc.integer({ min: -1, max: size - 1 }), fc.integer({ min: -1, max: size - 1 })), {
      maxLength: 60,
    }),
    pairs: fc.array(
      fc.tuple(fc.integer({ min: -1, max: size - 1 }), fc.integer({ min: -1, max: size - 1 })),
      { minLength: 1, maxLength: 20 },
    ),
    seed: fc.integer({ min: 1, max: 1e6 }),
  }),
)

describe('resistances of many pairs at once', () => {
  it('are those of one pair each, whether the pair was analysed or not', () => {
    fc.assert(
      fc.property(network, fc.boolean(), ({ size, more, pairs, seed }, analysed) => {
        const edges = [...Array.from({ length: size }, (_, i) => [i - 1, i] as const), ...more]
        const listed = analysed ? [...edges, ...pairs] : edges
        const symbolic = analyse(
          size,
          Int32Array.from(listed, (e) => e[0]),
          Int32Array.from(listed, (e) => e[1]),
        )
        // Conductances over four decades, one for every edge and none for the pairs.
        const siemens = Float64Array.from(edges, (_, i) => 10 ** (((seed * (i + 7)) % 97) / 24 - 2))
        const factor = new Factor(symbolic, siemens)
        const found = factor.betweenAll(
          Int32Array.from(pairs, (p) => p[0]),
          Int32Array.from(pairs, (p) => p[1]),
        )
        pairs.forEach(([p, q], i) => {
          const one = p === q ? 0 : factor.between(p, q)
          expect(Math.abs(found[i]! - one)).toBeLessThan(
            1e-9 * Math.max(1e-3, one) + 1e-10 * (factor.between(p, -1) + factor.between(q, -1)),
          )
        })
      }),
      { numRuns: runs(300) },
    )
  })
})
