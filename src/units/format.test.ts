import { describe, expect, it } from 'vitest'
import { formatRange, typeset } from './index.js'

/** Signs of the units: SI brochure, 9th edition, tables 4 and 7. */
describe('a sentence on a screen', () => {
  it.each([
    ['half of a one 55 to 61 us', 'half of a one 55 to 61 µs'],
    ['2.5us', '2.5µs'],
    ['2.4 V/us', '2.4 V/µs'],
    ['47 uF with 4.7 kOhm, 60 mOhm or 100 Ohm', '47 µF with 4.7 kΩ, 60 mΩ or 100 Ω'],
    ['0.75 mm2 survives', '0.75 mm² survives'],
    ['∞ us', '∞ µs'],
  ])('has the signs of its units: %s', (plain, signs) => expect(typeset(plain)).toBe(signs))

  it.each([
    'tell us when',
    'all of us',
    "by Ohm's law",
    'us.vcd',
    ' us',
    'S-9.2.1:2012 C',
    '/us/map',
    'wireMm2',
  ])('keeps its words: %s', (words) => expect(typeset(words)).toBe(words))
})

describe('a range', () => {
  it.each([
    [57.004, 59.01, 'us', '57.004 to 59.010 us'],
    [98.547, 101.48, 'us', '98.55 to 101.48 us'],
    [57.75, 58.25, 'us', '57.75 to 58.25 us'],
    [6532, 9292, 'us', '6.532 to 9.292 ms'],
    [950, 1200, 'us', '950 to 1200 us'],
    [95, 9900, 'us', '95 to 9900 us'],
    [11_000, 3.6e9, 'us', '11 ms to 60 min'],
    [0, 0.73, 'us', '0 to 0.73 us'],
    [0, 2e6, 'us', '0 to 2 s'],
    [12_000, 12_000, 'us', '12 ms'],
    [55, Infinity, 'us', '55 to ∞ us'],
    [83.333, 99, '%', '83.333 to 99.000 %'],
    [100, 100, '%', '100 %'],
    [-0.2, 13.1, 'V', '-0.2 to 13.1 V'],
    [17, 18, '', '17 to 18'],
    [0.1 + 0.2, 0.3, 'A', '0.3 A'],
  ])('has one unit and the same digits at both ends: %s to %s %s', (low, high, unit, says) =>
    expect(formatRange(low, high, unit)).toBe(says),
  )
})
