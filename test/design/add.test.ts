/** Every Add that the forms offer, on every example: the design stays one that the reader has, or nothing is written. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { parse } from 'yaml'
import { exampleNames } from '../../src/cli/new-design.js'
import { addToDesign, designShape, loadDesign } from '../../src/design/index.js'
import type { Shape } from '../../src/shape/index.js'
import { startDesign } from '../../src/start/index.js'

const root = new URL('../../', import.meta.url).pathname

/** What cannot be added beside what an example has, and why: each is refused with a sentence. */
const REFUSED = [
  // Only a service output has acknowledgements.
  /^power\.districts\.[^.]+\.acknowledgement$/,
  // A section is drawn by points or by an arc, not by both.
  /^track\.sections\.[^.]+\.(arc|points)$/,
  // A joint has the name of a place where rails meet.
  /^track\.joints\.\w+$/,
  // With the switch off nothing feeds the loop beyond it.
  /^track\.bus\.bus\.switch$/,
  // Commands to send need locomotives to send them to.
  /^traffic$/,
  // A variant holds what it changes; a part of its own needs keys that nobody can fill in for it.
  /^variants\./,
]

type Place = (string | number)[]

/** Every place at which a form has an Add, as the forms find them. */
function addsOf(of: Shape, value: unknown, path: Place = []): Place[] {
  const shape =
    of.kind === 'either'
      ? (of.of.find((s) =>
          value === undefined || value === null
            ? false
            : Array.isArray(value)
              ? s.kind === 'list'
              : typeof value === 'object'
                ? s.kind === 'record' || s.kind === 'named'
                : !['list', 'record', 'named'].includes(s.kind),
        ) ?? of.of[0]!)
      : of
  const isGroup = ['record', 'named', 'list'].includes(shape.kind)
  if (value === undefined || value === null) return isGroup ? [path] : []
  const data = value as Record<string, unknown>
  switch (shape.kind) {
    case 'record':
      return Object.entries(shape.keys).flatMap(([key, child]) => addsOf(child, data[key], [...path, key]))
    case 'named':
      return [
        ...Object.entries(data).flatMap(([key, item]) => addsOf(shape.of, item, [...path, key])),
        [...path, 'added'],
      ]
    case 'list': {
      if (!Array.isArray(value)) return addsOf(shape.of, value, path)
      if (shape.of.kind === 'text' && value.every((item) => typeof item !== 'object')) return []
      const more =
        value.length < (shape.maxItems ?? Number.POSITIVE_INFINITY) ? [[...path, value.length]] : []
      return [...value.flatMap((item, i) => addsOf(shape.of, item, [...path, i])), ...more]
    }
    default:
      return []
  }
}

it.each([...exampleNames(), 'a new design'])('keeps %s loadable', { timeout: 600_000 }, (name) => {
  const begun = startDesign({})
  const text =
    name === 'a new design'
      ? 'started' in begun
        ? begun.started.text
        : ''
      : readFileSync(`${root}examples/${name}/halfbit.yaml`, 'utf8')
  const adds = addsOf(designShape as Shape, parse(text))
  expect(adds.length).toBeGreaterThan(20)
  let refused = 0
  for (const path of adds) {
    const added = addToDesign(text, path)
    const where = path.join('.')
    if ('refused' in added) {
      expect(REFUSED.some((r) => r.test(where)) ? '' : `${where}: ${added.refused}`).toBe('')
      expect(added.refused).not.toBe('')
      if (path[0] !== 'variants') refused++
      continue
    }
    expect(added.text, where).not.toBe(text)
    expect(() => loadDesign(added.text), where).not.toThrow()
  }
  expect(refused).toBeLessThan(adds.filter(([first]) => first !== 'variants').length / 5)
})

it('adds nothing worse to a text that is wrong elsewhere', () => {
  const wrong = 'halfbit: 2\nname: x\ncontroller:\n  chip: nothing\n'
  const added = addToDesign(wrong, ['controller', 'clock'])
  expect('text' in added && parse(added.text)).toMatchObject({
    controller: { clock: { frequency: '16 MHz' } },
  })
})

it('adds a reading as it was taken, in lines of its own, and none that nobody took', () => {
  const begun = startDesign({})
  if (!('started' in begun)) throw new Error('no design')
  const notes = addToDesign(begun.started.text, ['benchNotes'])
  if ('refused' in notes) throw new Error(notes.refused)
  const place = (i: number) => ['benchNotes', 'readings', i]
  const reading = {
    reading: 'track',
    of: 'main',
    voltage: '14.6 V',
    with: 'main',
    by: 'A. Builder',
    on: '2026-05-01',
  }
  expect(addToDesign(notes.text, place(0))).toHaveProperty('refused')
  const one = addToDesign(notes.text, place(0), reading)
  if ('refused' in one) throw new Error(one.refused)
  expect(one.text).toContain('\n  readings:\n    - reading: track\n      of: main\n')
  const two = addToDesign(one.text, place(1), { ...reading, voltage: '14.5 V' })
  if ('refused' in two) throw new Error(two.refused)
  expect(loadDesign(two.text).design.benchNotes!.readings.map((r) => r.voltage)).toEqual([14.6, 14.5])
  expect(addToDesign(two.text, place(2), { ...reading, of: 'nowhere' })).toEqual({
    refused: expect.stringContaining('there is no "nowhere"'),
  })
})
