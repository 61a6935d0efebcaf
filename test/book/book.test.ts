/** The build book: every figure is followed back to where it came from, and the pages are sound. */

import { readFileSync } from 'node:fs'
import { parse } from 'parse5'
import { describe, expect, it } from 'vitest'
import {
  atSource,
  bookHtml,
  bookMarkdown,
  type Figure,
  FORMULAS,
  HAZARD_OF,
  inUnit,
  type Said,
} from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { bookOf, EXAMPLES, loadedExample, OPTIONS } from './made.js'
import { written } from './write.js'

/** Every text with figures that is anywhere in a value. */
function saidIn(value: unknown): Said[] {
  if (value === null || typeof value !== 'object') return []
  if ('figures' in value && 'text' in value) return [value as Said]
  return Object.values(value).flatMap(saidIn)
}

function figuresIn(value: unknown): Figure[] {
  if (value === null || typeof value !== 'object') return []
  if ('from' in value && 'unit' in value && 'value' in value) return [value as Figure]
  return Object.values(value).flatMap(figuresIn)
}

const quoted = (text: string) => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')

/** Numbers in words that are no figures of the station: names of standards, sections, fuse bits, plain counts. */
const NOT_FIGURES =
  /S-9[\d.]*(:\d+)?( [A-Z])?|RCN-\d+|CKDIV8|CV 8|AC \d|11 %|50 kHz|1 kHz|2 W or more|\bNear 0|\b0 on one|\(8 times|eight/g

describe.each(EXAMPLES)('the book of %s', (name) => {
  const made = bookOf(loadedExample(name))
  const { book, sources } = made

  it('takes every figure from its source, unchanged', () => {
    const figures = figuresIn(book)
    expect(figures.length).toBeGreaterThan(20)
    for (const f of figures) {
      const values = f.from.map((path) => atSource(sources.data, path))
      for (const v of values) expect(v, JSON.stringify(f.from)).toBeTypeOf('number')
      const formula: ((...v: number[]) => number) | undefined = f.by && FORMULAS[f.by]
      const value = formula ? formula(...(values as number[])) : (values[0] as number)
      expect(f.value, JSON.stringify(f.from)).toBe(value)
      // What is printed is that value, at whichever number of digits.
      const printed = [2, 3, 4, 5, 6].map((digits) => inUnit(f.value, f.unit, digits))
      expect(printed, f.text).toContain(f.text)
    }
  })

  it('lists as many of each part as are drawn', () => {
    const listed = (part: RegExp) =>
      book.parts.filter((p) => part.test(p.part)).reduce((sum, p) => sum + p.count, 0)
    const drawn = (id: RegExp) => book.wiring.parts.filter((p) => id.test(p.id)).length
    const pairs: [RegExp, RegExp][] = [
      [/^fuse with its holder/, /^fuse /],
      [/^electronic breaker/, /^breaker /],
      [/^series resistor/, /^resistor series /],
      [/^filter capacitor/, /^capacitor filter /],
      [/^sense amplifier/, /^sense amplifier /],
      [/^supply, certified/, /^supply /],
    ]
    for (const [part, id] of pairs) expect(listed(part), `${part}`).toBe(drawn(id))
    expect(listed(/^(shunt resistor|Hall sensor)/)).toBe(drawn(/^sense /) - drawn(/^sense amplifier /))
  })

  it('gives no two parts one name, so that no wire of the list can go to the wrong one', () => {
    const titles = book.wiring.parts.map((p) => p.title)
    expect(titles.filter((t, i) => titles.indexOf(t) !== i)).toEqual([])
  })

  it('lists each locomotive with its address, and sends commands to it', () => {
    const { fleet = {}, rollingStock = {} } = sources.loaded.design
    const names = new Set([...Object.keys(fleet), ...Object.keys(rollingStock)])
    expect(book.locomotives.map((l) => l.name).toSorted()).toEqual([...names].toSorted())
    const drive = sources.loaded.design.firmware?.commands && 'go'
    for (const [id, { address }] of Object.entries(fleet)) {
      const row = book.locomotives.find((l) => l.name === id)!
      expect(row.address.text).toBe(`${address}`)
      const step = book.steps.find((b) => b.id === `train-${id}`)
      if (drive && step) expect(step.probes.text).toContain(`To drive it: ${drive} ${address} SPEED.`)
      for (const page of [bookHtml(made), bookMarkdown(book)]) expect(page).toContain(`${address}`)
    }
  })

  it('rates a shunt by the current that flows through it all day', () => {
    for (const d of sources.power?.districts ?? []) {
      const { sense } = sources.loaded.design.power!.districts[d.name]!
      const row = book.parts.find(
        (p) => p.part === 'shunt resistor' && p.for.split(', ').includes(`district ${d.name}`),
      )
      expect(row !== undefined, d.name).toBe(sense?.kind === 'shunt')
      if (row === undefined) continue
      const watt = d.sustainedAmp! ** 2 * sense!.resistance!
      expect(row.ratings.text).toContain(`at most ${inUnit(watt, 'W')} continuously`)
    }
  })

  it('says what feeds the controller, and which wires join its ground with the supplies', () => {
    const text = book.controllerSupply.map((c) => c.text).join('\n')
    expect(text).toMatch(/ V, DC and regulated|over the regulator of the parts list, with .* V/)
    const parts = new Map(book.wiring.parts.map((p) => [p.id, p.kind]))
    const joins = book.wiring.connections.filter(
      (c) => parts.get(c.from) === 'supply' && parts.get(c.to) === 'controller' && c.toAt === 'GND',
    )
    for (const c of joins) expect(text).toContain(`${c.id} to − of supply `)
    const taps = book.wiring.connections.filter(
      (c) => c.toAt === 'sense tap, supply side' && c.roles[0] === 'ground',
    )
    for (const c of taps) expect(text).toContain(`${c.id} to the supply side of shunt of `)
    const fed = new Set(sources.stages.map((d) => d.supplyName))
    expect(joins.length + taps.length).toBe(fed.size)
    for (const page of [bookHtml(made), bookMarkdown(book)])
      expect(page).toContain('Supply of the controller')
  })

  it('says which firmware to load, how to build it, and how to write it into the chip', () => {
    const text = book.firmware.join('\n')
    expect(text).toContain(sources.loaded.design.firmware?.file ?? 'halfbit starter DESIGN firmware')
    expect(text).toContain('make -C firmware')
    expect(text).toMatch(
      /avrdude -p m(328p|2560|32u4) -c PROGRAMMER -U flash:w:firmware\/station\.(elf:e|hex:i)/,
    )
  })

  it('names each turnout on the map and says what becomes of its frog', () => {
    const turnouts = Object.keys(sources.loaded.design.track?.turnouts ?? {})
    for (const t of turnouts) expect(made.map).toContain(`turnout ${t}<`)
    expect(book.turnouts.some((t) => t.includes('frog'))).toBe(turnouts.length > 0)
  })

  it('has no number in its sentences that is not one of these figures', () => {
    const names = [
      ...Object.keys(sources.loaded.design.power?.supplies ?? {}),
      ...Object.keys(sources.loaded.design.rollingStock ?? {}),
    ]
    const places = (sources.track?.districts ?? []).flatMap((d) => d.worstVoltPlace || [])
    // What forbids to switch it on is quoted from the proof, whose sentences have numbers of their own.
    const quotes = [...book.hazards.power, ...book.hazards.train].map((h) => h.because)
    for (const { text, figures } of saidIn(book)) {
      if (quotes.some((q) => text.endsWith(q))) continue
      let rest = text
      for (const f of figures) rest = rest.replace(new RegExp(`(?<![\\w.])${quoted(f.text)}(?!\\w)`), '')
      for (const n of places) rest = rest.replaceAll(n, '')
      // Parts, pins and places have names with digits of their own.
      rest = rest.replace(NOT_FIGURES, '').replace(/\b[A-Za-z_]+\d[\w.]*|\b[a-z]+\.\d+/g, '')
      for (const n of names) rest = rest.replaceAll(n, '')
      if (/edition|scale/.test(text)) continue
      expect(rest, text).not.toMatch(/\d/)
    }
  })

  it('has the constants of the header that the starter writes, and its trip counts', () => {
    if (name === 'flawed') {
      // No firmware is made for it, so only the figures of its signal are there.
      expect(book.constants.map((c) => c.name).join()).not.toContain('TRIP')
      return
    }
    const text = readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
    const header = written(text).files.get('figures.h')!
    const defined = [...header.matchAll(/^#define (\w+) +\S/gm)].map(([, n]) => n)
    expect(book.constants.map((c) => c.name)).toEqual(defined)
    for (const c of book.constants)
      expect(header, c.name).toMatch(new RegExp(`^#define ${c.name} +${quoted(c.value)}`, 'm'))
    // The header trips above a count, the power stage says from which count on: they are neighbours.
    for (const d of sources.power?.districts ?? []) {
      const count = d.trip?.by === 'sense' ? d.trip.count : undefined
      if (count === undefined) continue
      const highs = book.constants.filter((c) => c.name.endsWith('_TRIP_HIGH')).map((c) => Number(c.value))
      expect(highs, d.name).toContain(count - 1)
    }
  })

  it('says of each piece of track what its ends meet', () => {
    const pieces = sources.plan?.tracks.length ?? 0
    expect(book.track.length).toBe(pieces)
    const open = book.track.flatMap((t) => [t.from, t.to]).filter((e) => e === 'open end')
    expect(open.length).toBe(sources.plan?.openEnds.length ?? 0)
  })

  it('is strictly valid HTML that loads nothing and runs nothing', () => {
    const html = bookHtml(made)
    const faults: string[] = []
    parse(html, { onParseError: (e) => faults.push(e.code), sourceCodeLocationInfo: true })
    expect(faults).toEqual([])
    expect(html).not.toMatch(/<script|https?:\/\/(?!www\.w3\.org\/2000\/svg)|url\(|@import|<link/)
    const ids = [...html.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id)
    expect(new Set(ids).size).toBe(ids.length)
    for (const [, target] of html.matchAll(/href="#([^"]+)"/g)) expect(ids).toContain(target)
  })

  it('says of nothing that it can do what the proof does not show as met', () => {
    const met = sources.proof.rows.filter((r) => r.verdict === 'met').length
    expect(book.can.length).toBe(met)
    expect(book.cannot.length).toBe(sources.proof.rows.length - met)
    const html = bookHtml(made)
    expect(html).toContain(book.headline.slice(0, 20))
  })

  it('as Markdown has every connection and every step', () => {
    const text = bookMarkdown(book, 'd.svg')
    for (const w of book.wires) expect(text).toContain(`| ${w.id} |`)
    expect(text.match(/^### \d+\. /gm)?.length).toBe(book.steps.length)
  })

  it('cautions about mains, shorts, heat and local codes', () => {
    const all = book.cautions.join(' ')
    for (const word of ['mains', 'licensed', 'codes', 'burn', 'Fuse', 'bench decides'])
      expect(all).toContain(word)
  })
})

describe('the bring-up', () => {
  const { book } = bookOf(loadedExample('shelf'))
  const step = (id: string) => book.steps.find((s) => s.id === id)!

  it('never connects an earthed instrument or USB to a rail', () => {
    expect(step('scope-shelf').not.text).toMatch(
      /Never clip the ground lead of a mains-earthed oscilloscope.*USB/,
    )
    expect(step('controller-clock').not.text).toMatch(/no ground clip of either may touch a rail/)
  })

  it('looks at the supply before the controller, at the signal before the driver, and at the coin before a train', () => {
    const order = book.steps.map((s) => s.id)
    for (const [first, then] of [
      ['before-power', 'supply-brick'],
      ['supply-brick', 'controller-clock'],
      ['half-one-main', 'off-shelf'],
      ['offset-shelf', 'coin-shelf'],
      ['coin-shelf', 'train-diesel'],
    ])
      expect(order.indexOf(first!), `${first} before ${then}`).toBeLessThan(order.indexOf(then!))
  })

  it('expects what the worked example gives', () => {
    // 13 V ± 3 %; the average-responding meter shows 1.1107 times that; half of it on each rail.
    expect(step('supply-brick').expected.text).toBe('12.6 V to 13.4 V')
    expect(step('ac-shelf').expected.text).toContain('14 V to 14.9 V, 11 % more')
    expect(step('rail-shelf').expected.text).toContain('6.3 V to 6.7 V')
    expect(step('coin-shelf').probes.text).toContain('mill, end')
    // A divider of eight: 58 us become 464 us.
    expect(step('half-one-main').off[0]!.text).toContain('464 us')
  })

  it('shows no fuse-bit step for a chip that has no such fuse', () => {
    const text = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
    const other = text
      // They belong to the chip of the example.
      .replace(/^variants:\n(?:(?: .*|#.*|)\n)*/m, '')
      .replace('chip: atmega328p', 'chip: rp2040')
      .replace('{ frequency: 16 MHz, source: crystal }', '{ frequency: 125 MHz, source: crystal }')
      .replace(/ {6}method: buffered\n {6}timer: 1\n {6}prescaler: 8\n/, '')
      .replaceAll('PB2', 'GP2')
      .replaceAll('PB0', 'GP3')
      .replaceAll('PC0', 'GP26')
    const { book: b } = bookOf(loadDesign(other))
    expect(JSON.stringify(b.steps)).not.toContain('CKDIV8')
  })
})

describe('wires', () => {
  const { book } = bookOf(loadedExample('shelf'))
  it('carry what their fuse or supply lets through', () => {
    // IEC 60204-1 table 6 (from memory): 0.5 mm2 carries 7.9 A in free air, 1 mm2 12.4 A, 1.5 mm2 16.1 A; half inside a case.
    const size = (b: typeof book, driver: string, at: string) =>
      b.wires.find((w) => w.to === `driver ${driver}` && w.toAt === at)!.wire
    expect(size(book, 'bridge', '+')).toBe('0.5 mm2') // fuse of 3 A
    expect(size(book, 'bridge', '−')).toBe('0.5 mm2') // the same current comes back
    const { book: club } = bookOf(loadedExample('exhibition'))
    expect(size(club, 'main', '+')).toBe('1.5 mm2') // fuse of 6.3 A
  })
  it('have the colours that the builder chose', () => {
    const own = bookOf(loadedExample('shelf'), {
      ...OPTIONS,
      colours: { ...OPTIONS.colours, 'rail A': 'green' },
    })
    expect(own.book.wires.find((w) => w.because === 'track.bus.bus')!.colours).toEqual(['green'])
  })
})

it('puts the builds that were noted beside each other, with the load of each reading, on both pages', () => {
  const text = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
  const note = (build: string, volt: number) =>
    `    - { reading: track, of: shelf, at: mill, voltage: ${volt} V, load: 1.4 A, with: m, by: A, on: 2026-05-01, build: ${build} }`
  const made = bookOf(
    loadDesign(
      `${text}\nbenchNotes:\n  instruments: { m: { kind: rms, accuracy: 1 % } }\n  readings:\n${note('first', 12.1)}\n${note('second', 11.2)}\n`,
    ),
  )
  for (const page of [bookHtml(made), bookMarkdown(made.book)]) {
    expect(page).toContain('track of shelf at mill under 1.4 A')
    expect(page).toMatch(/first: 12\.1 V \(A, 2026-05-01\); second: 11\.2 V \(A, 2026-05-01\)/)
    expect(page).toContain('differ')
  }
})

describe('bench notes in the book', () => {
  const text = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
  const noted = (readings: string[]) =>
    bookOf(
      loadDesign(
        `${text}\nbenchNotes:\n  instruments:\n    dc: { kind: dc, accuracy: 0.5 % }\n    old: { kind: dc }\n    rms: { kind: rms, accuracy: 0.5 % }\n  readings:\n${readings.map((r) => `    - { ${r}, by: A, on: 2026-05-01 }`).join('\n')}\n`,
      ),
    ).book

  it.each([
    ['reading: supply, of: brick, voltage: 13 V, with: dc', 'as expected'],
    ['reading: supply, of: brick, voltage: 14 V, with: dc', 'off'],
    ['reading: supply, of: brick, voltage: 13.37 V, with: dc', 'cannot tell'],
    ['reading: supply, of: brick, voltage: 13 V, with: old', 'cannot tell'],
    // The step measures without a load: a drop on the way to the mill is no fault of the driver.
    ['reading: track, of: shelf, at: mill, voltage: 13 V, load: 0 A, with: rms', 'as expected'],
    ['reading: track, of: shelf, at: mill, voltage: 12.1 V, load: 1.4 A, with: rms', 'no step'],
  ])('%s: %s', (reading, verdict) => {
    expect(noted([reading]).notes[0]!.verdict).toBe(verdict)
  })

  it('are set beside each other by build', () => {
    const two = (volt: string) =>
      noted([
        'reading: supply, of: brick, voltage: 13 V, with: dc, build: first',
        `reading: supply, of: brick, voltage: ${volt}, with: dc, build: second`,
      ]).builds[0]!.verdict
    expect(two('13.05 V')).toBe('alike')
    expect(two('13.3 V')).toBe('differ')
    expect(noted(['reading: supply, of: brick, voltage: 13 V, with: dc']).builds).toEqual([])
  })
})

describe('what a builder asked of the book on paper', () => {
  it('is answered: which rail is left, which capacitor is meant, the fuse byte, the reference pin, the reset', () => {
    const text = bookMarkdown(bookOf(loadedExample('shelf')).book)
    expect(text).toMatch(/when you look along the section from its beginning to its end/)
    expect(text).toMatch(/\| filter capacitor, from the converter pin to ground/)
    expect(text).toMatch(/Filter capacitor of shelf: 1/)
    expect(text).toMatch(/Every bit of it reads one for this crystal with the divider off/)
    expect(text).toMatch(/Leave the pin AREF alone/)
    expect(text).toMatch(/a wire from RESET to GND/)
    expect(text).toMatch(/Switch the track on: send “power on” to the firmware/)
  })
})

describe('the second build on paper', () => {
  const { book } = bookOf(loadedExample('shelf'))
  const text = bookMarkdown(book)
  const step = (id: string) => book.steps.find((s) => s.id === id)!

  it('lists all that has to be bought, also for the track and the controller', () => {
    const parts = new Map(book.parts.map((p) => [p.part, p]))
    expect(parts.get('track, code 55, nickel silver')!.count).toBe(8)
    // 500 + 2 · 450 + 2 · 470 + 200 + 450 + 400 mm.
    expect(parts.get('track, code 55, nickel silver')!.ratings.text).toContain('3.39 m')
    expect(parts.get('turnout')!.count).toBe(3)
    // Ten joints of two rails, none cut: stick-A, A-front, front, front-B, A-back, back, back-B, B-neck, neck-C, C-mill, C-coal.
    expect(parts.get('rail joiner')!.count).toBe(22)
    expect(parts.has('supply of the controller, or a USB cable to it')).toBe(true)
    expect(parts.get('fuse with its holder')!.ratings.text).toMatch(/for DC of at least 13\.4 V/)
  })

  it('says what the other terminals of the driver are joined with, and which pins of a bare chip are no ports', () => {
    expect(text).toMatch(/PMODE: GND.*nSLEEP: logic supply.*IPROPI: GND.*VREF/)
    const pin = (name: string) => book.pins.find((p) => p.pin === name)!
    expect(pin('supply').onChip).toBe('7 (DIP of 28 pins); 4, 6 (TQFP of 32 pins)')
    expect(pin('PD0')).toMatchObject({ goesTo: 'serial line', role: 'receives' })
  })

  it('says how to speak to the firmware, and what to send in a step', () => {
    expect(text).toMatch(/38400 baud, 8 data bits, no parity, 1 stop bit; PD0 receives and PD1 sends/)
    expect(text).toContain('To stop everything: stop everything')
    expect(step('train-diesel').probes.text).toContain('To drive it: drive ADDRESS at SPEED forward.')
  })

  it('says when each fuse goes in, and that nothing is unscrewed to measure the supply', () => {
    expect(step('supply-brick').probes.text).toContain('Leave the fuse of supply brick out')
    expect(step('off-shelf').probes.text).toContain(
      'Fit the fuse of supply brick and that of district shelf.',
    )
  })

  it('tries the trip with a resistor before the coin, and the heat after the trains', () => {
    // 13.39 V over 1.35 A; 12.61 V over 1.7 A, less 0.38 Ohm of supply, driver and shunt.
    expect(step('resistor-shelf').probes.text).toMatch(
      /not below 9\.9\d? Ohm, then one that is not above 7\.0\d? Ohm/,
    )
    const order = book.steps.map((s) => s.id)
    expect(order.indexOf('resistor-shelf')).toBeLessThan(order.indexOf('coin-shelf'))
    expect(order.indexOf('heat-bridge')).toBeGreaterThan(order.indexOf('train-diesel'))
    expect(step('half-one-main').expected.text).toContain('the standard allows 55 us to 61 us')
  })

  it('says how the bus runs, whether it needs a terminator, and where feeders are soldered', () => {
    expect(text).toMatch(/Bus bus: 2\.4 m of two wires, side by side.*no terminator/)
    expect(text).toMatch(/outside or the foot of its rail/)
  })
})

describe('a station that is not sound', () => {
  const shelf = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
  const variant = (name: string) => bookOf(loadDesign(shelf, 'halfbit.yaml', name))

  it.each(['hot corner', 'thin bus'])('is not switched on: %s', (name) => {
    const made = variant(name)
    expect(made.book.hazards.power.length).toBeGreaterThan(0)
    expect(made.book.steps.map((s) => s.id)).toEqual(['stop-power'])
    for (const page of [bookHtml(made), bookMarkdown(made.book)]) {
      const warning = page.indexOf('Do not build this station, and do not switch it on.')
      expect(warning).toBeGreaterThan(0)
      expect(warning).toBeLessThan(page.indexOf('certified supply'))
      expect(page).not.toMatch(/Switch the track on|Plug in/)
    }
  })

  it('with a wrong signal ends before the first train', () => {
    const { book } = variant('internal oscillator')
    const ids = book.steps.map((s) => s.id)
    expect(ids.at(-1)).toBe('stop-train')
    expect(ids.some((id) => id.startsWith('train-'))).toBe(false)
    expect(
      book.steps
        .at(-1)!
        .off.map((o) => o.text)
        .join(),
    ).toContain('one-half')
  })

  it('without a trip has no coin test, and says that nothing switches a short off', () => {
    const made = bookOf(loadDesign(shelf.replace(/^variants:[\s\S]*/m, '').replace(/ {6}trip: .*\n/, '')))
    const page = bookHtml(made)
    expect(made.book.hazards.untripped).toEqual(['shelf'])
    expect(page).toContain('Nothing in this design switches off a short.')
    expect(page).not.toContain('a coin; an oscilloscope')
  })

  it('says on top what is not shown to be safe', () => {
    expect(bookMarkdown(bookOf(loadedExample('shelf')).book)).toMatch(
      /\*\*Not shown to be safe\*\*\n\n- short-trip \(shelf\), regulator-heat/,
    )
  })

  it('of every clause is decided what a broken one forbids', () => {
    for (const id of ['short-trip', 'polarity', 'fuse', 'dead-level', 'conductor-heat'] as const)
      expect(HAZARD_OF[id]).toBe('power')
    expect(HAZARD_OF.framing).toBe('train')
    expect(HAZARD_OF['edge-rate']).toBe('none')
  })
})
