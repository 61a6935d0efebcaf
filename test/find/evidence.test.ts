/** A capture and bench notes taken as readings. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import {
  Finder,
  parseReading,
  type Reading,
  readingsOfCapture,
  readingsOfNotes,
  writtenReading,
} from '../../src/find/index.js'
import { outputOf, readerOptions } from '../../src/proof/index.js'
import { EdgeList, readSignal } from '../../src/signal/index.js'
import { finderOf } from './designs.js'

const file = new URL('../../examples/shelf/halfbit.yaml', import.meta.url).pathname
const text = readFileSync(file, 'utf8')
const shelf = finderOf('shelf')

interface Sent {
  preamble?: number
  /** One half-bit in each packet is so much longer. */
  lateUs?: number
  packets?: number
}

/** Idle packets bit by bit, as S-9.1 and S-9.2 describe them: half-bits of two durations, FF 00 FF between zeros. */
function captured(oneUs: number, zeroUs: number, { preamble = 16, lateUs = 0, packets = 200 }: Sent = {}) {
  const edges = new EdgeList()
  let at = 0
  const bit = (isOne: boolean, late = 0) => {
    const us = isOne ? oneUs : zeroUs
    edges.add(at, 1)
    edges.add(at + us + late, 0)
    at += 2 * us + late
  }
  for (let p = 0; p < packets; p++) {
    for (let i = 0; i < preamble; i++) bit(true, i === 3 ? lateUs : 0)
    for (const byte of [0xff, 0x00, 0xff]) {
      bit(false)
      for (let i = 7; i >= 0; i--) bit(((byte >> i) & 1) === 1)
    }
    bit(true)
  }
  const options = readerOptions(outputOf(shelf.station.loaded, 'main'))
  const { reading } = readSignal(edges, { tickUs: 1, resolutionUs: 0.1 }, options, at)
  return readingsOfCapture(shelf.spots, 'main', reading)
}

const values = (readings: readonly Reading[]) =>
  Object.fromEntries(readings.map((r) => [r.spot.quantity, Number(r.value)]))
const first = (readings: readonly Reading[]) => shelf.diagnose(readings).ranking[0]!.hypothesis.kinds

describe('a capture', () => {
  it('shows half-bits, preamble and late edges as readings', () => {
    const shown = values(captured(58, 100))
    expect(shown['half of a one']).toBeCloseTo(58, 1)
    expect(shown['preamble']).toBeGreaterThanOrEqual(16)
    expect(shown['preamble']).toBeLessThanOrEqual(17)
    expect(shown['lateness']).toBeLessThan(1)
  })

  it('is written as people write readings, and read back the same', () => {
    for (const reading of captured(58.123, 100.4)) {
      const again = parseReading(shelf.station, shelf.spots, writtenReading(reading))
      expect({ ...again, value: 0 }).toEqual({ ...reading, value: 0 })
      expect(Number(again.value)).toBeCloseTo(Number(reading.value), 6)
    }
  })

  it('is told from a station without a fault where its preamble is short, an edge late, or its clock another', () => {
    expect(first(captured(58, 100, { preamble: 9 }))).toEqual(['wrong-preamble'])
    expect(first(captured(58, 100, { lateUs: 5.9 }))).toEqual(['late-interrupt'])
    expect(values(captured(464, 800))['half of a one']).toBeCloseTo(464, -1)
    expect(['wrong-clock', 'wrong-prescaler']).toContain(first(captured(464, 800))[0])
    expect(['wrong-clock', 'wrong-prescaler']).toContain(first(captured(29, 50))[0])
    expect(first(captured(65, 112))).toEqual(['wrong-load'])
  })

  it('says nothing of rare delays where it is short, and takes no signal for none', () => {
    expect(values(captured(58, 100, { packets: 10 }))['lateness']).toBeUndefined()
    const none = readSignal(new EdgeList(), { tickUs: 1, resolutionUs: 0.1 }, {}, 1e6).reading
    expect(values(readingsOfCapture(shelf.spots, 'main', none))).toEqual({ 'half of a one': 0 })
  })
})

const NOTES = `
benchNotes:
  instruments:
    good meter: { kind: rms, accuracy: 0.5 %, digits: 0.02, bandwidth: 100 kHz }
    plain meter: { kind: dc, accuracy: 0.5 % }
    watch: { kind: stopwatch }
  readings:
    - { reading: track, of: shelf, at: mill, voltage: 9.4 V, with: good meter, by: A, on: 2026-05-02 }
    - { reading: supply, of: brick, voltage: 15 V, with: plain meter, by: A, on: 2026-05-02 }
    - { reading: track, of: shelf, at: mill, voltage: 9.2 V, load: 0.8 A, with: good meter, by: A, on: 2026-05-02 }
    - { reading: trip, of: shelf, time: 2 s, with: watch, by: A, on: 2026-05-02 }
    - { reading: track, of: shelf, at: mill, voltage: 13 V, with: good meter, by: A, on: 2026-05-02, design: "0000000000" }
    - { reading: track, of: shelf, at: mill, voltage: 13 V, with: good meter, by: A, on: 2025-01-01 }
`

describe('bench notes', () => {
  const loaded = loadDesign(text + NOTES, file)
  const finder = new Finder(loaded)

  it('become readings with the error of their own instrument, and say which do not', () => {
    const { readings, unused } = readingsOfNotes(loaded, finder.spots, { since: '2026-01-01' })
    expect(readings.map((r) => [r.spot.key, r.instrument, r.value])).toEqual([
      ['track mill: track volts', 'rms meter', 9.4],
      ['supply brick: supply volts', 'dc meter', 15],
    ])
    expect(readings[0]!.error).toEqual({ share: 0.005, fixed: 0.02 })
    expect(unused.map((f) => f.sentence)).toEqual([
      expect.stringContaining('under a load'),
      expect.stringContaining('the fault finder has no such reading'),
      expect.stringContaining('another version of the design'),
    ])
  })

  it('weigh more where their instrument is better', () => {
    const spot = finder.spots.find((s) => s.key === 'district shelf: output volts')!
    const usual = finder.expected(0, spot)[0]
    if (!usual || !('span' in usual)) throw new Error('no figure')
    const value = usual.span.high * 0.9
    const sound = (error?: { share: number; fixed: number }) =>
      finder
        .diagnose([{ spot, instrument: 'rms meter', value, ...(error ? { error } : {}) }])
        .ranking.find((r) => r.hypothesis.id === 'sound')?.probability ?? 0
    expect(sound({ share: 0.002, fixed: 0.01 })).toBeLessThan(sound({ share: 0.2, fixed: 1 }))
  })
})
