/** The finder on designs that are unlike the examples: nothing crashes, no expectation is nonsense, no fault goes unfound. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import { loadDesign } from '../../src/design/index.js'
import { Finder, follow } from '../../src/find/index.js'
import { DesignConflict } from '../../src/track/index.js'

const FOLDER = new URL('../power/odd/', import.meta.url)
const finderOf = (name: string) => new Finder(loadDesign(readFileSync(new URL(name, FOLDER), 'utf8'), name))

/** Both corners of what does not vary are calculated by themselves. */
const ROUNDING = 1e-9
/** No design, and one whose driver is not known: named, rather than guessed at. */
const REFUSED = ['two-signals.yaml', 'nothing.yaml']
const NAMES = readdirSync(FOLDER).filter((n) => n.endsWith('.yaml') && !REFUSED.includes(n))

describe.each(NAMES)('%s', (name) => {
  const finder = finderOf(name)

  it('expects a figure or chances of every reading, whatever the fault', () => {
    const odd: string[] = []
    for (const [h, { id }] of finder.hypotheses.entries())
      for (const spot of finder.spots)
        for (const e of finder.expected(h, spot)) {
          const chances = 'words' in e ? Object.values(e.words) : []
          const sound =
            'words' in e
              ? chances.every((c) => c >= 0 && c <= 1) && Math.abs(chances.reduce((a, b) => a + b) - 1) < 1e-9
              : Number.isFinite(e.span.low) &&
                e.span.low <= e.span.high + ROUNDING &&
                Number.isFinite(e.span.high)
          if (!sound) odd.push(`${id}, ${spot.key}: ${JSON.stringify(e)}`)
        }
    expect(odd).toEqual([])
  })

  it('suggests a reading to begin with', () => {
    const { outcome, next } = finder.diagnose([])
    expect(outcome).toBe('open')
    expect(next[0]!.bits).toBeGreaterThan(0)
  })
})

it('says where what it needs is missing', () => {
  expect(() => finderOf('nothing.yaml')).toThrow(DesignConflict)
})

describe('a supply whose voltage may be anything within 10 %', () => {
  // Accurate readings that agree with each other lie anywhere in that range, and each fault still explains its own.
  it.each(['battery.yaml', 'mirror.yaml'])(
    '%s: no fault of the list is taken for one outside of it',
    (name) => {
      const finder = finderOf(name)
      const taken: string[] = []
      for (let h = 1; h < finder.hypotheses.length; h++)
        for (const start of [1000, 2000, 3000]) {
          const trial = follow(finder, h, seededRandom(start + h))
          if (trial.wrong === 0 && trial.outcome === 'nothing fits') taken.push(`${trial.planted}, ${start}`)
        }
      expect(taken).toEqual([])
    },
  )
})
