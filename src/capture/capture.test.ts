import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import {
  type EdgeBlock,
  type EdgeClock,
  EdgeList,
  ENCODER_CLOCK,
  encodeSignal,
  type PacketRecord,
  SignalReader,
} from '../signal/index.js'
import { InputError } from '../units/index.js'
import { CaptureImporter, type CaptureOptions, type CaptureSummary, CsvWriter, VcdWriter } from './index.js'

const PACKETS = [
  [0x37, 0x74, 0x43],
  [0xff, 0x00, 0xff],
  [0x03, 0x3f, 0x80, 0xbc],
]
const SIGNAL = encodeSignal(Array.from({ length: 30 }, (_, i) => PACKETS[i % 3]!))
const HEX = Array.from({ length: 30 }, (_, i) => Buffer.from(PACKETS[i % 3]!).toString('hex'))

interface Read {
  summary: CaptureSummary
  edges: EdgeList
  clock: EdgeClock
  packets: string[]
  reading: ReturnType<SignalReader['finish']>
}

function read(
  file: string | Uint8Array,
  options: CaptureOptions = {},
  size = Number.POSITIVE_INFINITY,
): Read {
  const bytes = typeof file === 'string' ? new TextEncoder().encode(file) : file
  const edges = new EdgeList()
  let clock: EdgeClock = { tickUs: 1, resolutionUs: 0 }
  const packets: PacketRecord[] = []
  let reader: SignalReader | undefined
  const importer = new CaptureImporter(options, {
    begin(c) {
      clock = c
      reader = new SignalReader(c, { onPacket: (p) => packets.push(p) })
    },
    push(block: EdgeBlock) {
      edges.push(block)
      reader!.push(block)
    },
  })
  for (let i = 0; i < bytes.length; i += Math.min(size, bytes.length))
    importer.push(bytes.subarray(i, i + size))
  const summary = importer.end()
  return {
    summary,
    edges,
    clock,
    reading: reader!.finish(summary.endUs / summary.clock.tickUs),
    packets: packets.map((p) => Buffer.from(p.bytes).toString('hex')),
  }
}

/** Rows `time,level` in many dialects, from the same signal. */
function csv(
  o: {
    unit?: number
    places?: number
    delimiter?: string
    comma?: boolean
    head?: string
    newline?: string
    level?: (l: number) => string
    extra?: string
  } = {},
): string {
  const {
    unit = 1e6,
    places = 9,
    delimiter = ',',
    comma = false,
    head = '',
    newline = '\n',
    level = String,
    extra = '',
  } = o
  const rows: string[] = []
  for (let i = 0; i < SIGNAL.count; i++) {
    const time = (SIGNAL.ticks[i]! / 1000 / unit).toFixed(places)
    rows.push(`${comma ? time.replace('.', ',') : time}${delimiter}${level(SIGNAL.levels[i]!)}${extra}`)
  }
  return head + rows.join(newline) + newline
}

/** Every sample at a rate. */
function sampled(us: number, row: (t: number, level: number) => string, head = ''): string {
  const rows: string[] = []
  let at = 0
  for (let t = 0; at < SIGNAL.count - 1; t++) {
    while (at < SIGNAL.count - 1 && SIGNAL.ticks[at + 1]! / 1000 <= t * us) at++
    rows.push(row(t * us, SIGNAL.levels[at]!))
  }
  return `${head}${rows.join('\n')}\n`
}

