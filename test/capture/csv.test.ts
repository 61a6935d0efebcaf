/** CSV as instruments write it: our own examples of what is common practice, no source. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { CaptureOptions } from '../../src/capture/index.js'
import { GAP } from '../../src/signal/index.js'
import { InputError } from '../../src/units/index.js'
import { runs } from '../runs.js'
import { everyEdge, everySample, HEX, LEVELS, levelAt, read, US } from './read.js'

const s = (us: number, places = 9) => (us / 1e6).toFixed(places)
const comma = (text: string) => text.replace('.', ',')
const volt = (level: number) => (level ? '14.8' : '-15.1')

/** 14.8 and -15.1 V with edges of 5 V/us. */
function voltAt(us: number): number {
  let i = US.findIndex((t) => t > us)
  if (i < 0) i = US.length
  const before = i > 0 ? us - US[i - 1]! : 99
  const after = i < US.length ? US[i]! - us : 99
  const side = (k: number) => (LEVELS[k] ? 1 : -1)
  if (before < 3) return side(i - 1) * 5 * before
  if (after < 3) return -side(i) * 5 * after
  return levelAt(us) ? 15 : -15
}

describe('dialects', () => {
  it.each<[string, string, CaptureOptions]>([
    ['a delimiter at the end of each row', `Time (s),D0,\n${everyEdge((t, l) => `${s(t)},${l},`)}`, {}],
    ['a header without it', `Time (s),D0\n${everyEdge((t, l) => `${s(t)},${l},`)}`, {}],
    ['a header after #', `# time [us],D0\n${everyEdge((t, l) => `${t.toFixed(3)},${l}`)}`, {}],
    ['comments among the rows', everyEdge((t, l, n) => `${n % 9 ? '' : '# a remark\n\n'}${s(t)},${l}`), {}],
    ['everything in quotes', `"Time (s)","D0"\n${everyEdge((t, l) => `"${s(t)}","${l}"`)}`, {}],
    [
      'quoted decimal commas between commas',
      `"Zeit (s)","D0"\n${everyEdge((t, l) => `"${comma(s(t))}","${l}"`)}`,
      {},
    ],
    ['trimmed zeros', everyEdge((t, l) => `${Number(s(t))},${l}`), {}],
    ['few digits in exponent form', everyEdge((t, l) => `${(t / 1e6).toExponential(8)},${l}`), {}],
    ['decimal commas in exponent form', everyEdge((t, l) => `${comma((t / 1e6).toExponential(8))};${l}`), {}],
    ['plus signs and blanks', everyEdge((t, l) => ` +${s(t)} ,  ${l} `), {}],
    ['times before zero', `Time (s),D0\n${everyEdge((t, l) => `${s(t - 50_000)},${l}`)}`, {}],
    [
      'times of day in seconds since 1970',
      `t [s],D0\n${everyEdge((t, l) => `17000000${s(10e6 + t)},${l}`)}`,
      {},
    ],
    [
      'nanoseconds beyond ten digits',
      `t (ns),D0\n${everyEdge((t, l) => `${Math.round(t * 1000) + 5e12},${l}`)}`,
      {},
    ],
    [
      'two logic voltages, changes only',
      `Time (s),D0\n${everyEdge((t, l) => `${s(t)},${l ? '3.3' : '0.0'}`)}`,
      {},
    ],
    ['Low and High', everyEdge((t, l) => `${s(t)},${l ? 'High' : 'Low'}`), {}],
    [
      'columns of hexadecimal and words',
      `Time (s),Bus,Note,D0\n${everyEdge((t, l, n) => `${s(t)},0x${n.toString(16)},idle,${l}`)}`,
      { channel: ['D0'] },
    ],
    [
      'a channel by its number, the time in the last column',
      `D0,D1,Time (s)\n${everyEdge((t, l) => `1,${l},${s(t)}`)}`,
      { channel: ['2'] },
    ],
    ['sample numbers with a rate', everyEdge((t, l) => `${Math.round(t * 4)},${l}`), { rateHz: 4e6 }],
    ['empty columns in front of the time', everyEdge((t, l) => `,,,${s(t)},${l}`), {}],
    [
      'settings in columns in front of the first rows',
      `Record,2500,,${s(0)},0\nInterval,1e-6,,${s(1)},0\n${everyEdge((t, l) => `,,,${s(t + 10)},${l}`)}`,
      {},
    ],
  ])('%s', (_, text, options) => {
    const { packets, reading } = read(text, options)
    expect(packets).toEqual(HEX)
    expect(reading.one.minUs).toBeCloseTo(58, 1)
    expect(reading.zero.maxUs).toBeCloseTo(100, 1)
  })

  it.each<[string, string, CaptureOptions]>([
    [
      'a sample number, its interval in the header',
      `X,CH1,Start,Increment\nSequence,Volt,0,1.000000E-06\n${everySample(1, (_t, l, n) => `${n},${volt(l)},,`)}`,
      {},
    ],
    [
      'units on a line of their own',
      `x-axis,1\nsecond,Volt\n${everySample(1, (t, l) => `${(t / 1e6).toExponential(7)},${volt(l)}`)}`,
      {},
    ],
    ['millivolts', `Time (us),CH1 (mV)\n${everySample(1, (t, l) => `${t},${l ? '14800' : '-15100'}`)}`, {}],
    [
      'two rails, subtracted',
      `Time (s),A,B\n${everySample(1, (t, l) => `${s(t)},${l ? '14.8' : '0.1'},${l ? '0.0' : '15.2'}`)}`,
      { channel: ['A-B'] },
    ],
  ])('analog: %s', (_, text, options) => {
    const { packets, summary, evidence } = read(text, options)
    expect(packets).toEqual(HEX)
    expect(summary.analog?.highVolt).toBeCloseTo(14.8, 1)
    expect(summary.analog?.lowVolt).toBeCloseTo(-15.1, 1)
    expect(evidence.find((e) => e.clause === 'track-voltage-max')?.verdict).toBe('met')
  })

  it('analog with slopes is judged on all four clauses of its shape', () => {
    const text = `Time (us);U (V)\n${everySample(0.5, (t) => `${comma(t.toFixed(1))};${comma(voltAt(t).toFixed(2))}`)}`
    const { packets, evidence, clock } = read(text)
    expect(packets).toEqual(HEX)
    expect(clock.resolutionUs).toBeCloseTo(0.05, 3)
    for (const clause of ['edge-rate', 'crossing-distortion', 'track-voltage-max', 'track-voltage-min'])
      expect(evidence.find((e) => e.clause === clause)?.verdict).toBe('met')
    expect(evidence.find((e) => e.clause === 'edge-rate')?.value.low).toBeCloseTo(5, 1)
  })
})

