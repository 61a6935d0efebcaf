import { describe, expect, it } from 'vitest'
import { NOMINAL_TIMING } from './encode.js'
import { waveSvg } from './wave-svg.js'

describe('packets as a drawing', () => {
  const svg = waveSvg([[0x37, 0x74, 0x43]], NOMINAL_TIMING)
  it('says what it shows, in words and bytes', () => {
    expect(svg).toContain('locomotive 55: forward step 6 of 28')
    for (const byte of ['37', '74', '43']) expect(svg).toContain(`>${byte}</text>`)
    expect(svg).toContain('aria-label="Track signal of 37 74 43"')
  })
  it('draws every half-bit', () => {
    // 16 ones, three bytes with a start bit each, an end bit: 44 bits, each with two edges.
    const path = /<path class="w" d="([^"]+)"/.exec(svg)?.[1] ?? ''
    expect(path.match(/H/g)?.length).toBe(2 * (16 + 27 + 1))
  })
})
