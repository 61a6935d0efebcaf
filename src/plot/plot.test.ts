import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  barChart,
  escapeXml,
  lineChart,
  logTicks,
  makeScale,
  niceTicks,
  terminalWidth,
  textBar,
  textTable,
  waterfall,
  wrapText,
} from './index.js'

describe('ticks', () => {
  it('are round and inside the range', () => {
    expect(niceTicks(0, 1)).toEqual([0, 0.2, 0.4, 0.6, 0.8, 1])
    expect(niceTicks(0, 0.3, 3)).toEqual([0, 0.1, 0.2, 0.3])
    expect(logTicks(1, 1000)).toEqual([1, 10, 100, 1000])
    expect(logTicks(1, 10)).toEqual([1, 2, 5, 10])
  })
  it('are few and increasing for any range', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.double({ min: 1e-6, max: 1e6, noNaN: true }),
        (a, w) => {
          fc.pre(a + w > a + Math.abs(a) * 1e-9)
          const ticks = makeScale('linear', a, a + w).ticks
          expect(ticks.length).toBeGreaterThan(1)
          expect(ticks.length).toBeLessThan(20)
          for (let i = 1; i < ticks.length; i++) expect(ticks[i]).toBeGreaterThan(ticks[i - 1]!)
        },
      ),
    )
  })
  it('gives ranges of no width one, and refuses what is no range', () => {
    expect(makeScale('linear', 0, 0).max).toBeGreaterThan(0)
    expect(() => makeScale('log', 0, 1)).toThrow(RangeError)
    expect(() => makeScale('linear', Number.NaN, 1)).toThrow(RangeError)
  })
})

/** Every element that is opened is closed, in order. */
function balanced(svg: string): boolean {
  const open: string[] = []
  for (const [, close, name, self] of svg.matchAll(/<(\/?)([a-z]+)[^>]*?(\/?)>/g)) {
    if (self) continue
    if (!close) open.push(name!)
    else if (open.pop() !== name) return false
  }
  return open.length === 0
}

