import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import {
  ahead,
  arcFrom,
  arcThrough,
  distance,
  roundArc,
  snapPlace,
  turnoutAt,
  turnoutLegs,
} from './geometry.js'

const close = (a: readonly number[], b: readonly number[]) =>
  a.forEach((v, i) => {
    expect(v).toBeCloseTo(b[i]!, 6)
  })

describe('new track on the drawing', () => {
  it('lays a quarter circle of known radius where it belongs', () => {
    // To the right from heading east: the centre lies south of the start (y grows downwards).
    const arc = arcFrom([100, 0], 0, 400, 90)
    close(arc.centre, [100, 400])
    close(arc.end, [500, 400])
    expect(arc.lengthMm).toBeCloseTo(628.3185, 3)
    expect(arc.heading).toBe(90)
    close(arcFrom([100, 0], 0, 400, -90).end, [500, -400])
  })

  it('finds the arc again from its start, direction and end', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -180, max: 180, noNaN: true }),
        fc.double({ min: 150, max: 5000, noNaN: true }),
        fc.double({ min: 3, max: 330, noNaN: true }),
        fc.boolean(),
        (heading, radiusMm, turn, isLeft) => {
          const arc = arcFrom([10, -20], heading, radiusMm, isLeft ? -turn : turn)
          const found = arcThrough([10, -20], heading, arc.end)!
          expect(found.radiusMm).toBeCloseTo(radiusMm, 3)
          expect(found.turn).toBeCloseTo(isLeft ? -turn : turn, 6)
        },
      ),
      { numRuns: runs(100) },
    )
  })

  it('makes no arc of what is straight ahead or right behind', () => {
    expect(arcThrough([0, 0], 0, [500, 0])).toBeUndefined()
    expect(arcThrough([0, 0], 0, [-500, 0])).toBeUndefined()
    expect(arcThrough([0, 0], 0, [0, 0])).toBeUndefined()
  })

  it('rounds a curve to figures that one can build', () => {
    expect(roundArc({ radiusMm: 583.4, turn: -88.2 })).toEqual({ radiusMm: 580, turn: -87.5 })
  })

  it('snaps to the grid, and to the line of a free end where that is near', () => {
    expect(snapPlace([512, 388], 20)).toEqual([500, 400])
    expect(snapPlace([512, 12], 20, { start: [7, 0], heading: 0 })).toEqual([507, 0])
    // Behind the end there is no line to lead on.
    expect(snapPlace([-512, 12], 20, { start: [7, 0], heading: 0 })).toEqual([-500, 0])
  })

  it('puts the end by which a turnout is entered at the place asked for', () => {
    for (const hand of ['left', 'right'] as const)
      for (const [i, port] of (['points', 'straight', 'diverging'] as const).entries())
        for (const heading of [0, 37, -120]) {
          const { at, along } = turnoutAt([100, 200], heading, 230, port, hand)
          const legs = turnoutLegs(at, along, 230, hand)
          close(legs[i]!, [100, 200])
          expect(distance(at, ahead([100, 200], heading, 115))).toBeLessThan(1e-9)
        }
  })
})
