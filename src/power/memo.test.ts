import { expect, it } from 'vitest'
import { memo } from './memo.js'

it('calculates once for exactly the same numbers, and never keeps more than a few thousand', () => {
  let made = 0
  const get = memo((a: number, b: number) => [++made, a, b])
  expect(get(1, 2)).toEqual([1, 1, 2])
  expect(get(2, 1)).toEqual([2, 2, 1])
  expect(get(1, 2)).toEqual([1, 1, 2])
  expect(get(1, 2 + Number.EPSILON * 2)).toEqual([3, 1, 2 + Number.EPSILON * 2])
  expect(get(Number.POSITIVE_INFINITY, Number.NaN)[0]).toBe(4)
  expect(get(Number.POSITIVE_INFINITY, Number.NaN)[0]).toBe(4)
  for (let i = 0; i < 10_000; i++) get(3, i)
  made = 0
  expect(get(1, 2)).toEqual([1, 1, 2])
  expect(get(1, 2)).toEqual([1, 1, 2])
})
