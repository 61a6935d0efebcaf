import { describe, expect, it } from 'vitest'
import { CLAUSE_IDS } from './clause.js'
import { rmsCeilingVolt } from './clauses.data.js'
import { marginWithin } from './evidence.js'
import { PROFILES, type ProfileId, profileOf, senderLimits } from './profile.js'
import { SCALES, type Scale } from './scale.js'

const all = Object.keys(PROFILES).flatMap((profile) =>
  Object.keys(PROFILES[profile as ProfileId].editions).map((edition) => ({
    profile: profile as ProfileId,
    edition,
  })),
)

describe('profiles', () => {
  it.each(all)('$profile $edition has every clause with a source', ({ profile, edition }) => {
    for (const scale of Object.keys(SCALES) as Scale[]) {
      const { clauses } = profileOf({ profile, edition, scale, cutout: true })
      expect(Object.keys(clauses).sort()).toEqual([...CLAUSE_IDS].sort())
      for (const clause of Object.values(clauses)) {
        expect(clause.demand).toMatch(/\.|\)$/)
        expect(clause.source.document).not.toBe('')
        const { min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = clause.sender
        expect(min).toBeLessThan(max)
        // A decoder must accept whatever a station may send.
        expect(clause.receiver?.min ?? min).toBeLessThanOrEqual(min)
        expect(clause.receiver?.max ?? max).toBeGreaterThanOrEqual(max)
      }
    }
  })

  // S-9.1:2020 Table 1 and Table 2 (confirmed); NEM 670:2013 3.1.1 (confirmed).
  it('has the windows of the tables', () => {
    const nmra = profileOf({ profile: 'nmra', scale: 'H0', cutout: false }).clauses
    expect(nmra['one-half'].sender).toEqual({ min: 55, nominal: 58, max: 61 })
    expect(nmra['one-half'].receiver).toEqual({ min: 52, nominal: 58, max: 64 })
    expect(nmra['zero-half'].sender).toEqual({ min: 95, nominal: 100, max: 9900 })
    expect(nmra['edge-rate'].sender.min).toBe(2.4)
    const nem = profileOf({ profile: 'rcn', edition: '2013', scale: 'H0', cutout: false }).clauses
    expect(nem['edge-rate'].sender.min).toBe(2.5)
  })

  // S-9.2:2004 A and S-9.2.3:2012 E (confirmed).
  it('wants 14 preamble bits, 20 in service mode', () => {
    const { preamble } = profileOf({ profile: 'nmra', scale: 'N', cutout: false }).clauses
    expect(senderLimits(preamble, 'operations').min).toBe(14)
    expect(senderLimits(preamble, 'service').min).toBe(20)
  })

  // NEM 670:2013 4.2a with NEM 630:1982 2.1 (confirmed): nominal 8, 12, 16 V by gauge, 2 V more are allowed.
  it.each([
    ['Z', 10],
    ['N', 14],
    ['H0', 14],
    ['1', 18],
  ] as const)('has an RMS ceiling for %s of %s V', (scale, volt) => {
    expect(rmsCeilingVolt({ profile: 'rcn', edition: '2013', scale })).toBe(volt)
    expect(rmsCeilingVolt({ profile: 'nmra', edition: '2020', scale })).toBeUndefined()
  })

  it('names the editions there are', () => {
    expect(() => profileOf({ profile: 'nmra', edition: '1999', scale: 'N', cutout: false })).toThrow(
      /2006, 2020/,
    )
  })
})

describe('margin', () => {
  it('is 1 in the centre, 0 at a limit, negative outside', () => {
    const window = { min: 55, max: 61 }
    expect(marginWithin(58, 58, window)).toBe(1)
    expect(marginWithin(57, 61, window)).toBe(0)
    expect(marginWithin(54, 58, window)).toBeCloseTo(-1 / 3)
    expect(marginWithin(100, 9000, { min: 95, nominal: 100, max: 9900 })).toBeCloseTo(900 / 9800)
    expect(marginWithin(14, 16, { min: 14 })).toBe(0)
    expect(marginWithin(0, 0, { max: 0 })).toBe(1)
    expect(marginWithin(0, 2, { max: 0 })).toBe(-1)
  })
})
