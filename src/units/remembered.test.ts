import { describe, expect, it } from 'vitest'
import { dependence, Remembered, withoutMemory } from './remembered.js'

describe('remembered results', () => {
  it('calculates once for each thing it depends on, and again when that was long ago', () => {
    const known = new Remembered<number>(2)
    let made = 0
    const get = (x: unknown) => known.get(dependence(x), () => ++made)
    expect([get({ a: 1 }), get({ a: 1 }), get({ a: 2 }), get({ a: 1 })]).toEqual([1, 1, 2, 1])
    expect(get({ a: 3 })).toBe(3)
    // Asked for last: 1 and 3.
    expect([get({ a: 1 }), get({ a: 2 })]).toEqual([1, 4])
  })

  it('tells apart what JSON does not', () => {
    const texts = [0, -0, Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, null, 'NaN'].map(
      (x) => dependence([x]).text,
    )
    expect(new Set(texts).size).toBe(texts.length)
    expect(() => dependence({ of: () => 1 })).toThrow(TypeError)
  })

  it('compares numbers bit by bit', () => {
    const known = new Remembered<number>(9)
    let made = 0
    const get = (...x: number[]) => known.get({ text: '', numbers: Float64Array.from(x) }, () => ++made)
    expect([get(0), get(-0), get(Number.NaN), get(Number.NaN), get(0, 1), get(0)]).toEqual([1, 2, 3, 3, 4, 1])
  })

  it('remembers nothing where it shall not', () => {
    const known = new Remembered<number>(9)
    let made = 0
    const get = () => known.get(dependence('x'), () => ++made)
    expect([get(), withoutMemory(get), get(), withoutMemory(get)]).toEqual([1, 2, 1, 3])
    expect(() =>
      withoutMemory(() => {
        throw new Error('no')
      }),
    ).toThrow('no')
    expect(get()).toBe(1)
  })
})