describe('the unit of the times', () => {
  const columns: [string, number, number][] = [
    ['us', 1, 3],
    ['ms', 1e3, 6],
    ['ns', 1e-3, 0],
    ['s', 1e6, 9],
  ]
  it.each(columns)(
    'is found from the levels of every sample: %s',
    (_, unitUs, places) => {
      for (const sampleUs of [0.25, 1]) {
        const digital = everySample(sampleUs, (t, l) => `${(t / unitUs).toFixed(places)},${l}`)
        expect(read(`Time,CH1\n${digital}`).packets, `${sampleUs} us`).toEqual(HEX)
        const analog = everySample(sampleUs, (t) => `${(t / unitUs).toFixed(places)},${voltAt(t).toFixed(2)}`)
        expect(read(`Time,CH1\n${analog}`).packets, `${sampleUs} us, analog`).toEqual(HEX)
      }
    },
    60_000,
  )

  it('is found though a fast record shows few half-bits at its beginning', () => {
    // 20 MS/s: 64 KiB are less than 200 us.
    const rows: string[] = []
    for (let n = 0; n * 0.05 < 9000; n++) rows.push(`${(n * 0.05).toFixed(2)},${voltAt(n * 0.05).toFixed(1)}`)
    expect(read(`Time,CH1\n${rows.join('\n')}\n`).packets).toEqual([HEX[0]])
  }, 60_000)

  it('is asked for where levels do not tell it', () => {
    const rows = Array.from({ length: 400 }, (_, n) => `${n * 7.3},${n % 2}`)
    expect(() => read(`Time,CH1\n${rows.join('\n')}\n`)).toThrow(
      /unit of its times.*state it, such as --unit us/,
    )
  })

  it('may be usec, or a micro sign of Latin-1', () => {
    const rows = everyEdge((t, l) => `${t.toFixed(3)},${l}`)
    expect(read(`Time (usec),D0\n${rows}`).packets).toEqual(HEX)
    const latin1 = Uint8Array.from(`Time (\xb5s),D0\n${rows}`, (c) => c.charCodeAt(0))
    const { packets, summary } = read(latin1)
    expect(packets).toEqual(HEX)
    expect(summary.notes.join()).not.toMatch(/unit/)
  })

  it.each(['No', 'Index', 'Sample', 'Row'])('a counter %s before the time is not taken for it', (title) => {
    for (const head of [`${title};Time (s);CH1\n`, `${title};Time;CH1\n`, `${title};Clock;CH1\n`]) {
      const { packets, evidence } = read(head + everyEdge((t, l, n) => `${n};${s(t)};${l}`), {
        channel: ['CH1'],
        unitUs: head.includes('(s)') ? undefined : 1e6,
      })
      expect(packets, head).toEqual(HEX)
      expect(evidence.some((e) => e.verdict === 'broken')).toBe(false)
    }
  })
})

