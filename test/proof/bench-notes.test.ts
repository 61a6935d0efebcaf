/** Readings as evidence: first what must not pass, then what must. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { type LoadedDesign, loadDesign } from '../../src/design/index.js'
import { benchNoteEvidence, designSum, evidenceOfDesign, proofOfDesign } from '../../src/proof/index.js'
import type { Statement } from '../../src/standard/index.js'

const shelf = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')

const INSTRUMENTS = `
  instruments:
    pocket: { kind: average, accuracy: 2 %, digits: 0.05, bandwidth: 400 Hz }
    bench: { kind: rms, accuracy: 1 %, digits: 0.02, bandwidth: 100 kHz }
    both: { kind: rms, accuracy: 1 %, digits: 0.02, bandwidth: 100 kHz, coupling: ac+dc }
    scope: { kind: oscilloscope, accuracy: 3 % }
    slow scope: { kind: oscilloscope, accuracy: 3 %, bandwidth: 20 kHz }
    quick scope: { kind: oscilloscope, accuracy: 3 %, bandwidth: 30 kHz }
    unknown: { kind: oscilloscope }
    watch: { kind: stopwatch, accuracy: 0.1 % }
    dc: { kind: dc, accuracy: 0.5 % }
`

function withNotes(readings: string[], text = shelf): LoadedDesign {
  const list = readings.map((r) => `    - { ${r}, by: A. Builder, on: 2026-05-01 }`).join('\n')
  return loadDesign(`${text}\nbenchNotes:${INSTRUMENTS}  readings:\n${list}\n`)
}

function measured(reading: string, text = shelf): Statement[] {
  const loaded = withNotes([reading], text)
  return evidenceOfDesign(loaded, { file: 'd' }).statements.filter((e) => e.origin === 'measured')
}

const of = (list: Statement[], clause: string) =>
  list
    .filter((e) => e.clause === clause)
    .map((e) => e.verdict)
    .join()

it('a reading is refused at a place that the track does not have', () => {
  const at = (place: string) =>
    withNotes([`reading: track, of: shelf, at: ${place}, voltage: 13 V, with: bench`])
  for (const place of ['moon', 'front.3', 'mills', 'milly.1'])
    expect(() => at(place), place).toThrow(/the track has no ".*expected a section, such as stick/)
  for (const place of ['mill', 'mill.1', 'front', 'front.2', 'A'])
    expect(() => at(place), place).not.toThrow()
})

// The shelf: 13 V, peak limit 22 V at N scale, 8.5 V at least; 11.0 V wanted at "mill, end" with 1.4 A.
describe('a reading must not show that a clause is met', () => {
  it.each<[string, string, string, string]>([
    [
      'the highest voltage by an AC meter',
      'reading: track, of: shelf, voltage: 13 V, load: 0 A, with: bench',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the highest voltage under load',
      'reading: peak, of: shelf, voltage: 13 V, load: 1 A, with: scope',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the highest voltage with a load that is not noted',
      'reading: peak, of: shelf, voltage: 13 V, with: scope',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the highest voltage with a load that may be more than the rest of decoders, as currents are read to a tenth',
      'reading: peak, of: shelf, voltage: 13 V, load: 0.05 A, with: scope',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the highest voltage at the far end',
      'reading: peak, of: shelf, at: mill, voltage: 13 V, load: 0 A, with: scope',
      'track-voltage-max',
      'not shown',
    ],
    [
      'by an instrument whose accuracy is not known',
      'reading: peak, of: shelf, voltage: 13 V, load: 0 A, with: unknown',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the highest voltage within the error of the scope',
      'reading: peak, of: shelf, voltage: 21.8 V, load: 0 A, with: scope',
      'track-voltage-max',
      'undecided',
    ],
    [
      'the highest voltage by a scope too slow for the signal',
      // by hand: half-bits of 58 us are 8.6 kHz, three times that is 25.9 kHz
      'reading: peak, of: shelf, voltage: 13 V, load: 0 A, with: slow scope',
      'track-voltage-max',
      'not shown',
    ],
    [
      'the lowest voltage by a scope too slow for the signal',
      'reading: peak, of: shelf, at: mill, voltage: 13 V, load: 2.3 A, with: slow scope',
      'track-voltage-min',
      'not shown',
    ],
    [
      'a peak below zero that is no smaller for it, within the error of the scope',
      'reading: peak, of: shelf, voltage: -21.8 V, load: 0 A, with: scope',
      'track-voltage-max',
      'undecided',
    ],
    [
      'the drop by a meter that ends at 400 Hz',
      'reading: track, of: shelf, at: mill, voltage: 14 V, load: 2 A, with: pocket',
      'voltage-drop',
      'not shown',
    ],
    [
      'the drop without load',
      'reading: track, of: shelf, at: mill, voltage: 13 V, load: 0.1 A, with: bench',
      'voltage-drop',
      'not shown',
    ],
    [
      'the drop at a better place',
      'reading: track, of: shelf, at: stick, voltage: 13 V, load: 2 A, with: bench',
      'voltage-drop',
      'not shown',
    ],
    [
      'the drop within the error of the meter',
      'reading: track, of: shelf, at: mill, voltage: 11.05 V, load: 2 A, with: bench',
      'voltage-drop',
      'undecided',
    ],
    [
      'a short at an easier place',
      'reading: trip, of: shelf, at: stick, time: 2.2 ms, with: scope',
      'short-trip',
      'not shown',
    ],
    [
      'a short with no place noted',
      'reading: trip, of: shelf, time: 2.2 ms, with: scope',
      'short-trip',
      'not shown',
    ],
    [
      'a short by hand, so near the limit',
      'reading: trip, of: shelf, at: mill, time: 400 ms, with: watch',
      'short-trip',
      'undecided',
    ],
    ['one half-bit', 'reading: half of one, of: main, time: 58 us, with: scope', 'one-half', 'not shown'],
  ])('%s', (_name, reading, clause, verdict) => {
    expect(of(measured(reading), clause)).toBe(verdict)
  })

  it('of a track whose weakest place was not calculated', () => {
    const loaded = withNotes([
      'reading: track, of: shelf, voltage: 12.1 V, load: 2.3 A, with: bench',
      'reading: track, of: shelf, at: mill, voltage: 12.1 V, load: 2.3 A, with: bench',
    ])
    const { evidence } = benchNoteEvidence(loaded, [])
    expect(of(evidence, 'track-voltage-min')).toBe('not shown,not shown')
  })

  it('of another state of the design', () => {
    const list = measured(
      'reading: trip, of: shelf, at: mill, time: 2.2 ms, with: scope, design: 0123456789ab',
    )
    expect(of(list, 'short-trip')).toBe('not shown')
    expect(list[0]!.because).toContain('0123456789ab')
  })

  it('of other shorts than its own: "every current" stays what it was', () => {
    const text = shelf
    const loaded = withNotes(['reading: trip, of: shelf, at: mill, time: 2.2 ms, with: scope'], text)
    const proof = proofOfDesign(loaded, {
      calculated: evidenceOfDesign(loaded, { file: 'd' }),
      runs: [],
      version: '0',
    })
    for (const row of proof.rows.filter((r) => r.clause === 'short-trip'))
      expect(row.verdict, row.about).toBe(row.about === 'shelf' ? 'met' : 'not shown')
  })
})

describe('a reading shows that a clause is broken', () => {
  it.each<[string, string]>([
    ['reading: peak, of: shelf, voltage: 24 V, load: 1 A, with: scope', 'track-voltage-max'],
    ['reading: peak, of: shelf, voltage: -24 V, load: 0 A, with: scope', 'track-voltage-max'],
    ['reading: track, of: shelf, voltage: 24 V, with: bench', 'track-voltage-max'],
    ['reading: track, of: shelf, voltage: -24 V, with: bench', 'track-voltage-max'],
    ['reading: peak, of: shelf, voltage: 6 V, with: scope', 'track-voltage-min'],
    ['reading: peak, of: shelf, at: stick, voltage: 9 V, load: 0.5 A, with: scope', 'voltage-drop'],
    ['reading: trip, of: shelf, at: stick, time: 2 s, with: watch', 'short-trip'],
    ['reading: trip, of: shelf, at: front.1, never: true, with: watch', 'short-trip'],
    ['reading: half of one, of: main, time: 70 us, with: scope', 'one-half'],
  ])('%s: %s', (reading, clause) => {
    expect(of(measured(reading), clause)).toBe('broken')
  })

  it('but an overload that lowers the voltage does not', () => {
    const list = measured('reading: peak, of: shelf, at: mill, voltage: 7 V, load: 6 A, with: scope')
    expect(of(list, 'track-voltage-min')).not.toBe('broken')
  })
})

describe('a reading shows that a clause is met', () => {
  it.each<[string, string]>([
    ['reading: peak, of: shelf, voltage: 13.2 V, load: 0 A, with: scope', 'track-voltage-max'],
    ['reading: peak, of: shelf, voltage: -13.2 V, load: 0 A, with: scope', 'track-voltage-max'],
    ['reading: peak, of: shelf, voltage: 13.2 V, load: 0 A, with: quick scope', 'track-voltage-max'],
    ['reading: track, of: shelf, at: mill, voltage: 12.1 V, load: 2.3 A, with: bench', 'track-voltage-min'],
    ['reading: track, of: shelf, at: mill, voltage: 12.1 V, load: 2.3 A, with: bench', 'voltage-drop'],
    ['reading: trip, of: shelf, at: mill, time: 2.3 ms, with: scope', 'short-trip'],
  ])('%s: %s', (reading, clause) => {
    expect(of(measured(reading), clause)).toBe('met')
  })

  it('also where it names the present design', () => {
    const sum = designSum(loadDesign(shelf).design)
    const list = measured(`reading: trip, of: shelf, at: mill, time: 2.3 ms, with: scope, design: ${sum}`)
    expect(of(list, 'short-trip')).toBe('met')
  })
})

describe('notes that cannot be are refused with their line', () => {
  it.each<[string, RegExp]>([
    ['reading: track, of: shelf, voltage: 13 V, with: nobody', /no instrument "nobody"/],
    ['reading: track, of: shelf, voltage: 13 V, with: dc', /does not read track/],
    ['reading: track, of: shelf, current: 13 A, with: bench', /one value, its voltage; found current/],
    ['reading: track, of: shelf, with: bench', /one value, its voltage; found none/],
    ['reading: track, of: shelv, voltage: 13 V, with: bench', /nearest is "shelf"/],
    ['reading: supply, of: brick, voltage: 13 V, with: dc, never: true', /only a short/],
    ['reading: trip, of: shelf, at: mill, time: 0 s, with: scope', /no trip takes 0 s/],
  ])('%s', (reading, says) => {
    expect(() => withNotes([reading])).toThrow(says)
  })

  it('and a day that is none', () => {
    expect(() =>
      loadDesign(
        `${shelf}\nbenchNotes:${INSTRUMENTS}  readings:\n    - { reading: supply, of: brick, voltage: 13 V, with: dc, by: A, on: 2026-02-30 }\n`,
      ),
    ).toThrow(/no day of the calendar/)
  })
})
