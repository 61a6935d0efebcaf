import { describe, expect, it } from 'vitest'
import { EdgeList, encodeSignal, HIGH } from '../signal/index.js'
import type { CaptureFormat } from './formats.data.js'
import { CaptureImporter } from './import.js'
import type { CaptureOptions } from './importer.js'
import { CaptureMarks, HEAD_BYTES, headEnd, rawStart, recordStart, stretchOptions } from './stretch.js'

/** Invented: one packet again and again, until the files are longer than their heads by far. */
const SIGNAL = encodeSignal(Array.from({ length: 400 }, () => [3, 0x3f, 0x85, 3 ^ 0x3f ^ 0x85]))
const US = Array.from({ length: SIGNAL.count }, (_, i) => SIGNAL.ticks[i]! / 1000)
const END = US.at(-1)!
const text = (lines: string[]) => new TextEncoder().encode(`${lines.join('\n')}\n`)

const level = (i: number) => (SIGNAL.levels[i] === HIGH ? 1 : 0)
const CSV = text(['Time [us],main', ...US.map((t, i) => `${t.toFixed(6)},${level(i)}`)])
const VCD = text([
  '$timescale 1 ns $end',
  '$var wire 1 ! main $end',
  '$enddefinitions $end',
  ...US.map((t, i) => `#${Math.round(t * 1000)}\n${level(i)}!`),
])
// One bit every microsecond.
const RAW = new Uint8Array(Math.ceil(END / 8))
for (let n = 0, i = 0; n < END; n++) {
  while (i + 1 < US.length && US[i + 1]! <= n) i++
  if (level(i)) RAW[n >> 3]! |= 1 << (n & 7)
}

function read(bytes: Uint8Array, options: CaptureOptions, parts: [number, number][], marks?: CaptureMarks) {
  const edges = new EdgeList()
  let tickUs = 1
  const importer = new CaptureImporter(options, {
    begin: (clock) => {
      tickUs = clock.tickUs
    },
    push: (block) => edges.push(block),
  })
  for (const [from, to] of parts) {
    for (let at = from; at < to && !importer.done; at += 4096) {
      marks?.note(at, importer.reachedUs)
      importer.push(bytes.subarray(at, Math.min(to, at + 4096)))
    }
  }
  importer.end()
  return Array.from({ length: edges.count }, (_, i) => [edges.ticks[i]! * tickUs, edges.levels[i]!] as const)
}

describe.each<[CaptureFormat, Uint8Array, CaptureOptions]>([
  ['csv', CSV, {}],
  ['vcd', VCD, {}],
  ['raw', RAW, { format: 'raw', rateHz: 1e6, bits: 1 }],
])('a stretch of %s', (format, bytes, options) => {
  const marks = new CaptureMarks(format === 'raw' ? 4096 : 8192)
  const whole = read(bytes, options, [[0, bytes.length]], marks)

  it.each([0, 0.3, 0.6, 0.9])('read again at %s of the record has the same edges', (share) => {
    const from = END * share
    const to = from + 20_000
    const plan = marks.plan(from, to, bytes.length)
    const wanted = stretchOptions(options, format, from, to)
    let found: (readonly [number, number])[]
    if (format === 'raw') {
      const start = rawStart(plan.from, 1)
      found = read(bytes, { ...wanted, firstSample: start.firstSample }, [[start.byte, plan.to]])
    } else if (plan.needsHead) {
      const head = headEnd(format, bytes.subarray(0, HEAD_BYTES))
      const start = plan.from + recordStart(format, bytes.subarray(plan.from))
      found = read(bytes, wanted, [
        [0, head],
        [start, plan.to],
      ])
      expect(plan.to - plan.from).toBeLessThan(bytes.length / 3)
    } else found = read(bytes, wanted, [[0, plan.to]])
    // A first level that only says what was before is no edge of the whole record.
    const same = whole.filter(([t]) => t >= from && t <= to)
    expect(same.length).toBeGreaterThan(200)
    expect(found.slice(-same.length)).toEqual(same)
    expect(found.length - same.length).toBeLessThanOrEqual(1)
  })
})

describe('cutting', () => {
  it('keeps whole lines, and begins a VCD at a time', () => {
    const part = new TextEncoder().encode('345\n1!\n#400\n0!\n#50')
    expect(recordStart('vcd', part)).toBe(7)
    expect(recordStart('csv', part)).toBe(4)
    expect(recordStart('csv', part.subarray(0, 2))).toBe(-1)
    expect(headEnd('vcd', part)).toBe(15)
    expect(headEnd('csv', part)).toBe(15)
    expect(headEnd('vcd', part.subarray(0, 14))).toBe(7)
    expect(rawStart(7, 16)).toEqual({ byte: 6, firstSample: 3 })
    expect(rawStart(7, 2)).toEqual({ byte: 7, firstSample: 28 })
  })
})
