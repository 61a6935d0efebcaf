/** Value change dumps. Grammar and meaning: IEEE 1364-2005, section 18 (from memory); the examples are ours. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { type CaptureOptions, VcdWriter } from '../../src/capture/index.js'
import { EdgeList, ENCODER_CLOCK, GAP, HIGH, LOW, OFF } from '../../src/signal/index.js'
import { InputError } from '../../src/units/index.js'
import { runs } from '../runs.js'
import { HEX, LEVELS, levelAt, PACKETS, read, SIGNAL, US } from './read.js'

const ns = US.map((us) => Math.round(us * 1000))
const HEADER = '$timescale 1 ns $end\n$var wire 1 ! main $end\n$enddefinitions $end\n'

/** Level after each edge that was read, in order. */
function levelsOf(text: string, options: CaptureOptions = {}): [number, number][] {
  const { edges } = read(text, options)
  return Array.from({ length: edges.count }, (_, i) => [edges.ticks[i]!, edges.levels[i]!])
}

describe('the grammar', () => {
  it('takes any blanks between words, comments anywhere, and all of it on one line', () => {
    const changes = ns.map((t, i) => `#${t} $comment # 1! $dumpoff $end ${LEVELS[i]}!`)
    const text = `$date today $end $version ours $end $timescale 1ns $end $scope module top $end $var wire 1 ! main $end $upscope $end $enddefinitions $end $comment two
lines $end $dumpvars x! $end ${changes.join('\t')} `
    for (const chunk of [1, 7, 100, 1 << 20]) expect(read(text, {}, chunk).packets).toEqual(HEX)
  })

  it('reads a vector extended on the left by 0, x or z', () => {
    const header = '$timescale 1 us $end $var reg 4 " bus [7:4] $end $enddefinitions $end\n'
    const body = '#0\nb0 "\n#10\nb1 "\n#20\nb1000 "\n#30\nbx1 "\n#40\nBZ "\n#50\nb1111 "\n'
    expect(levelsOf(header + body, { channel: ['bus[7]'] })).toEqual([
      [0, LOW],
      [20, HIGH],
      [30, GAP],
      [40, OFF],
      [50, HIGH],
    ])
    expect(levelsOf(header + body, { channel: ['bus[4]'] })).toEqual([
      [0, LOW],
      [10, HIGH],
      [20, LOW],
      [30, HIGH],
      [40, OFF],
      [50, HIGH],
    ])
  })

  it('knows nothing between $dumpoff and $dumpon', () => {
    const body =
      '#0\n$dumpvars\n0!\n$end\n#100\n1!\n#200\n$dumpoff\nx!\n$end\n#300\n1!\n#400\n$dumpon\n0!\n$end\n#500\n1!\n'
    expect(levelsOf(HEADER + body)).toEqual([
      [0, LOW],
      [100, HIGH],
      [200, GAP],
      [400, LOW],
      [500, HIGH],
    ])
  })

  it('lets the last of several changes at one time count', () => {
    expect(levelsOf(`${HEADER}#0\n0!\n#100\n1!\n0!\n1!\n#200\n1!\n0!\n1!\n#300\n0!\n`)).toEqual([
      [0, LOW],
      [100, HIGH],
      [300, LOW],
    ])
  })

  it('keeps scopes, codes of any length and several names of one signal apart', () => {
    const header = `$timescale 1 ns $end
$scope module a $end $var wire 1 !!! out $end $upscope $end
$scope module b $end $scope task c $end $var wire 1 !! out $end $var wire 1 !!! same $end $upscope $end $upscope $end
$enddefinitions $end
`
    const body = ns.map((t, i) => `#${t}\n${LEVELS[i]}!!!\n${1 - LEVELS[i]!}!!\n`).join('')
    for (const channel of [['a.out'], ['same'], ['c.out'], ['a.out-b.c.out'], ['c.same', 'c.out']])
      expect(read(header + body, { channel }).packets).toEqual(HEX)
    expect(() => read(header + body, { channel: ['out'] })).toThrow(/could be a\.out or b\.c\.out/)
    expect(() => read(header + body, { channel: ['b.c.ouch'] })).toThrow(/the nearest is "b\.c\.out"/)
  })

  it('reads two outputs with dead time between them as one signal', () => {
    const header =
      '$timescale 1 ns $end $var wire 1 a high $end $var wire 1 b low $end $enddefinitions $end\n'
    // One goes low 2 us before the other goes high.
    const events = ns.flatMap((t, i) => {
      const [on, off] = LEVELS[i] ? ['a', 'b'] : ['b', 'a']
      return [`#${t + 9000}\n0${off}\n`, `#${t + 11_000}\n1${on}\n`]
    })
    const { packets, edges } = read(header + events.join(''), { channel: ['high-low'] })
    expect(packets).toEqual(HEX)
    expect(edges.ticks[1]).toBe(ns[1]! + 10_000)
  })

  it('reads real numbers as voltages, and holds them between their changes', () => {
    const header = '$timescale 1 us $end $var real 64 v rails $end $enddefinitions $end\n'
    const parts: string[] = []
    let last = ''
    for (let t = 0; t < US.at(-1)!; t++) {
      const now = levelAt(t) ? 'r15.25 v' : 'r-15.25 v'
      if (now !== last) parts.push(`#${t}\n${now}\n`)
      last = now
    }
    const { packets, summary } = read(header + parts.join(''), { channel: ['rails'] })
    expect(packets.slice(0, -1)).toEqual(HEX.slice(0, -1))
    expect(summary.analog?.maxVolt).toBe(15.25)
    expect(summary.analog?.bipolar).toBe(true)
  })

  it('reads times beyond the whole numbers', () => {
    const far = ns.map((t, i) => `#${BigInt(t) * 1_000_000n + 20_000_000_000_000_000n}\n${LEVELS[i]}!\n`)
    const text = `$timescale 1 fs $end $var wire 1 ! main $end $enddefinitions $end\n${far.join('')}`
    expect(read(text).packets).toEqual(HEX)
  })

  it.each(['1 s', '10 ms', '100us', '1\tns', '10 ps', '100 fs'])('timescale %s', (text) => {
    const [, number, unit] = /(\d+)\s*(\w+)/.exec(text)!
    const us = Number(number) * { s: 1e6, ms: 1e3, us: 1, ns: 1e-3, ps: 1e-6, fs: 1e-9 }[unit!]!
    const { clock } = read(HEADER.replace('1 ns', text) + '#0\n0!\n#1\n1!\n')
    expect(clock.tickUs).toBeCloseTo(us, 12)
  })
})

