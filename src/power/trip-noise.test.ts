// Noise on a trip, against the same trip played sample by sample with normal noise of its own.
import { describe, expect, it } from 'vitest'
import { tripNoise } from './trip-noise.js'

const RATE = 9615
const NOISE = 0.1

/** Normal noise from a counter (Box and Muller 1958; the counter is Mulberry's, from memory). */
function normalFrom(start: number): () => number {
  let state = start
  const uniform = () => {
    state = (state + 0x6d2b79f5) | 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return (((t ^ (t >>> 14)) >>> 0) + 0.5) / 4294967296
  }
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
}

/** Samples until `samples` in a row are above the threshold, at a mean so far above it. */
function played(overAmp: number, samples: number, most: number, normal: () => number): number {
  let row = 0
  for (let n = 1; n <= most; n++) {
    row = overAmp + NOISE * normal() >= 0 ? row + 1 : 0
    if (row === samples) return n
  }
  return Number.POSITIVE_INFINITY
}

const sense = (filter = 0) => ({ noise: NOISE, filter, rate: RATE }) as Parameters<typeof tripNoise>[0]
const rule = (samples: number) => ({ samples, average: 1, smoothing: 1 })

describe.each([1, 2, 8, 20])('a trip of %d samples', (samples) => {
  const band = tripNoise(sense(), rule(samples), 1)

  it.each([0.1, 0.2, 0.3, 0.6])('is held up by noise for no longer than is said, %d A above', (overAmp) => {
    const normal = normalFrom(samples)
    const most = samples + (band.heldUpUs(overAmp) / 1e6) * RATE
    let longest = 0
    for (let n = 0; n < 4000; n++) longest = Math.max(longest, played(overAmp, samples, 1e6, normal))
    expect(longest).toBeLessThanOrEqual(Math.ceil(most))
  })

  it('is held up for no longer than a few runs where the current is clear of the threshold', () => {
    expect(band.heldUpUs(3.5 * NOISE)).toBeLessThan((6 * samples * 1e6) / RATE)
    expect(band.heldUpUs(7 * NOISE)).toBe(0)
  })

  it('comes within a second at the top of its band', () => {
    const normal = normalFrom(100 + samples)
    for (let n = 0; n < 100; n++) expect(played(band.aboveAmp, samples, RATE, normal)).toBeLessThan(RATE)
  })

  it('does not come from noise alone at the bottom of it, and does half as far below the threshold', () => {
    const normal = normalFrom(200 + samples)
    expect(played(-band.belowAmp, samples, 100 * RATE, normal)).toBe(Number.POSITIVE_INFINITY)
    // Of many samples in a row none strays far: the band is no wider than it must be.
    expect(band.belowAmp).toBeLessThan(samples === 1 ? 7.5 * NOISE : samples === 2 ? 5 * NOISE : 2.5 * NOISE)
  })
})

it('lets one sample in a thousand hours stray beyond the band', () => {
  // One in 3.5e10 samples: 6.5 by tables of the normal distribution (Abramowitz and Stegun 26.5), from memory.
  const { belowAmp } = tripNoise(sense(), rule(1), 1)
  expect(belowAmp / NOISE).toBeGreaterThan(6.4)
  expect(belowAmp / NOISE).toBeLessThan(6.7)
})

it('counts on one sample only where the filter carries noise to the next', () => {
  expect(tripNoise(sense(1000), rule(20), 1).belowAmp).toBeCloseTo(tripNoise(sense(), rule(1), 1).belowAmp, 9)
})

it('is less after an average, by the root of its samples', () => {
  const one = tripNoise(sense(), rule(1), 1)
  const mean = tripNoise(sense(), { ...rule(4), average: 16 }, 1)
  expect(mean.belowAmp).toBeCloseTo(one.belowAmp / 4, 12)
})

it('is finite for a converter that samples once a second', () => {
  const slow = { noise: NOISE, filter: 0, rate: 1 } as Parameters<typeof tripNoise>[0]
  const { belowAmp, aboveAmp, heldUpUs } = tripNoise(slow, rule(1), 1)
  for (const figure of [belowAmp, aboveAmp, heldUpUs(0.1)]) expect(figure).toBeGreaterThan(0)
  expect(aboveAmp / NOISE).toBeCloseTo(6, 1)
})
