import { describe, expect, it } from 'vitest'
import { formatByte, formatBytes } from './format.js'
import { parseQuantity } from './quantity.js'

describe('quantities', () => {
  it.each([
    ['58 us', 'time', 58],
    ['58µs', 'time', 58],
    ['0.1 ms', 'time', 100],
    ['16 MHz', 'frequency', 16e6],
    ['1,2 A', 'current', 1.2],
    ['0.5 %', 'ratio', 0.005],
    ['50 ppm', 'ratio', 5e-5],
    ['115200', 'baud', 115200],
    ['72 km/h', 'speed', 20000],
  ] as const)('%s is read as %s', (text, dimension, value) => {
    const parsed = parseQuantity(text, dimension)
    expect(parsed.ok && parsed.value).toBeCloseTo(value, 9)
  })

  // ASTM B258 by its formula; the table of electrical.md section 2 gives 1.628 mm and 2.081 mm2 for AWG 14.
  it('reads gauge numbers', () => {
    const mm = parseQuantity('14 AWG', 'length')
    expect(mm.ok && mm.value).toBeCloseTo(1.628, 3)
    const mm2 = parseQuantity('14 AWG', 'area')
    expect(mm2.ok && mm2.value).toBeCloseTo(2.081, 3)
  })

  it.each([
    ['58', 'time'],
    ['58 V', 'time'],
    ['', 'time'],
    ['us', 'time'],
    ['1.2.3 V', 'voltage'],
    ['1e999 V', 'voltage'],
    ['99 AWG', 'area'],
    ['5 constructor', 'time'],
    ['1,234.5 us', 'time'],
  ] as const)('%j is no %s and says what is', (text, dimension) => {
    const parsed = parseQuantity(text, dimension)
    expect(parsed.ok).toBe(false)
    expect(!parsed.ok && parsed.expected).not.toBe('')
  })
})

describe('bytes for people', () => {
  it('have two digits each', () => {
    expect([0, 10, 255].map(formatByte)).toEqual(['00', '0A', 'FF'])
    expect(formatBytes([0x37, 0x74, 0x43])).toBe('37 74 43')
    expect(formatBytes(Uint8Array.of(1, 2, 3), 2)).toBe('01 02')
  })
})