describe('charts', () => {
  const chart = {
    id: 'x',
    title: 'A & B <script>',
    description: 'd',
    x: { label: 'time', unit: 'ms', scale: 'log' as const },
    y: { label: 'current', unit: 'A' },
  }
  it('escape names and stay well formed', () => {
    const svg = lineChart({
      ...chart,
      series: [
        {
          label: '"<b>"',
          points: [
            [1, 1],
            [10, Number.POSITIVE_INFINITY],
            [100, 3],
          ],
        },
      ],
      rules: [{ axis: 'y', at: 2, label: 'limit' }],
    })
    expect(svg).not.toContain('<script')
    expect(svg).not.toMatch(/NaN|Infinity|undefined/)
    expect(svg).toContain('<title id="x-title">A &amp; B')
    expect(balanced(svg)).toBe(true)
    // A point without a value breaks the line instead of bridging it.
    expect(/class="line s0" d="(M[^L]*M[^L]*)"/.test(svg)).toBe(true)
  })
  it('give every series its own dash, so that colour is not the only sign', () => {
    const series = ['a', 'b', 'c'].map((label, i) => ({
      label,
      points: [
        [1, i],
        [2, i],
      ] as [number, number][],
    }))
    const svg = lineChart({ ...chart, series })
    const dashes = [...svg.matchAll(/class="line s\d" d="[^"]*"([^/]*)\//g)].map((m) => m[1])
    expect(new Set(dashes).size).toBe(3)
    for (const s of series) expect(svg).toContain(`>${s.label}</text>`)
  })
  it('draw an empty chart', () => {
    expect(balanced(lineChart({ ...chart, series: [] }))).toBe(true)
    expect(balanced(barChart({ id: 'b', title: 't', description: 'd', unit: 'A', bars: [] }))).toBe(true)
  })
  it('add up a waterfall', () => {
    const bars = waterfall(
      [
        { label: 'a', value: 1 },
        { label: 'b', value: 2 },
      ],
      'sum',
    )
    expect(bars.map((b) => [b.from ?? 0, b.value])).toEqual([
      [0, 1],
      [1, 2],
      [0, 3],
    ])
  })
  it('drop what XML forbids', () => {
    expect(escapeXml('a\u0000<"&\ud800')).toBe('a&lt;&quot;&amp;')
  })
})

describe('text', () => {
  it('draws bars of the same width', () => {
    for (const share of [-1, 0, 0.01, 0.5, 1, 3, Number.NaN]) expect([...textBar(share, 10)].length).toBe(10)
    expect(textBar(0.5, 4)).toBe('██  ')
    expect(textBar(1.2, 4)).toBe('███▶')
  })
  it('lines up columns', () => {
    expect(
      textTable(
        [{ head: 'n' }, { head: 'A', align: 'right' }],
        [
          ['x', '10'],
          ['yy', '2'],
        ],
      ),
    ).toEqual(['n    A', '──  ──', 'x   10', 'yy   2'])
  })
  // UAX 11: ideographs, kana, Hangul and full-width forms are wide; combining marks take no cell.
  it.each([
    ['abc', 3],
    ['ä', 1],
    ['a\u0308', 1],
    ['東京', 4],
    ['ｱ', 1],
    ['한국', 4],
    ['\u{1f682}', 2],
    ['\u{1f469}\u200d\u{1f527}', 2],
    ['\u2600\ufe0f', 2],
    ['─', 1],
    ['\u200b', 0],
  ])('counts the cells of %j', (text, cells) => {
    expect(terminalWidth(text)).toBe(cells)
  })
  it('lines up columns of wide characters', () => {
    const lines = textTable(
      [{ head: 'name' }, { head: 'A', align: 'right' }],
      [
        ['東京駅', '1'],
        ['\u{1f682} x', '10'],
        ['abc', '2'],
      ],
    )
    for (const line of lines) expect(terminalWidth(line)).toBe(10)
  })
  it('fits a table into a width without losing a cell: broken cells first, then tables below each other', () => {
    const columns = [
      { head: 'key' },
      { head: 'words', wrap: 8 },
      ...['a', 'b', 'c'].map((head) => ({ head, align: 'right' as const })),
    ]
    const rows = [['k1', 'one two three four', '11111', '22222', '33333']]
    for (const width of [16, 20, 25, 30, 40, 60]) {
      const lines = textTable(columns, rows, width)
      for (const line of lines) expect(terminalWidth(line)).toBeLessThanOrEqual(width)
      const words = lines.join(' ').split(/\s+/)
      for (const word of ['one', 'two', 'three', 'four', '11111', '22222', '33333', 'a', 'b', 'c'])
        expect(words.filter((w) => w === word)).toHaveLength(1)
    }
    expect(textTable(columns, rows, 34).length).toBe(5)
  })
  it('breaks a text without spaces where it is wide', () => {
    const lines = wrapText('東京東京東京東京 abc', 9)
    expect(lines.map(terminalWidth).every((w) => w <= 9)).toBe(true)
    expect(lines.join('').replace(/ /g, '')).toBe('東京東京東京東京abc')
  })
})

describe('labels in a chart of lines', () => {
  const crowd = Array.from({ length: 12 }, (_, i) => i)
  const chart = (width: number) =>
    lineChart({
      id: 'crowd',
      title: 't',
      description: 'd',
      x: { label: 'current', unit: 'A', scale: 'log', min: 1, max: 100 },
      y: { label: 'time', unit: 's', scale: 'log', min: 1, max: 1000 },
      series: crowd.map((i) => ({
        label: `a long name of the part that is number ${i}`,
        points: [[1 + i, 900], [40, 500 - i], [90, 2 + i]], // biome-ignore format: one line
      })),
      rules: crowd.map((i) => ({ axis: 'x', at: 2 + i, label: `a rating with a long name, number ${i}` })),
      width,
    })
  const grounds = (svg: string) =>
    [...svg.matchAll(/class="ground" x="([\d.-]+)" y="([\d.-]+)" width="([\d.]+)" height="([\d.]+)"/g)].map(
      (m) => m.slice(1).map(Number) as [number, number, number, number],
    )

  it.each([420, 900])('lie on no other and are spelled out in full, %s px wide', (width) => {
    const svg = chart(width)
    const boxes = grounds(svg)
    expect(boxes.length).toBeGreaterThanOrEqual(12)
    for (const [i, [x, y, w, h]] of boxes.entries())
      for (const [x2, y2, w2, h2] of boxes.slice(i + 1))
        expect(x + w <= x2 || x2 + w2 <= x || y + h <= y2 || y2 + h2 <= y).toBe(true)
    for (const i of crowd) {
      expect(svg).toContain(`>a long name of the part that is number ${i}</text>`)
      expect(svg).toContain(`>a rating with a long name, number ${i}</text>`)
    }
    // A letter at a line is the one in the key.
    const letters = [...svg.matchAll(/class="[^"]* tag">([a-z])</g)].map((m) => m[1])
    expect(letters.length).toBeGreaterThan(2)
    for (const letter of letters) expect(letters.filter((l) => l === letter)).toHaveLength(2)
  })

  it('do not hide where a line comes in from the rim of the chart', () => {
    const svg = lineChart({
      id: 'rim',
      title: 't',
      description: 'd',
      x: { label: 'current', unit: 'A', scale: 'log', min: 1, max: 100 },
      y: { label: 'time', unit: 's', scale: 'log', min: 1, max: 1000 },
      series: [{ label: 'trip', points: [[1, 1000], [3.9, 1000], [3.9, 2], [100, 2]] }], // biome-ignore format: one line
      rules: [{ axis: 'x', at: 4, label: 'a load near the trip' }],
      width: 900,
    })
    const trip = [...svg.matchAll(/M([\d.]+) 44(?:\.0*)?L\1 [\d.]+/g)].map((m) => Number(m[1]))
    expect(trip).toHaveLength(1)
    expect(grounds(svg)).toHaveLength(1)
    for (const [x, , w] of grounds(svg)) expect(x > trip[0]! || x + w < trip[0]!).toBe(true)
  })
})
