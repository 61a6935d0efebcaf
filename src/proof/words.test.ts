import { expect, it } from 'vitest'
import type { Evidence } from '../standard/index.js'
import { sentence, valueText } from './words.js'

const of = (low: number, high: number, unit: string) =>
  ({ value: { low, high, unit } }) as unknown as Evidence

it('writes windows in us, and long times in units that can be read', () => {
  expect(valueText(of(57.004, 59.01, 'us'))).toBe('57.004 to 59.010 us')
  expect(valueText(of(11_000, 3.6e9, 'us'))).toBe('11 ms to 60 min')
  expect(valueText(of(0.5, 0.5, 'share'))).toBe('50 %')
})

it('ends a sentence once', () => {
  expect(sentence('so it is')).toBe('so it is.')
  expect(sentence('So it is.')).toBe('So it is.')
})