describe('CSV dialects', () => {
  it.each<[string, string, CaptureOptions]>([
    ['seconds, no header', csv(), {}],
    ['seconds with a header', csv({ head: 'Time [s],main\n' }), {}],
    ['milliseconds', csv({ unit: 1e3, places: 6, head: 'time (ms),main\n' }), {}],
    ['microseconds', csv({ unit: 1, places: 3, head: 'time_us,main\n' }), {}],
    ['nanoseconds', csv({ unit: 1e-3, places: 0, head: 't[ns],main\n' }), {}],
    ['microseconds without a unit', csv({ unit: 1, places: 2 }), {}],
    ['semicolons and decimal commas', csv({ delimiter: ';', comma: true, head: 'Zeit (s);main\n' }), {}],
    ['tabs', csv({ delimiter: '\t' }), {}],
    ['CR LF and a byte order mark', csv({ head: '\ufeffTime (s),main\r\n', newline: '\r\n' }), {}],
    ['words in front', csv({ head: 'Model,"some scope"\nDate,today\n\nTime,main\ns,V\n' }), {}],
    ['spaces after commas', csv({ delimiter: ', ' }), {}],
    ['quotes', csv({ level: (l) => `"${l}"` }), {}],
    ['words for levels', csv({ level: (l) => (l ? 'H' : 'L') }), {}],
    ['more columns', csv({ extra: ',1,0' }), {}],
    ['channel by name', csv({ head: 'Time (s),rail_a,other\n', extra: ',1' }), { channel: ['RAIL_A'] }],
  ])('%s', (_, text, options) => {
    const { packets, reading } = read(text, options)
    expect(packets).toEqual(HEX)
    expect(reading.one.minUs).toBeCloseTo(58, 2)
    expect(reading.packets.valid).toBe(30)
  })

  it('reads exponents', () => {
    const rows = Array.from(
      { length: SIGNAL.count },
      (_, i) => `${(SIGNAL.ticks[i]! / 1e9).toExponential(9)},${SIGNAL.levels[i]}`,
    )
    expect(read(`s,level\n${rows.join('\n')}\n`).packets).toEqual(HEX)
  })

  it('every sample, and knows its resolution', () => {
    const { packets, clock } = read(sampled(1, (t, l) => `${(t / 1e6).toFixed(6)},${l}`))
    expect(packets).toEqual(HEX)
    expect(clock.resolutionUs).toBeCloseTo(1, 6)
  })

  it('sample numbers with a stated rate', () => {
    const text = sampled(2, (t, l) => `${t / 2},${l}`, 'sample,main\n')
    expect(read(text, { rateHz: 500_000 }).packets).toEqual(HEX)
    expect(() => read(text)).toThrow(/--rate/)
    expect(read(`Sample Rate: 500 kHz\n${text}`).packets).toEqual(HEX)
  })

  it('no time column, with a stated rate', () => {
    expect(
      read(
        sampled(2, (_, l) => `${l}`),
        { rateHz: 500_000 },
      ).packets,
    ).toEqual(HEX)
  })

  it('two logic channels subtracted, equal for a moment at each edge', () => {
    const rows: string[] = []
    for (let i = 0; i < SIGNAL.count; i++) {
      const us = SIGNAL.ticks[i]! / 1000
      const l = SIGNAL.levels[i]!
      if (i > 0) rows.push(`${(us - 0.2).toFixed(3)},0,0`)
      rows.push(`${us.toFixed(3)},${l},${1 - l}`)
    }
    const text = `time_us,a,b\n${rows.join('\n')}\n`
    expect(read(text, { channel: ['a-b'] }).packets).toEqual(HEX)
    expect(read(text, { channel: ['a', 'b'] }).packets).toEqual(HEX)
  })

  it('analog: thresholds, crossings, slope and amplitude are found', () => {
    const shape = (t: number, l: number) => {
      // 15 V plateaus, edges of 5 V/us through zero.
      let i = 0
      while (i < SIGNAL.count - 1 && SIGNAL.ticks[i + 1]! / 1000 <= t) i++
      const since = t - SIGNAL.ticks[i]! / 1000
      const to = l ? 15 : -15
      return Math.abs(since) < 6 ? Math.max(-15, Math.min(15, -to + (to > 0 ? 5 : -5) * since)) : to
    }
    const short = encodeSignal([PACKETS[0]!, PACKETS[1]!])
    const rows: string[] = []
    const end = short.ticks[short.count - 1]! / 1000
    for (let t = 0; t < end; t += 0.5) {
      let i = 0
      while (i < SIGNAL.count - 1 && SIGNAL.ticks[i + 1]! / 1000 <= t) i++
      rows.push(`${(t / 1e6).toFixed(9)},${shape(t, SIGNAL.levels[i]!).toFixed(3)},0.0`)
    }
    const { packets, summary, reading } = read(`Time (s),CH1,CH2\n${rows.join('\n')}\n`, {
      channel: ['CH1-CH2'],
    })
    expect(packets.slice(0, 2)).toEqual(HEX.slice(0, 2))
    expect(summary.analog?.slope?.rising.slowest).toBeCloseTo(5, 1)
    expect(summary.analog?.highVolt).toBeCloseTo(15, 1)
    expect(summary.analog?.bipolar).toBe(true)
    expect(summary.analog?.crossing.worstVolt).toBe(0)
    expect(reading.one.minUs).toBeCloseTo(58, 1)
  })

  it.each<[string, string, RegExp, number | undefined]>([
    ['time going backwards', 'time,level\n0.1,1\n0.2,0\n0.1,1\n', /backwards/, 4],
    ['words among rows', `${csv()}hello,1\n0.9,0\n`, /hello/, SIGNAL.count + 1],
    ['only a header', 'time,level\n', /rows of numbers/, 1],
    ['nothing', '', /empty/, 1],
    ['prose', 'once upon a time\nthere was\n', /once upon/, 1],
    [
      'times of day',
      'time,level\n05:00:00.000058,1\n05:00:00.000116,0\n',
      /time of day "05:00:00.000058"/,
      2,
    ],
    ['dates', 'level,time\n1,2026-11-29T05:00:00.1Z\n0,2026-11-29T05:00:00.2Z\n', /time of day "2026/, 2],
    ['a level that is none', `${csv()}0.9,7x\n0.91,0\n`, /7x/, SIGNAL.count + 1],
  ])('%s is refused', (_, text, says, line) => {
    try {
      read(text)
      expect.unreachable()
    } catch (error) {
      expect(error).toBeInstanceOf(InputError)
      expect((error as InputError).message).toMatch(says)
      expect((error as InputError).place.line).toBe(line)
    }
  })

  it('leaves out a last line that may be cut', () => {
    const text = csv()
    const { summary, packets } = read(text.slice(0, -5))
    expect(summary.notes.join()).toMatch(/last line/)
    expect(packets.length).toBeGreaterThanOrEqual(29)
  })
})

describe('VCD', () => {
  const header =
    '$date today $end $version x $end $timescale 1 ns $end\n$scope module top $end\n$var wire 1 ! clk $end\n$var wire 1 "# main $end\n$var wire 4 % bus [3:0] $end\n$var real 64 & volts $end\n$upscope $end\n$enddefinitions $end\n'
  const body = (form: (l: number) => string) => {
    const parts = ['$dumpvars\n0!\n0"#\nb0000 %\nr0 &\n$end\n']
    for (let i = 0; i < SIGNAL.count; i++)
      parts.push(`#${SIGNAL.ticks[i]}\n${i % 2}!\n${form(SIGNAL.levels[i]!)}\nr1.5e3 &\n`)
    return parts.join('')
  }

  it.each<[string, (l: number) => string, string]>([
    ['a scalar by its full name', (l) => `${l}"#`, 'top.main'],
    ['a scalar by the end of its name', (l) => `${l}"#`, 'main'],
    ['a bit of a vector', (l) => `b${l}0${1 - l} %`, 'bus[2]'],
    ['another bit', (l) => `b10${l}0 %`, 'top.bus[1]'],
    ['the top bit of a short vector', (l) => (l ? 'b1000 %' : 'b0 %'), 'bus[3]'],
  ])('%s', (_, form, channel) =>
    expect(read(header + body(form), { channel: [channel] }).packets).toEqual(HEX),
  )

  it.each([
    ['1 us', 1000],
    ['10 ns', 10],
    ['100ps', 0.1],
    ['1\nms', 1e6],
  ])('timescale %s', (scale, ns) => {
    const parts = [`$timescale ${scale} $end $var wire 1 ! a $end $enddefinitions $end\n`]
    for (let i = 0; i < SIGNAL.count; i++)
      parts.push(`#${Math.round(SIGNAL.ticks[i]! / ns)}\n${SIGNAL.levels[i]}!\n`)
    const { packets, clock } = read(parts.join(''))
    expect(clock.tickUs).toBeCloseTo(ns / 1000, 9)
    if (ns < 1e5) expect(packets).toEqual(HEX)
  })

  it('takes x as unknown and z as off', () => {
    const text = `${header}#0\n1"#\n#58000\nx"#\n#1000000\n0"#\n#1100000\nz"#\n`
    expect([...read(text, { channel: ['main'] }).edges.levels.slice(0, 4)]).toEqual([1, 3, 0, 2])
  })

  it.each<[string, string, RegExp]>([
    ['no such channel', header + body((l) => `${l}"#`), /no channel "mian".*"main"|nearest/],
    ['no timescale', '$var wire 1 ! a $end $enddefinitions $end\n#0\n1!\n', /no \$timescale/],
    ['a bad timescale', '$timescale 3 ns $end', /timescale/],
    ['the end in the header', '$timescale 1 ns $end\n$var wire', /ends in its header/],
    [
      'time going backwards',
      '$timescale 1 ns $end $var wire 1 ! a $end $enddefinitions $end\n#5\n1!\n#4\n0!\n',
      /backwards/,
    ],
    ['rubbish', '$timescale 1 ns $end $var wire 1 ! a $end $enddefinitions $end\n#5\nhello\n', /hello/],
  ])('%s is refused', (name, text, says) => {
    expect(() => read(text, name === 'no such channel' ? { channel: ['mian'] } : {})).toThrow(says)
  })
})

describe('raw samples', () => {
  const bits: number[] = []
  for (let t = 0, at = 0; at < SIGNAL.count - 1; t += 2) {
    while (at < SIGNAL.count - 1 && SIGNAL.ticks[at + 1]! / 1000 <= t) at++
    bits.push(SIGNAL.levels[at]!)
  }
  it.each<[string, Uint8Array, CaptureOptions]>([
    ['one bit, first lowest', pack(bits, 1, false), { bits: 1 }],
    ['one bit, first highest', pack(bits, 1, true), { bits: 1, bigEndian: true }],
    ['bit 2 of a byte', Uint8Array.from(bits, (b) => (b << 2) | 1), { bits: 8, channel: ['2'] }],
    ['analog byte', Uint8Array.from(bits, (b) => (b ? 200 : 50)), { bits: 8 }],
    [
      'analog words',
      new Uint8Array(Int16Array.from(bits, (b) => (b ? 15_000 : -15_000)).buffer),
      { bits: 16, signed: true, stepVolt: 0.001 },
    ],
  ])('%s', (_, bytes, options) => {
    expect(read(bytes, { format: 'raw', rateHz: 500_000, ...options }).packets).toEqual(HEX)
  })
  it('needs a rate', () => expect(() => read(new Uint8Array(9), { format: 'raw' })).toThrow(/--rate/))
})

function pack(bits: number[], width: number, high: boolean): Uint8Array {
  const out = new Uint8Array(Math.ceil(bits.length / 8))
  bits.forEach((b, i) => {
    out[i >> 3]! |= b << (high ? 8 - width - (i & 7) : i & 7)
  })
  return out
}

describe('any capture', () => {
  const files = [
    csv(),
    csv({ head: 'Time [s];main\n', delimiter: ';', comma: true, newline: '\r\n' }),
    new VcdWriter(ENCODER_CLOCK, { command: 'wave' }).write(SIGNAL),
  ]

  it('is the same in chunks of any size', () => {
    for (const file of files) {
      const whole = read(file)
      fc.assert(
        fc.property(fc.integer({ min: 1, max: 5000 }), (size) => {
          const parts = read(file, {}, size)
          expect(parts.edges.count).toBe(whole.edges.count)
          expect(parts.edges.ticks.slice(0, parts.edges.count)).toEqual(
            whole.edges.ticks.slice(0, whole.edges.count),
          )
        }),
        { numRuns: runs(15) },
      )
    }
  })

  it('comes back as it was exported', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 1000, max: 1e7 }), fc.integer({ min: 0, max: 2 })), {
          minLength: 3,
          maxLength: 100,
        }),
        (steps) => {
          const edges = new EdgeList()
          let tick = 0
          for (const [step, level] of steps) {
            tick += step
            if (edges.count === 0 ? level < 2 : level !== edges.levels[edges.count - 1])
              edges.add(tick, level)
          }
          if (edges.count < 2) return
          for (const file of [
            new VcdWriter(ENCODER_CLOCK, { command: 'wave' }).write(edges),
            new CsvWriter(ENCODER_CLOCK, { command: 'wave' }).write(edges),
          ]) {
            const back = read(file)
            expect(back.edges.count).toBe(edges.count)
            for (let i = 0; i < edges.count; i++) {
              expect(back.edges.ticks[i]! * back.clock.tickUs).toBeCloseTo(edges.ticks[i]! / 1000, 3)
              expect(back.edges.levels[i]).toBe(edges.levels[i])
            }
          }
        },
      ),
      { numRuns: runs(200) },
    )
  })

  it('window: skip, from, to', () => {
    const { edges } = read(csv(), { fromUs: 10_000, toUs: 20_000 })
    expect(edges.ticks[0]! / 1000).toBeGreaterThanOrEqual(10_000)
    expect(edges.ticks[edges.count - 1]! / 1000).toBeLessThanOrEqual(20_000)
  })

  it('does not keep a line without end', () => {
    const endless = new Uint8Array(1 << 20).fill(49)
    const importer = new CaptureImporter({}, { begin() {}, push() {} })
    expect(() => {
      for (let i = 0; i < 50; i++) importer.push(endless)
    }).toThrow(/more than/)
  })
})
