import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { lowerBound, pan, show, timeStep, zoom } from './view.js'

const whole = { from: 0, to: 3600e6 }

describe('the span in view', () => {
  it('keeps the time under the pointer while zooming', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1e6, max: 3e9, noNaN: true }),
        fc.double({ min: 0.01, max: 0.99, noNaN: true }),
        fc.double({ min: 0.2, max: 1, noNaN: true }),
        (at, share, factor) => {
          const span = { from: at - share * 1e6, to: at + (1 - share) * 1e6 }
          const next = zoom(span, factor, at, whole)
          expect((at - next.from) / (next.to - next.from)).toBeCloseTo(share, 6)
          expect(next.to - next.from).toBeCloseTo(1e6 * factor, 3)
        },
      ),
    )
  })

  it('goes from an hour to a nanosecond and no further, and never loses the record', () => {
    let span = { ...whole }
    for (let i = 0; i < 200; i++) span = zoom(span, 0.5, 1234567, whole)
    expect(span.to - span.from).toBeCloseTo(0.001, 6)
    for (let i = 0; i < 200; i++) span = zoom(span, 2, 1234567, whole)
    expect(span.to - span.from).toBeLessThanOrEqual(3600e6 * 1.2 + 1)
    const far = pan(whole, 1e15, whole)
    expect(far.from).toBeLessThan(whole.to)
    expect(show({ from: 0, to: 1e6 }, 5e6, 1e4, whole)).toEqual({ from: 5e6 - 2500, to: 5e6 + 7500 })
  })

  it('finds the first entry at or after a time', () => {
    expect(lowerBound([1, 3, 5], 3, 3)).toBe(1)
    expect(lowerBound([1, 3, 5], 3, 4)).toBe(2)
    expect(lowerBound([1, 3, 5], 3, 9)).toBe(3)
  })

  it.each([
    [1000, 10, 100],
    [1234, 10, 200],
    [3, 8, 0.5],
  ])('steps an axis of %s us', (width, wanted, step) => expect(timeStep(width, wanted)).toBeCloseTo(step, 9))
})
