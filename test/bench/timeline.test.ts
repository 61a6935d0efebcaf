// The timeline of a run as a drawing and as VCD, read by others.
import { readFileSync } from 'node:fs'
import { SaxesParser } from 'saxes'
import { describe, expect, it } from 'vitest'
import { timelineSvg, timelineVcd } from '../../src/bench/index.js'
import { madeByOf } from '../../src/capture/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf, scenarioFromFile } from '../../src/proof/index.js'

const folder = new URL('../../examples/exhibition/', import.meta.url)
const loaded = loadDesign(readFileSync(new URL('halfbit.yaml', folder), 'utf8'))
const { chip } = loaded.design.controller
if (!isSimulated(chip)) throw new Error('the example has another chip now')
const image = loadFirmware(readFileSync(new URL('firmware/station.elf', folder)), 'station.elf')
const bench = benchOf(loaded, image, chip, 'station.elf')!
const result = scenarioFromFile(
  bench,
  `scenario: 1
name: a short <of "$end"> the main
lasts: 700 ms
acts:
  - { at: 300 ms, drive: { train: express, speed: 60 % } }
  - { at: 400 ms, short: { at: { district: main }, lasts: 100 ms } }
expect:
  - shortOff: {}
`,
  'x.yaml',
).run()

describe('as VCD (IEEE 1364-2005, 18.2)', () => {
  const text = timelineVcd(result, {
    command: 'bench',
    firmware: { name: 'station.elf', sha256: 'a'.repeat(64) },
  })
  const [head, body] = text.split('$enddefinitions $end\n') as [string, string]
  const names = new Map([...head.matchAll(/^\$var \w+ \d+ (\S+) (\S+) \$end$/gm)].map((m) => [m[1]!, m[2]!]))
  const values = new Map<string, { ns: number; value: string }[]>()
  let ns = -1

  it('times rise, and each change is of a variable that is declared, in its form', () => {
    for (const line of body.trimEnd().split('\n')) {
      const time = /^#(\d+)$/.exec(line)
      if (time) {
        expect(Number(time[1])).toBeGreaterThan(ns)
        ns = Number(time[1])
        continue
      }
      const [, wire, scalar, real, realCode, string, stringCode] =
        /^(?:([01])(\S+)|r(-?[\d.]+(?:e[-+]\d+)?) (\S+)|s(\S+) (\S+))$/.exec(line) ?? []
      const code = scalar ?? realCode ?? stringCode
      expect(names.has(code ?? ''), line).toBe(true)
      const list = values.get(names.get(code!)!) ?? []
      values.set(names.get(code!)!, list)
      list.push({ ns, value: wire ?? real ?? string! })
    }
    expect(ns).toBe(700e6)
  })

  it('shows power, amperes, volts, pins and words as they were', () => {
    const offUs = result.timeline.find(
      (e) => e.kind === 'driver' && e.on === false && e.about === 'main',
    )!.timeUs
    expect(values.get('main_on')!.map((v) => v.value)).toEqual(['0', '1', '0'])
    expect(values.get('main_on')!.at(-1)!.ns / 1000).toBeCloseTo(offUs, 2)
    expect(Math.max(...values.get('main_amp')!.map((v) => Number(v.value)))).toBeGreaterThan(3.5)
    expect(Math.max(...values.get('main_volt')!.map((v) => Number(v.value)))).toBeGreaterThan(14)
    expect(values.get('PB0')!.map((v) => v.value)).toEqual(['0', '1', '0'])
    expect(values.get('out')!.map((v) => v.value)).toContain('short')
    expect(values.get('main')!.length).toBe(result.signals.packets.length)
  })

  it('says what made it, so that its edges are never taken for measured ones', () => {
    expect(madeByOf(head)).toEqual({
      command: 'bench',
      firmware: { name: 'station.elf', sha256: 'a'.repeat(64) },
    })
    expect(head.match(/\$end/g)!.length).toBe(head.match(/^\$/gm)!.length)
  })
})

