/** Damaged and senseless captures: an error with a place, or a reading; never a crash, a hang, or damage passed over. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { CaptureOptions } from '../../src/capture/index.js'
import { InputError } from '../../src/units/index.js'
import { runs } from '../runs.js'
import { everyEdge, everySample, levelAt, read } from './read.js'

/** Tries in all. */
const TRIES = 2500

const text = (s: string) => new TextEncoder().encode(s)
const seconds = (us: number) => (us / 1e6).toFixed(9)
const csvHead = 'Time (s),D0\n'
const csv = csvHead + everyEdge((us, l) => `${seconds(us)},${l}`)
const vcdHead = '$timescale 1 ns $end\n$var wire 1 ! main $end\n$enddefinitions $end\n'
const vcd = vcdHead + everyEdge((us, l) => `#${Math.round(us * 1000)}\n${l}!`)
const analogHead = 'Time (s);A;B\n'
const analog =
  analogHead +
  everySample(8, (us, l) => `${seconds(us).replace('.', ',')};${l ? '7,5' : '-7,5'};${l ? '-7,4' : '7,4'}`)

const FILES: [string, Uint8Array, CaptureOptions][] = [
  ['VCD', text(vcd.slice(0, 8000)), {}],
  ['CSV', text(csv.slice(0, 8000)), {}],
  ['analog CSV', text(analog.slice(0, 30_000)), { channel: ['A-B'] }],
  [
    'raw',
    Uint8Array.from({ length: 6000 }, (_, i) => levelAt(i * 4) * 200),
    { format: 'raw', rateHz: 250_000, bits: 8 },
  ],
]

describe('a cell that cannot be read', () => {
  const rows = Array.from({ length: 300 }, (_, i) => `${58 * (i + 1)},${i % 2}`)
  const withBad = (row: number, n = rows.length) =>
    text(
      [
        'time (us),ch1',
        ...rows.slice(0, n).map((r, i) => (i === row ? r.replace(/.$/, 'oops') : r)),
        '',
      ].join('\n'),
    )

  it.each([
    [0, 300],
    [3, 300],
    [250, 300],
    [1, 2],
  ])('in row %s of %s is named with its own line', (row, n) => {
    try {
      read(withBad(row, n), {}, 1 << 16)
      expect.unreachable()
    } catch (error) {
      expect(error).toBeInstanceOf(InputError)
      expect((error as InputError).message).toContain('"oops"')
      expect((error as InputError).place.line).toBe(row + 2)
    }
  })
})

/** Whatever comes, it is a reading that holds together or an error for people. */
function survives(bytes: Uint8Array, options: CaptureOptions, chunk: number): void {
  try {
    const { edges, evidence, summary } = read(bytes, options, chunk)
    for (let i = 1; i < edges.count; i++) {
      expect(edges.ticks[i]!).toBeGreaterThanOrEqual(edges.ticks[i - 1]!)
      expect(edges.levels[i]!).not.toBe(edges.levels[i - 1]!)
    }
    expect(summary.clock.tickUs).toBeGreaterThan(0)
    for (const e of evidence) {
      expect(Number.isNaN(e.value.low) || Number.isNaN(e.value.high)).toBe(false)
      if (e.verdict === 'met') expect(edges.count).toBeGreaterThan(1)
    }
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    expect(error.message.length).toBeLessThan(2000)
    expect(error.message).not.toMatch(/undefined|NaN|\[object/)
  }
}

function fuzz<T>(share: number, arbitrary: fc.Arbitrary<T>, check: (value: T) => void): void {
  fc.assert(fc.property(arbitrary, check), { numRuns: runs(share * TRIES) })
}

describe('a damaged capture', () => {
  it.each(FILES)('%s: pieces changed, left out, doubled', (_, bytes, options) => {
    const at = fc.nat(bytes.length - 1)
    const piece = fc.oneof(
      fc.uint8Array({ maxLength: 8 }),
      fc
        .constantFrom(
          '\0',
          '\n',
          ',',
          '"',
          '#',
          '-',
          '1e999',
          '1e-999',
          '$end',
          '$comment',
          'x',
          '9'.repeat(400),
        )
        .map(text),
      fc.tuple(at, fc.nat(60)).map(([from, n]) => bytes.subarray(from, from + n)),
    )
    const edits = fc.array(fc.tuple(at, piece, fc.nat(20)), { minLength: 1, maxLength: 5 })
    fuzz(0.15, fc.tuple(edits, fc.integer({ min: 1, max: 5000 })), ([list, chunk]) => {
      let now = bytes
      for (const [from, put, cut] of list)
        now = Uint8Array.from([...now.subarray(0, from), ...put, ...now.subarray(from + cut)])
      survives(now, options, chunk)
    })
  })

  it('anything at all, as any format', () => {
    const options = fc.constantFrom<CaptureOptions>(
      {},
      { format: 'vcd' },
      { format: 'csv' },
      { format: 'csv', rateHz: 1e6, as: 'analog' },
      { format: 'raw', rateHz: 1e6, bits: 1 },
      { format: 'raw', rateHz: 1e6, bits: 16, signed: true },
      { channel: ['1', '2'] },
    )
    const words = fc
      .array(
        fc.constantFrom(
          '$var',
          'wire',
          '1',
          '!',
          '$end',
          '$enddefinitions',
          '#0',
          '#5',
          '1!',
          'b1',
          'Time',
          '0.1',
          ',',
          ';',
          '\t',
          '\n',
          '"',
          '-',
          'e',
          'x',
        ),
      )
      .map((list) => text(list.join(' ')))
    fuzz(
      0.25,
      fc.tuple(fc.oneof(fc.uint8Array({ maxLength: 600 }), words), options, fc.integer({ min: 1, max: 700 })),
      ([bytes, o, chunk]) => survives(bytes, o, chunk),
    )
  })

  // No row and no word that counts is passed over because something in it is wrong.
  it.each([
    ['CSV', csv, csvHead.length],
    ['VCD', vcd, vcdHead.length],
    ['analog CSV', analog.slice(0, 60_000), analogHead.length],
  ])('%s: a letter that does not belong there is always an error', (_, file, head) => {
    const channel = file.startsWith(analogHead) ? { channel: ['A-B'] } : {}
    const last = file.lastIndexOf('\n')
    fc.assert(
      fc.property(fc.integer({ min: head, max: last - 1 }), fc.constantFrom('@', '?', '\0'), (at, letter) => {
        const damaged = file.slice(0, at) + letter + file.slice(at + 1, last + 1)
        expect(() => read(damaged, channel)).toThrow(InputError)
      }),
      { numRuns: runs(60) },
    )
  })

  it('memory stays small, whatever is endless', () => {
    for (const unit of ['1', '"', ',', ' ', '\n', '1,', '#1 ', '$comment ']) {
      const endless = text(unit.repeat(Math.floor(1e6 / unit.length)))
      for (const options of [{ format: 'csv', rateHz: 1e6 }, { format: 'vcd' }, {}] as CaptureOptions[]) {
        const whole = new Uint8Array(8 * endless.length)
        for (let i = 0; i < 8; i++) whole.set(endless, i * endless.length)
        survives(whole, options, 1 << 20)
      }
    }
  })

  it('the files are sound before they are damaged', () => {
    for (const [, bytes, options] of FILES) expect(read(bytes, options).packets.length).toBeGreaterThan(0)
  })
})
