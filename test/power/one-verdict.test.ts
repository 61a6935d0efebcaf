/** Power stage and track say one verdict of one short: with a track of a metre it is the same short. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { evidenceOfDesign } from '../../src/proof/index.js'

const odd = new URL('./odd/', import.meta.url).pathname
const TRACK = `track:
  defaults: { rail: 100, feeder: { wire: 18 AWG, length: 100 mm } }
  bus: { bus: { wire: 2.5 mm2, length: 1 m } }
  sections: { line: { length: 1 m, feeders: { at: 500 mm } } }
rollingStock: { one: { running: 0.5 A, section: line } }
`

it.each([
  ['cold-driver', '', '', 'undecided'],
  ['least-limit', '', '', 'undecided'],
  ['driver-trips', '', '', 'undecided'],
  ['trip-band', '', '', 'undecided'],
  ['blanking', '', '', 'broken'],
  ['hiccup', '', '', 'undecided'],
  ['hiccup', 'limitCurrent: 6 A', 'limitCurrent: 6 A, hiccupOn: 20 ms', 'broken'],
  ['hiccup', 'limitCurrent: 6 A', 'limitCurrent: 6 A, hiccupOn: 200 ms', 'met'],
  ['foldback', '', '', 'undecided'],
  ['foldback', 'limitCurrent: 6 A', 'limitCurrent: 6 A, shortCurrent: 4 A', 'met'],
  ['foldback', 'limitCurrent: 6 A', 'limitCurrent: 6 A, shortCurrent: 1 A', 'broken'],
] as const)('%s %s → %s: short-trip is %s in both', (name, from, to, verdict) => {
  const text = readFileSync(`${odd}${name}.yaml`, 'utf8').replace(from, to) + TRACK
  const rows = evidenceOfDesign(loadDesign(text), { file: 'x' }).statements.filter(
    (e) => e.clause === 'short-trip' && e.about === 'main',
  )
  expect(rows.map((e) => e.verdict)).toEqual([verdict, verdict])
})
