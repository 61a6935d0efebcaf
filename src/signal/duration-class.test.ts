import { expect, it } from 'vitest'
import { DEFAULT_SIGNAL_LIMITS } from '../standard/index.js'
import { classesOf } from './duration-class.js'

it('fills entries between limits as if each had been asked for', () => {
  for (const uncertaintyUs of [0, 0.5, 4, 40]) {
    for (const entriesOfUs of [0.3, 1, 16, 100]) {
      const bounds = {
        limits: DEFAULT_SIGNAL_LIMITS,
        uncertaintyUs,
        plainZeroBelowUs: 240,
        shortUs: [20, 33.3] as const,
        thresholdUs: [77, 70.1] as const,
      }
      const entries = Math.floor(230 * entriesOfUs)
      for (const level of [0, 1] as const) {
        let of = (_us: number) => Number.NaN
        const quick = classesOf(level, entries, entriesOfUs, bounds, (entry, ofDuration) => {
          of = ofDuration
          return ofDuration(entry / entriesOfUs)
        })
        expect(quick).toEqual(Uint8Array.from({ length: entries }, (_, k) => of(k / entriesOfUs)))
        expect(new Set(quick).size).toBe(3)
      }
    }
  }
})