describe('bad files', () => {
  const body = ns.map((t, i) => `#${t}\n${LEVELS[i]}!\n`).join('')
  it.each<[string, string, RegExp, number, number]>([
    ['no timescale', HEADER.replace('$timescale 1 ns $end\n', ''), /no \$timescale/, 2, 1],
    ['an impossible timescale', HEADER.replace('1 ns', '5 ns'), /timescale "5ns"/, 1, 1],
    ['no variables', '$timescale 1 ns $end\n$enddefinitions $end\n', /no signal/, 2, 1],
    ['a header without end', '$timescale 1 ns $end\n$var wire 1 ! main $end\n', /ends in its header/, 3, 1],
    ['time going backwards', `${HEADER}#5\n1!\n#10\n0!\n  #4\n`, /backwards: found #4 after #10/, 8, 3],
    ['a time that is none', `${HEADER}#5\n1!\n#1e3\n`, /"#1e3"; expected a time/, 6, 1],
    ['a negative time', `${HEADER}#-5\n`, /"#-5"; expected a time/, 4, 1],
    ['a word', `${HEADER}#5\n1!\n0! hello\n`, /"hello"; expected a change/, 6, 4],
    ['a value without a code', `${HEADER}#5\n1\n`, /without a code/, 5, 1],
    ['a NUL byte', `${HEADER}#5\n1!\n\0#6\n`, /NUL/, 6, 1],
    ['a bad digit in the chosen vector', HEADER.replace('wire 1 !', 'wire 2 !') + '#5\nb21 !\n', /b21/, 5, 5],
  ])('%s', (_, text, says, line, column) => {
    let error: unknown
    try {
      read(text)
    } catch (e) {
      error = e
    }
    expect(error).toBeInstanceOf(InputError)
    expect((error as InputError).message).toMatch(says)
    expect((error as InputError).place).toMatchObject({ line, column })
  })

  it('a last line that is cut anywhere changes nothing that came before it', () => {
    const text = HEADER + body
    const whole = read(text)
    const from = text.lastIndexOf('#')
    for (let end = from; end < text.length; end++) {
      const { edges, packets } = read(text.slice(0, end))
      expect(whole.edges.count - edges.count).toBeLessThanOrEqual(1)
      expect(packets.length).toBeGreaterThanOrEqual(PACKETS.length - 1)
    }
  })

  it('takes no word without end', () => {
    expect(() => read(`${HEADER}#${'1'.repeat(3_000_000)}`)).toThrow(/a word of more than/)
    expect(() => read(`$comment ${'x'.repeat(3_000_000)}`)).toThrow(/a word of more than/)
  })
})

describe('any edges', () => {
  it('come back as they went, in chunks of any size', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 1, max: 3e9 }), fc.constantFrom(LOW, HIGH, OFF)), {
          minLength: 2,
        }),
        fc.integer({ min: 1, max: 200 }),
        (steps, chunk) => {
          const edges = new EdgeList()
          let tick = 0
          for (const [step, level] of steps) {
            tick += step
            const before = edges.count === 0 ? OFF : edges.levels[edges.count - 1]
            if (level !== before) edges.add(tick, level)
          }
          fc.pre(edges.count > 0)
          const back = read(new VcdWriter(ENCODER_CLOCK, { command: 'wave' }).write(edges), {}, chunk).edges
          expect([...back.ticks.subarray(0, back.count)]).toEqual([...edges.ticks.subarray(0, edges.count)])
          expect([...back.levels.subarray(0, back.count)]).toEqual([...edges.levels.subarray(0, edges.count)])
        },
      ),
      { numRuns: runs(300) },
    )
  })

  it('before zero are shifted to zero', () => {
    const early = new EdgeList()
    for (let i = 0; i < SIGNAL.count; i++) early.add(SIGNAL.ticks[i]! - 5e6, SIGNAL.levels[i]!)
    expect(read(new VcdWriter(ENCODER_CLOCK, { command: 'wave' }).write(early)).packets).toEqual(HEX)
  })
})