describe('a gap in the record', () => {
  const without = (from: number, to: number) => (us: number) => us < from || us > to
  it.each([
    ['samples with times', (t: number, l: number) => `${s(t)},${l}`, {}],
    ['analog samples', (t: number) => `${s(t)},${voltAt(t).toFixed(2)}`, {}],
    ['numbered samples', (_t: number, l: number, n: number) => `${n},${l}`, { rateHz: 1e6 }],
  ] as const)('is one, and not the fault of the station: %s', (_, row, options) => {
    const kept = without(40_000, 43_000)
    const rows: string[] = []
    for (let n = 0; n < US.at(-1)!; n++) if (kept(n)) rows.push(row(n, levelAt(n), n))
    const title = 'rateHz' in options ? 'Sample' : 'Time (s)'
    const { edges, evidence, packets } = read(`${title},CH1\n${rows.join('\n')}\n`, options)
    const levels = [...edges.levels.subarray(0, edges.count)]
    expect(levels.filter((level) => level === GAP)).toHaveLength(1)
    expect(packets.length).toBeGreaterThan(HEX.length - 3)
    expect(evidence.filter((e) => e.verdict === 'broken').map((e) => `${e.clause}: ${e.because}`)).toEqual([])
  })
})

describe('resolution', () => {
  const seen = (text: string, options: CaptureOptions = {}) => read(text, options).summary.clock.resolutionUs

  it.each([
    [4, 0.25],
    [24, 1 / 24],
    [10, 0.1],
  ])('changes sampled at %s MHz and written in ns are known to %s us', (mhz, us) => {
    // The station's clock is 40 ppm off the sampler's.
    const sampled = (t: number) => Math.ceil(t * 1.00004 * mhz) / mhz
    expect(seen(`Time (s),D0\n${everyEdge((t, l) => `${s(sampled(t))},${l}`)}`)).toBeCloseTo(us, 2)
  })

  it('is the spacing of the rows where every sample is written', () => {
    expect(seen(`Time (s),D0\n${everySample(2, (t, l) => `${s(t)},${l}`)}`)).toBeCloseTo(2, 6)
  })

  it('is not mistaken for a half-bit by a file of nothing but ones', () => {
    const rows = Array.from({ length: 900 }, (_, i) => `${s(i * 58)},${i % 2}`)
    expect(seen(`Time (s),D0\n${rows.join('\n')}\n`)).toBeLessThanOrEqual(1)
  })

  it('gets worse with the digits of exponent form, and the verdict with it', () => {
    // Six digits: from 0.1 s on a microsecond, from 1 s on ten.
    const late = everyEdge((t, l) => `${((t + 1.2e6) / 1e6).toExponential(5)},${l}`)
    const { summary, evidence } = read(`Time (s),D0\n${late}`)
    expect(summary.clock.resolutionUs).toBeCloseTo(10, 6)
    expect(evidence.find((e) => e.clause === 'one-half')?.verdict).not.toBe('met')
  })

  it('is what is stated', () =>
    expect(
      seen(
        everyEdge((t, l) => `${s(t)},${l}`),
        { rateHz: 1e6 },
      ),
    ).toBe(1))
})

