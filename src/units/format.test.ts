import { describe, expect, it } from 'vitest'
import { typeset } from './index.js'

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
