/** Whole stations that must not pass, and sound ones that must. */
import { describe, expect, it } from 'vitest'
import { HOSTILE, SOUND } from './hostile-designs.js'
import { HOSTILE_PARTS, REFUSED, SOUND_PARTS } from './hostile-parts.js'
import { evidenceOf, worstOf } from './station.js'

describe('a station that would hurt something', () => {
  it.each(Object.entries({ ...HOSTILE, ...HOSTILE_PARTS }))(
    'does not pass: %s',
    (_, { design, clauses, says }) => {
      const evidence = evidenceOf(design)
      const found = Object.keys(clauses).map((clause) => worstOf(evidence, clause))
      expect(Object.fromEntries(found.map((e) => [e.clause, e.verdict]))).toEqual(clauses)
      if (says) expect(found.map((e) => e.because).join('\n')).toMatch(says)
    },
  )
})

describe('a sound station', () => {
  it.each(Object.entries({ ...SOUND, ...SOUND_PARTS }))('is met: %s', (_, design) => {
    const open = evidenceOf(design).filter((e) => e.verdict !== 'met')
    // What optocouplers do to levels is not in any design.
    const known = open.filter((e) => e.finding?.code !== 'power/logic-level' || !/isolator/.test(e.because))
    expect(known.map((e) => `${e.verdict} ${e.clause}: ${e.because}`)).toEqual([])
  })
})

describe('a station that cannot be', () => {
  it.each(Object.entries(REFUSED))('is refused: %s', (_, [design, says]) => {
    expect(() => evidenceOf(design)).toThrow(says)
  })
})
