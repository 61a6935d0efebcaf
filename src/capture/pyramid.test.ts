import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { levelFor, PyramidBuilder, voltAt } from './pyramid.js'

const built = (volts: readonly number[], most?: number) => {
  const builder = new PyramidBuilder(most)
  for (const [i, v] of volts.entries()) builder.add(10 * i, v)
  return builder.finish(0.1)!
}

describe('samples kept for drawing', () => {
  it('hold every extreme at every level, in memory that does not grow', () => {
    const volts = fc.array(fc.integer({ min: -3000, max: 3000 }), {
      minLength: 1,
      maxLength: 3000,
      size: 'max',
    })
    fc.assert(
      fc.property(volts, (list) => {
        const { levels, samplesPerBucket } = built(list, 256)
        expect(levels[0]!.count).toBeLessThanOrEqual(256)
        const single = Float32Array.from(list)
        const buckets = Array.from({ length: levels[0]!.count }, (_, i) =>
          single.subarray(i * samplesPerBucket, (i + 1) * samplesPerBucket),
        )
        expect([...levels[0]!.low]).toEqual(buckets.map((own) => Math.min(...own)))
        expect([...levels[0]!.high]).toEqual(buckets.map((own) => Math.max(...own)))
        levels[0]!.timesUs.forEach((t, i) => {
          if (Math.abs(t - i * samplesPerBucket) > 1e-6) throw new Error(`bucket ${i} begins at ${t}`)
        })
        for (const level of levels) {
          expect(Math.min(...level.low.subarray(0, level.count))).toBe(Math.min(...single))
          expect(Math.max(...level.high.subarray(0, level.count))).toBe(Math.max(...single))
        }
      }),
      { numRuns: runs(30) },
    )
  })

  it('give about two buckets for a column, or all there is', () => {
    const pyramid = built(Array.from({ length: 100_000 }, (_, i) => i % 7))
    const level = levelFor(pyramid, 100_000, 1000)
    expect(level.count).toBeGreaterThanOrEqual(2000)
    expect(level.count).toBeLessThan(2000 * 8)
    expect(levelFor(pyramid, 10, 1000)).toBe(pyramid.levels[0])
  })

  it('tell the voltage between two samples, a range where only ranges are kept, nothing outside', () => {
    const all = built([0, 10, 20])
    expect(voltAt(all, 1.5)).toEqual({ low: 15, high: 15 })
    expect(voltAt(all, -1)).toBeUndefined()
    expect(voltAt(all, 9)).toBeUndefined()
    const pairs = built([0, 10, 20, 30, 40], 2)
    expect(voltAt(pairs, 1)).toEqual({ low: 0, high: 30 })
    expect(new PyramidBuilder().finish(1)).toBeUndefined()
  })
})
