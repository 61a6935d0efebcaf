import { describe, expect, it } from 'vitest'
import { profileOf } from '../standard/index.js'
import { CurrentWatch, currentLimitsOf, serviceCurrentEvidence } from './service-current.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

/** Samples of a current that is `amp` in a stretch and 20 mA elsewhere. */
function watch(pulses: { fromMs: number; ms: number; amp: number }[], stepUs = 500, forMs = 400) {
  const acknowledged: number[] = []
  const watch = new CurrentWatch(currentLimitsOf(profile), (us) => acknowledged.push(us))
  for (let us = 0; us < forMs * 1000; us += stepUs) {
    const pulse = pulses.find((p) => us >= p.fromMs * 1000 && us < (p.fromMs + p.ms) * 1000)
    watch.push(us, pulse?.amp ?? 0.02)
  }
  return { reading: watch.finish(), acknowledged }
}

describe('current on a service track', () => {
  const about = { origin: 'measured', source: 'test' } as const
  const verdict = (ms: number, amp: number, stepUs?: number) =>
    serviceCurrentEvidence(watch([{ fromMs: 50, ms, amp }], stepUs).reading, profile, about).verdict

  // 250 mA for more than 100 ms is the limit: S-9.2.3:2012 B (confirmed).
  it('may exceed 250 mA for 100 ms, not longer', () => {
    expect(verdict(99, 0.3)).toBe('met')
    expect(verdict(102, 0.3)).toBe('broken')
    expect(verdict(300, 0.25)).toBe('met')
    expect(verdict(95, 0.3, 20_000)).toBe('undecided')
  })

  // At least 60 mA more for 6 ms ± 1 ms: S-9.2.3:2012 D (confirmed).
  it.each([
    [6, 0.081, 1],
    [5, 0.081, 1],
    [7, 0.081, 1],
    [3, 0.081, 0],
    [9, 0.081, 0],
    [6, 0.075, 0],
    [200, 0.081, 0],
  ])('a rise of %s ms to %s A is %s acknowledgement', (ms, amp, count) => {
    const { acknowledged } = watch([{ fromMs: 50, ms, amp }], 250)
    expect(acknowledged.length).toBe(count)
    if (count === 1) expect(acknowledged[0]).toBeCloseTo(50_000, -3)
  })
})
