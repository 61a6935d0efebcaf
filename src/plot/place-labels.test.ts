import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { type Candidate, crosses, placeLabels } from './place-labels.js'

const box = (x: number, y: number, cost = 0): Candidate => ({ x, y, width: 40, height: 14, cost })

describe('labels of a chart', () => {
  it('keep off each other where there is room', () => {
    const places = placeLabels(
      [
        [box(0, 0), box(0, 20)],
        [box(10, 5), box(100, 5, 3)],
      ],
      [],
    )
    expect(places.map(({ x }) => x)).toEqual([0, 100])
  })

  it('keep off lines, unless they would cover a label then', () => {
    const line = [0, 7, 50, 7] as const
    expect(placeLabels([[box(0, 0), box(0, 20, 5)]], [line])[0]!.y).toBe(20)
    const covered = placeLabels([[box(0, 20)], [box(0, 0, 5), box(0, 20)]], [line])
    expect(covered[1]!.y).toBe(0)
  })

  it('cover no other, whatever is asked for, as long as each has a place of its own', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(300), fc.nat(300)), { minLength: 1, maxLength: 20 }), (wishes) => {
        const candidates = wishes.map(([x, y], i) => [box(x, y), box(1000, 20 * i, 50)])
        const places = placeLabels(candidates, [])
        for (const [i, a] of places.entries())
          for (const b of places.slice(i + 1))
            expect(a.x + 40 <= b.x || b.x + 40 <= a.x || a.y + 14 <= b.y || b.y + 14 <= a.y).toBe(true)
      }),
      { numRuns: runs(100) },
    )
  })

  it('find a line that runs through, and none that passes', () => {
    const one = { x: 10, y: 10, width: 10, height: 10 }
    expect(crosses(one, [0, 15, 30, 15])).toBe(true)
    expect(crosses(one, [12, 12, 14, 14])).toBe(true)
    expect(crosses(one, [0, 0, 30, 5])).toBe(false)
    expect(crosses(one, [15, 0, 15, 9])).toBe(false)
  })
})
