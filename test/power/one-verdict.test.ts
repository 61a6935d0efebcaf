/** Power stage and track say one verdict of one short: with a track of a metre it is the same short. */
import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import {
  agreeWithPower,
  agreeWithTrack,
  evidenceOfDesign,
  powerInput,
  railroadOf,
} from '../../src/proof/index.js'

import { runs } from '../runs.js'

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

it('a trip that may lie anywhere leaves a short undecided in both, not broken in one', () => {
  const text = readFileSync(`${odd}wide-hall.yaml`, 'utf8')
  const rows = evidenceOfDesign(loadDesign(text), { file: 'x' }).statements.filter(
    (e) => (e.clause === 'short-trip' || e.clause === 'short-current') && e.about === 'main',
  )
  expect(rows.map((e) => e.verdict)).toEqual(['undecided', 'undecided', 'undecided'])
})

/** Stations of all kinds of supply, driver, trip and wire. */
const STATIONS = fc.record({
  part: fc.constantFrom('L298', 'L6203', 'LMD18200', 'DRV8871', 'DRV8874', 'BTS7960B', 'A4950'),
  volt: fc.constantFrom(13, 15, 17),
  rating: fc.constantFrom(1, 3, 6, 12),
  limit: fc.constantFrom(
    'constant, limitCurrent: LIMIT',
    'hiccup, limitCurrent: LIMIT',
    'hiccup, limitCurrent: LIMIT, hiccupOn: 5 ms',
    'foldback, limitCurrent: LIMIT, shortCurrent: 1.5 A',
    'unknown',
    'none, fuse: 10 A',
  ),
  trip: fc.constantFrom(
    'by: breaker, after: 1 ms',
    'by: breaker, after: 100 ms',
    'samples: 20, after: 100 us',
    'by: driver',
  ),
  amp: fc.constantFrom(0.5, 1.4, 2.5, 5),
  tolerance: fc.constantFrom('1 %', '40 %'),
  bus: fc.constantFrom('0.25 mm2, length: 30 m', '2.5 mm2, length: 1 m'),
})

it('power stage, track and proof say one verdict for each clause that several of them judge', () => {
  let several = 0
  fc.assert(
    fc.property(STATIONS, (s) => {
      const [by, trip] =
        s.trip === 'by: driver' && /L298|L6203/.test(s.part)
          ? ['by: breaker', 'by: breaker']
          : [s.trip, s.trip]
      const sense = by.startsWith('samples')
        ? `\n      sense: { kind: hall, sensitivity: 100 mV, zero: 2.5 V, tolerance: ${s.tolerance}, rate: 9600 /s, filter: 50 us }`
        : ''
      const amp = sense === '' ? s.amp : Math.min(s.amp, 2.4)
      const text = `halfbit: 2
name: Any station (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  supplies: { main: { voltage: ${s.volt} V, rating: ${s.rating} A, limit: ${s.limit.replace('LIMIT', `${s.rating * 1.1} A`)} } }
  drivers: { main: { part: ${s.part}, cooling: { sink: 4 K/W, junctionToAmbient: 10 K/W } } }
  districts:
    main:
      trip: { current: ${amp} A, ${trip} }${sense}
${TRACK.replace('wire: 2.5 mm2, length: 1 m', `wire: ${s.bus}`)}`
      const loaded = loadDesign(text)
      const power = agreeWithTrack(powerReport(powerInput(loaded)!.input).evidence, loaded)
      const track = agreeWithPower(railroadOf(loaded)!.report.evidence, loaded)
      const proof = evidenceOfDesign(loaded, { file: 'x' }).statements
      for (const e of power) {
        const same = [...track, ...proof].filter((t) => t.clause === e.clause && t.about === e.about)
        if (e.about === undefined || same.length < 3) continue
        several++
        for (const t of same)
          expect(`${t.clause} ${'verdict' in t ? t.verdict : ''}`).toBe(`${e.clause} ${e.verdict}`)
      }
    }),
    { numRuns: runs(20) },
  )
  expect(several).toBeGreaterThan(20)
})
