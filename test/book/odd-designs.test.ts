/** Books of designs that are unlike the examples: nothing wrong, dangerous or silent is printed. */
import { readFileSync } from 'node:fs'
import { parse } from 'parse5'
import { describe, expect, it } from 'vitest'
import { bookHtml, bookMarkdown, diagramSheets, SHEET_ROOM } from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { startDesign } from '../../src/start/index.js'
import { faultsOf, sheetFaults } from './diagram-faults.js'
import { bookOf } from './made.js'
import { stationDesign } from './station.js'

const SHELF = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8').replace(
  /^# The same shelf on other[\s\S]*/m,
  '',
)
const noSense = (text: string) =>
  text.replace(/ {6}sense:\n[\s\S]*? {8}\}\n/, '').replace(', { name: shunt, role: sense, wired: PC0 }', '')
const LONG = 'a very long name that somebody once gave to it and that nobody has ever changed since'

/** Twelve drivers on one bitstream, each with a supply, a sense and a trip of its own. */
function twelve(): string {
  const all = Array.from({ length: 12 }, (_, i) => i)
  const each = (says: (i: number) => string) => all.map(says).join('\n')
  return `halfbit: 2
name: Twelve districts (invented)
standard: { profile: nmra }
scale: N
controller: { chip: atmega2560, clock: { frequency: 16 MHz, source: crystal }, checkedPins: [PF4, PF5, PF6, PF7] }
signal: { outputs: { main: { mode: operations, pin: PB6, timer: 1, preamble: 16 } } }
power:
  supplies:
${each((i) => `    s${i}: { voltage: 13 V, tolerance: 1 %, rating: 3 A, limit: constant, limitCurrent: 3.5 A, fuse: 3 A }`)}
  drivers:
${each((i) => `    b${i}: { part: DRV8874, supply: s${i}, cooling: { junctionToAmbient: 20 K/W }, pins: [{ name: phase, role: direction, wired: PB6, output: main }, { name: enable, role: enable, wired: P${i < 8 ? 'A' : 'C'}${i % 8}, pull: low }, { name: shunt, role: sense, wired: P${i < 8 ? 'F' : 'K'}${i % 8} }] }`)}
  districts:
${each((i) => `    d${i}: { output: main, driver: b${i}, fuse: 2.5 A, sense: { kind: shunt, resistance: 0.1 Ohm, power: 1 W, reference: 1.1 V, referenceTolerance: 10 %, rate: 800 /s, filter: 100 us }, trip: { current: 1.5 A, samples: 2, after: 100 us }, load: { running: 0.5 A, worst: 1 A, stalled: 1.2 A, thinnestWire: 0.5 mm2 } }`)}
`
}

