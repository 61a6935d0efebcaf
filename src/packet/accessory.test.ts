import { describe, expect, it } from 'vitest'
import { accessoryNumber, accessoryPlace, extendedWireAddress } from './accessory.js'

describe('accessory numbers', () => {
  it('come back from board and pair, at every offset', () => {
    for (let offset = 0; offset <= 4; offset++) {
      for (let number = 1; number <= 2044 - offset; number++) {
        const { board, pair } = accessoryPlace(number, offset)
        expect(accessoryNumber(4 * board + pair, offset)).toBe(number)
      }
      for (let number = 1; number <= 2047 - offset; number++) {
        expect(accessoryNumber(extendedWireAddress(number, offset), offset)).toBe(number)
      }
    }
  })

  // The two conventions side by side, derived from S-9.2.2:2012 (offset 0) and RCN-213 from memory (offset 4).
  it.each([
    [1, 4, 1, 0],
    [4, 4, 1, 3],
    [5, 4, 2, 0],
    [1, 0, 0, 0],
    [4, 0, 0, 3],
    [5, 0, 1, 0],
  ])('%d at offset %d is board %d, pair %d', (number, offset, board, pair) => {
    expect(accessoryPlace(number, offset)).toEqual({ board, pair })
  })

  it.each([
    [0, 4],
    [2041, 4],
    [2045, 0],
    [1.5, 4],
    [1, 5],
  ])('%d at offset %d is refused', (number, offset) => {
    expect(() => accessoryPlace(number, offset)).toThrow(RangeError)
  })
})