it.each([[undefined], [{ fromUs: 399e3, toUs: 404e3 }]])(
  'as a drawing it is sound XML with a row for each thing: %j',
  (span) => {
    const svg = timelineSvg(result, span)
    let texts = ''
    const parser = new SaxesParser()
    parser.on('error', (error) => {
      throw error
    })
    parser.on('text', (text) => {
      texts += `${text}\n`
    })
    parser.write(svg).close()
    for (const row of [
      'main, current',
      'main, voltage',
      'main, driver',
      'yard, current',
      'express',
      'pin PB0',
      'packets of main',
      'serial in',
      'serial out',
      'events',
    ])
      expect(texts).toContain(`${row}\n`)
    expect(svg).not.toMatch(/NaN|undefined|Infinity/)
  },
)

it('no line goes through a word, each tick has a unit of the axis, and a train called like a district is itself', () => {
  const main = result.signals.states.find((s) => s.name === 'main')!
  const named = {
    ...result,
    signals: {
      ...result.signals,
      analog: result.signals.analog.map((a) => (a.name === 'yard' ? { ...a, name: 'programming' } : a)),
      states: [...result.signals.states, main, { ...main, name: 'decoder on the service track' }],
    },
  }
  const svg = timelineSvg(named)
  const lastLine = Math.max(...['<line ', '<path ', '<rect '].map((mark) => svg.lastIndexOf(mark)))
  expect(svg.slice(lastLine).match(/<text /g)!.length).toBeGreaterThan(20)
  expect(svg.slice(svg.indexOf('class="rule"'), lastLine)).not.toContain('<text ')
  expect(svg).toContain('>0 ms<')
  expect(svg.match(/>main, driver</g)).toHaveLength(1)
  expect(svg).toContain('>main<')
  expect(svg).toMatch(/>programming<.*>voltage, to \d+ V</)
  expect(svg).toMatch(/>programming<.*>current, to [\d.]+ A</)
  // What has no room before the axis ends after a whole word, and says the rest when pointed at.
  expect(svg).toContain('>decoder on the …<title>decoder on the service track</title>')
})

it.each([
  [771, 560, 13],
  [366, 520, 13],
  [771, 460, 11],
])('keeps to a sheet of %s by %s with letters of %s px', (width, height, letters) => {
  const svg = timelineSvg(result, undefined, { width, height })
  const [, wide, high] = /viewBox="0 0 (\d+) (\d+)"/.exec(svg)!.map(Number)
  expect(wide).toBe(width)
  expect(high).toBeLessThanOrEqual(height)
  expect(svg).toContain(`<g font-size="${letters}">`)
})

it.each([[771], [366]])('no upright line crosses a word on a sheet %s wide', (width) => {
  const svg = timelineSvg(result, undefined, { width, height: 560 })
  const size = Number(/<g font-size="(\d+)">/.exec(svg)![1])
  const texts = [...svg.matchAll(/<text(?: class="faint")? x="([\d.]+)" y="([\d.]+)">([^<]+)</g)]
    .map(([, x, y, says]) => ({ x: Number(x), y: Number(y), says: says! }))
    // Names of rows stand before the axis.
    .filter(({ x }) => x > 100)
  const lines = [
    ...svg.matchAll(/<line class="(?:rule|grid)" x1="([\d.]+)" x2="\1" y1="([\d.]+)" y2="([\d.]+)"/g),
  ]
  expect(texts.map((t) => t.says)).toContain('stopped')
  expect(lines.length).toBeGreaterThan(4)
  for (const { x, y, says } of texts)
    for (const [, at, from, to] of lines.map((l) => l.map(Number)) as number[][]) {
      const crossed = at! > x && at! < x + 0.5 * size * says.length && from! < y && to! > y - size / 2
      expect(crossed, `${says} at ${x}, ${y} by the line at ${at}`).toBe(false)
    }
})

it('says what each curve is where there is little room', () => {
  const svg = timelineSvg(result, undefined, { width: 366, height: 620 })
  for (const district of ['main', 'yard', 'branch'])
    for (const kind of ['current', 'voltage']) expect(svg).toContain(`>${district}, ${kind}<`)
  expect(svg).toContain('>packets of main<')
  const more = {
    ...result,
    signals: {
      ...result.signals,
      packets: [
        ...result.signals.packets,
        ...result.signals.packets.map((p) => ({ ...p, output: 'service' })),
      ],
    },
  }
  expect(timelineSvg(more, undefined, { width: 366, height: 620 })).toContain('>service, packets<')
  // In one line, too.
  expect(timelineSvg(result, undefined, { width: 366, height: 300 })).toMatch(/>branch,? current\b/)
})