describe('bad files', () => {
  const good = everyEdge((t, l) => `${s(t)},${l}`)
  const lines = good.split('\n')
  const edited = (line: number, text: string) => lines.map((l, i) => (i === line - 1 ? text : l)).join('\n')

  it.each<[string, string | Uint8Array, RegExp, number | undefined, number | undefined]>([
    ['time going backwards', edited(40, '0.000001000,1'), /goes backwards: found 0.000001000 after/, 40, 1],
    ['a word for a time', edited(40, 'soon,1'), /"soon" in column 1; expected a time/, 40, 1],
    ['a date', edited(40, '12:30:01.5,1'), /"12:30:01.5" in column 1; expected a time/, 40, 1],
    ['a level that is none', edited(40, `${s(US[39]!)},2`), /"2" in column 2; expected 0 or 1/, 40, 13],
    ['a row that is too short', edited(40, s(US[39]!)), /expected another column/, 40, undefined],
    ['a NUL byte', edited(40, `${s(US[39]!)},1\0`), /NUL|binary/, undefined, undefined],
    ['NUL bytes at the end', `${good}\0\0\0\n`, /NUL|binary/, undefined, undefined],
    ['UTF-16', Uint8Array.from([0xff, 0xfe, 0x30, 0, 0x2c, 0]), /UTF-16/, 1, 1],
    ['something binary', Uint8Array.from([0x30, 1, 2, 3]), /binary/, undefined, undefined],
    ['only a header', 'Time (s),D0\n', /rows of numbers/, 1, 1],
    [
      'a header and half a row',
      'Time (s),D0\n0.00',
      /rows of numbers|last line|one column/,
      undefined,
      undefined,
    ],
    ['no rate for sample numbers', everySample(1, (_t, l, n) => `${n},${l}`), /--rate/, 1, 1],
  ])('%s', (_, text, says, line, column) => {
    let error: unknown
    try {
      read(text)
    } catch (e) {
      error = e
    }
    expect(error).toBeInstanceOf(InputError)
    const { message, place } = error as InputError
    expect(message).toMatch(says)
    if (line !== undefined) expect(place.line).toBe(line)
    if (column !== undefined) expect(place.column).toBe(column)
  })

  it('a last line that is cut anywhere changes nothing that came before it', () => {
    const whole = read(good)
    const lastLine = good.lastIndexOf('\n', good.length - 2) + 1
    for (let end = lastLine; end < good.length; end++) {
      const { edges } = read(good.slice(0, end))
      expect(edges.count).toBe(end === good.length - 1 ? whole.edges.count : whole.edges.count - 1)
      expect([...edges.ticks.subarray(0, edges.count)]).toEqual([
        ...whole.edges.ticks.subarray(0, edges.count),
      ])
    }
  })

  it('the careful rows and the quick ones agree, digit for digit', () => {
    // A blank sends a row to the careful loop.
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 3e9 }), fc.integer({ min: 0, max: 1 })), {
          minLength: 3,
        }),
        fc.integer({ min: 0, max: 13 }),
        fc.constantFrom('\n', '\r\n'),
        (steps, places, newline) => {
          let t = 0
          const rows = steps.map(([step, level]) => [
            ((t += step) / 10 ** Math.min(places, 9)).toFixed(places),
            level,
          ])
          const filler = Array.from({ length: 40 }, (_, i) => `${(i / 1e4).toFixed(places)},0`)
          const from = 1
          const text = (blank: string) =>
            [
              'Time (s),D0',
              ...(places > 4 ? filler : []),
              ...rows.map(([time, level]) => {
                const [whole, rest] = String(time).split('.')
                return `${Number(whole) + from}${rest === undefined ? '' : `.${rest}`},${blank}${level}`
              }),
              '',
            ].join(newline)
          const quick = read(text(''))
          const careful = read(text(' '))
          expect(quick.edges.count).toBe(careful.edges.count)
          expect([...quick.edges.ticks.subarray(0, quick.edges.count)]).toEqual([
            ...careful.edges.ticks.subarray(0, careful.edges.count),
          ])
        },
      ),
      { numRuns: runs(200) },
    )
  })
})
