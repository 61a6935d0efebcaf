/** Every published limit, fed just inside and just outside, for both profiles and all editions. */
import { describe, expect, it } from 'vitest'
import { CLAUSE_IDS, profileOf } from '../../src/standard/index.js'
import { CHOICES, checksFor, nameOf, PUBLISHED } from './limit-checks.js'

describe.each(CHOICES.map((choice) => [nameOf(choice), choice] as const))('%s', (_, choice) => {
  const { profile, table } = checksFor(choice)

  it('has the figures and sources of the documents', () => {
    expect(table.flatMap((check) => check.run(profile))).toEqual([])
    expect(CLAUSE_IDS.filter((id) => !table.some((check) => check.id === id))).toEqual([])
    expect(Object.keys(profile.rules).filter((id) => !table.some((check) => check.id === id))).toEqual([])
  })
})

// The scale changes voltages only.
const AT_ONE_SCALE = CHOICES.filter((choice) => choice.scale === 'H0')
it.each(AT_ONE_SCALE.map((choice) => [nameOf(choice), choice] as const))(
  '%s: signals just inside and just outside are judged by them',
  (_, choice) => {
    const { profile, behaviour } = checksFor(choice)
    expect(behaviour.length).toBeGreaterThan(20)
    expect(behaviour.flatMap((check) => check.run(profile))).toEqual([])
  },
)

it('names a source and how it is known for every published figure', () => {
  for (const row of PUBLISHED) {
    expect(row.source.length).toBeGreaterThan(3)
    expect(['confirmed', 'from memory', 'derived', 'common practice']).toContain(row.status)
  }
  expect(() => profileOf({ profile: 'rcn', edition: '2020', scale: 'H0', cutout: false })).toThrow(
    /2013, 2019/,
  )
})