const DESIGNS: Readonly<Record<string, string>> = {
  'twelve districts': twelve(),
  'a breaker and no sense': noSense(SHELF).replace(
    /trip: \{.*\}/,
    'trip: { by: breaker, current: 1.5 A, after: 2 ms }',
  ),
  'no trip at all': noSense(SHELF).replace(/ {6}trip: .*\n/, ''),
  'a service track only': SHELF.replace('mode: operations', 'mode: service').replace(
    'preamble: 16',
    'preamble: 22',
  ),
  'two drivers on one bitstream': stationDesign({ chip: 'atmega328p', full: true }),
  'a part of the builder’s own': SHELF.replace(
    'part: DRV8874',
    'part: custom\n      figures: { highOhm: 0.2 Ohm, lowOhm: 0.2 Ohm, continuous: 4 A, supplyMax: 30 V, junctionMax: 150 C }',
  ),
  'very long names': SHELF.replace('shelf:', `${LONG} one:`)
    .replace('bridge:', `${LONG} two:`)
    .replace('brick:', `${LONG} three:`)
    .replace('coal:', `${LONG} four:`),
  'names in other scripts, and with markup': SHELF.replace('shelf:', 'Schänke–東京 «Ω» & <b>:')
    .replace('bridge:', 'Brücke 橋:')
    .replace('diesel:', 'Дизель:')
    .replace('tank engine:', '"engine | *pipe*":'),
  'no track': SHELF.replace(/^# 2.4 m by[\s\S]*/m, ''),
  'no power stage': SHELF.replace(/^power:[\s\S]*/m, ''),
  'a controller that is fed from the track supply': SHELF.replace(
    '  ambient: 30 C',
    '  ambient: 30 C\n  controller: { from: track, regulator: switching, voltage: 5 V, current: 60 mA }',
  ),
}

describe.each(Object.entries(DESIGNS))('%s', (name, text) => {
  const made = bookOf(loadDesign(text))
  const { book } = made
  const html = bookHtml(made)

  it('is drawn with every connection once and nothing on top of anything, on sheets that fit', () => {
    expect(faultsOf(book.wiring, made.diagram)).toEqual([])
    expect(sheetFaults(book.wiring)).toEqual([])
    for (const { diagram } of diagramSheets(book.wiring)) {
      expect(diagram.width).toBeLessThanOrEqual(SHEET_ROOM.width)
      expect(diagram.height).toBeLessThanOrEqual(SHEET_ROOM.height)
    }
  })

  it('is valid HTML in which names are text', () => {
    const faults: string[] = []
    parse(html, { onParseError: (e) => faults.push(e.code), sourceCodeLocationInfo: true })
    expect(faults).toEqual([])
    expect(html).not.toContain('<b>')
    for (const page of [html, bookMarkdown(book)])
      expect(page).not.toMatch(/\bundefined\b|\bNaN\b|\bInfinity\b|\[object/)
  })

  it('gives power to nothing that its proof does not find sound, and says so on top', () => {
    const unsound = book.cannot.some((c) => c.verdict !== 'not shown')
    const forbids = book.hazards.power.length + book.hazards.train.length > 0
    if (!unsound) expect(forbids).toBe(false)
    if (book.hazards.power.length > 0) expect(book.steps.map((s) => s.id)).toEqual(['stop-power'])
    else if (book.hazards.train.length > 0) expect(book.steps.at(-1)!.id).toBe('stop-train')
    const end = html.indexOf('id="care"')
    expect(html.slice(0, end).includes('class="forbids"')).toBe(forbids || book.hazards.untripped.length > 0)
  })

  it('tries a trip in every district that it switches on, or says that nothing trips', () => {
    const ids = book.steps.map((s) => s.id)
    for (const district of Object.keys(made.sources.loaded.design.power?.districts ?? {}))
      if (ids.includes(`offset-${district}`)) expect(ids, name).toContain(`coin-${district}`)
  })

  it('wires each part', () => {
    const wired = new Set(book.wiring.connections.flatMap((c) => [c.from, c.to]))
    if (made.sources.loaded.design.power)
      expect(book.wiring.parts.filter((p) => !wired.has(p.id)).map((p) => p.id)).toEqual([])
    // What is behind a fuse of a supply is all that the supply feeds on its plus side.
    for (const [supply, { fuse }] of Object.entries(made.sources.loaded.design.power?.supplies ?? {}))
      if (fuse !== undefined) {
        const plus = book.wiring.connections.filter((c) => c.from === `supply ${supply}` && c.fromAt === '+')
        expect(plus.map((c) => c.to)).toEqual([`fuse supply ${supply}`])
      }
  })
})

it('says of a driver without a current limit how little may be charged behind that of its supply', () => {
  const made = (driver: string) => {
    const result = startDesign({ driver })
    if (!('started' in result)) throw new Error(`no station with an ${driver}`)
    return bookOf(loadDesign(result.started.text)).book
  }
  const bare = made('L298')
  const supply = bare.parts.find((p) => p.part.startsWith('supply, certified'))!
  expect(supply.ratings.text).toContain('behind that limit capacitors of at most 100 nF')
  expect(bare.leaves.join()).toMatch(
    /there may be at most 100 nF, counting the output of a ready-made limiter/,
  )
  expect(bare.leaves.join()).not.toContain('bypass capacitors are those of its data sheet')
  expect(made('DRV8874').leaves.join()).toContain('bypass capacitors are those of its data sheet')
})

it('a design without a power stage says where its book ends', () => {
  const { book } = bookOf(loadDesign(DESIGNS['no power stage']!))
  expect(book.steps.at(-1)).toMatchObject({ id: 'stop-stage', stop: true })
})

describe('a station of two districts on a chip that is calculated only', () => {
  // As `halfbit new` makes it: all trains stand in the second district.
  const result = startDesign({
    chip: 'atmega4809',
    scale: 'Z',
    driver: 'TB6612FNG',
    voltage: '10 V',
    rating: '2 A',
    shape: 'yard',
    tracks: '5',
    length: '1.8 m',
    depth: '0.5 m',
    districts: '2',
    trains: '2 shunter',
  })
  if ('refused' in result) throw new Error(result.refused.because.sentence)
  const { steps } = bookOf(loadDesign(result.started.text)).book
  const step = (id: string) => steps.find((s) => s.id === id)

  it('promises nothing of a starter firmware that its builder writes', () => {
    expect(step('coin-first')!.expected.text).toContain('on again only as the firmware does it')
    expect(JSON.stringify(step('coin-first'))).not.toContain('starter')
  })

  it('blames no current sense where a breaker trips', () => {
    const off = (id: string) =>
      step(id)!
        .off.map((o) => o.text)
        .join(' ')
    expect(off('coin-second')).toContain('The breaker is set to another current')
    expect(off('coin-second')).not.toContain('sense')
    expect(off('coin-first')).toContain('The sense, its reference or gain')
  })

  it('looks for the lowest voltage only where trains draw current', () => {
    expect(step('far-second')).toBeDefined()
    expect(step('far-first')).toBeUndefined()
  })
})
