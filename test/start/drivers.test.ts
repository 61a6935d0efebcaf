/** Every driver that is offered: it makes a sound station by itself, or the question says what is missing. */
import { expect, it } from 'vitest'
import { type Given, type QuestionId, questionOf, startDesign, usableDrivers } from '../../src/start/index.js'

const facts = (name: string) => questionOf('driver').choices!({}).find((c) => c.value === name)!.facts

it.each(usableDrivers().map((p) => p.name))(
  '%s: sound with every other answer left open, or not',
  (driver) => {
    const result = startDesign({ driver })
    const missing = facts(driver).find((fact) => fact.startsWith('not shown to be sound: '))
    expect('started' in result).toBe(missing === undefined)
    if ('started' in result) return
    // What the builder is told, and what would do instead.
    expect(result.refused.because.sentence).toMatch(/known/)
    expect(result.refused.nearest?.changes).toHaveProperty('driver')
  },
)

it('a driver without a current limit of its own needs one right before it', () => {
  const made = (given: Given) => startDesign({ driver: 'L298', ...given })
  const sound = made({})
  expect('started' in sound && sound.started.text).toMatch(/limit: constant[\s\S]*capacitance: 0 F/)
  const refused = made({ limiter: 'supply' })
  if (!('refused' in refused)) throw new Error('capacitors of a supply give more than 3 A')
  expect(refused.refused.clauses).toEqual(expect.arrayContaining(['short-trip', 'inrush']))
  const asked = (driver: string): boolean | undefined =>
    questionOf('limiter' satisfies QuestionId).applies?.({ driver })
  expect(asked('L298')).toBe(true)
  expect(asked('DRV8874')).toBe(false)
})
