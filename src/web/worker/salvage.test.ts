/** A text with problems: its sound parts are calculated, and it is said where the others are from. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { Judge } from './judge.js'
import { salvage } from './salvage.js'

const shelf = readFileSync(new URL('../../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
const file = 'halfbit.yaml'
const none = () => {}

/** The text with another length of the bus, so that it differs from the last sound one. */
const longer = shelf.replace(/length: 2.4 m/, 'length: 3 m')

describe('a text with problems', () => {
  it('keeps a part with a wrong value as it was, and the rest as it is now', () => {
    expect(longer).not.toBe(shelf)
    const made = salvage(longer.replace(/scale: .*/, 'scale: nonsense'), shelf)!
    expect(made.before).toEqual(['scale'])
    expect(loadDesign(made.text).design).toEqual(
      loadDesign(longer.replace(/^scale:.*/m, /^scale:.*/m.exec(shelf)![0])).design,
    )
  })

  it('finds the part that is no YAML, wherever the parser stumbles', () => {
    for (const wrong of [
      'controller: { chip: atmega328p\n',
      'controller:\n  chip: "x\n',
      'controller:\n\t- a: [\n',
    ]) {
      const text = longer.replace(/^controller:\n(?: .*\n|\n)*/m, wrong)
      expect(text).not.toBe(longer)
      const made = salvage(text, shelf)!
      expect(made.before).toEqual(['controller'])
      expect(loadDesign(made.text).design.track).toEqual(loadDesign(longer).design.track)
    }
  })

  it('puts a renamed part back, so that the map stays', () => {
    const made = salvage(shelf.replace(/^track:/m, 'trak:'), shelf)
    // Nothing else was changed: that is the last text, and needs no other answer.
    expect(made === undefined || made.before.includes('track')).toBe(true)
    const both = salvage(longer.replace(/^power:/m, 'powr:'), shelf)!
    expect(both).toMatchObject({ before: ['power'], without: ['powr'] })
    expect(loadDesign(both.text).design.power).toBeDefined()
  })

  it('leaves a part out where it never was sound, and gives up where nothing sound is left', () => {
    const made = salvage(shelf.replace(/^track:/m, 'track: nonsense #'), undefined)
    expect(made?.without ?? []).not.toContain('controller')
    expect(salvage(shelf.replace(/^scale:.*/m, 'scale: nonsense'), undefined)).toMatchObject({
      before: [],
      without: ['scale'],
    })
    expect(salvage('', shelf)).toBeUndefined()
    expect(salvage('no: design', undefined)).toBeUndefined()
    expect(salvage('halfbit: [1\n  x: :\n', undefined)).toBeUndefined()
  })

  it('is calculated by the desk from its sound parts, and marked with where the others are from', async () => {
    const judge = new Judge('1')
    await judge.judge({ text: shelf, file, runs: [] }, none)
    const sound = await new Judge('1').judge({ text: longer, file, runs: [] }, none)
    const answer = await judge.judge(
      { text: longer.replace(/^scale:.*/m, 'scale: nonsense'), file, runs: [] },
      none,
    )
    expect(answer.problems.length).toBeGreaterThan(0)
    expect(answer.partial).toMatchObject({ before: ['scale'], without: [] })
    expect(answer.proof!.rows.map((r) => r.cells)).toEqual(sound.proof!.rows.map((r) => r.cells))
    expect(answer.proof!.stale!.since[0]).toMatchObject({ code: 'proof/text-partly-valid' })
    expect(answer.proof!.stale!.since[0]!.sentence).toMatch(/scale/)
  })
})
