import { describe, expect, it } from 'vitest'
import { encodeSignal } from '../../signal/index.js'
import { profileOf } from '../../standard/index.js'
import { KeptRecord } from './kept-record.js'

const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const LIMITS = {
  one: clauses['one-half'],
  zero: clauses['zero-half'],
  preamble: clauses.preamble,
  mode: 'operations',
} as const
const SIGNAL = encodeSignal(Array.from({ length: 50 }, () => [3, 0x3f, 0x85, 3 ^ 0x3f ^ 0x85]))

describe('edges kept for the screen', () => {
  it.each([100_000, 1000, 64])('of a limit of %s stay within it and cover all of the record', (most) => {
    const kept = new KeptRecord(LIMITS, most)
    kept.begin({ tickUs: 1e-3, resolutionUs: 0 })
    for (let from = 0; from < SIGNAL.count; from += 777) {
      const count = Math.min(777, SIGNAL.count - from)
      const ticks = SIGNAL.ticks.slice(from, from + count)
      kept.push({ ticks, levels: SIGNAL.levels.slice(from, from + count), count })
    }
    const { timesUs, lastUs, levels, count, edges } = kept.record([])
    expect(edges).toBe(SIGNAL.count)
    expect(count).toBeLessThanOrEqual(most)
    if (most > edges) expect(lastUs).toBeUndefined()
    const us = Array.from({ length: edges }, (_, i) => SIGNAL.ticks[i]! / 1000)
    // Every edge lies in exactly one entry, which ends at its last one and has its level.
    let next = 0
    for (let i = 0; i < count; i++) {
      expect(timesUs[i]).toBeCloseTo(us[next]!, 6)
      const end = lastUs ? lastUs[i]! : timesUs[i]!
      while (next < edges && us[next]! <= end + 1e-6) next++
      expect(end).toBeCloseTo(us[next - 1]!, 6)
      expect(levels[i]).toBe(SIGNAL.levels[next - 1])
    }
    expect(next).toBe(edges)
  })
})
