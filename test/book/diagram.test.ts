/** The wiring diagram, computed: every connection once, nothing on top of anything else. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  type Connection,
  diagramSvg,
  layDiagram,
  SHEET_ROOM,
  sheetUnitPt,
  type Wiring,
  wireOrders,
} from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { pageText } from '../../src/proof/index.js'
import { startDesign } from '../../src/start/index.js'
import { runs } from '../runs.js'
import { faultsOf, overlap, sheetFaults } from './diagram-faults.js'
import { bookOf, EXAMPLES, loadedExample, OPTIONS } from './made.js'

describe('the check itself', () => {
  it('finds a wire that is missing, a label on another, a wire along another', () => {
    const { book, diagram } = bookOf(loadedExample('shelf'))
    const less = { ...diagram, wires: diagram.wires.slice(1) }
    expect(faultsOf(book.wiring, less).join()).toContain('wanted')
    const [first, second] = diagram.labels.filter((l) => l.kind === 'wire')
    const moved = {
      ...diagram,
      labels: diagram.labels.map((l) => (l === second ? { ...l, x: first!.x, y: first!.y } : l)),
    }
    expect(faultsOf(book.wiring, moved).join()).toContain('" on "')
    const copied = {
      ...diagram,
      wires: diagram.wires.map((w, i) => (i === 1 ? { ...w, points: diagram.wires[0]!.points } : w)),
    }
    expect(faultsOf(book.wiring, copied).join()).toContain('runs along')
  })
})

describe.each(EXAMPLES)('%s', (name) => {
  const loaded = loadedExample(name)
  const { book, diagram, sources } = bookOf(loaded)

  it('is drawn with every connection once and nothing on top of anything', () => {
    expect(faultsOf(book.wiring, diagram)).toEqual([])
  })

  it('around a wire shows parts whole, and no words of a part that is not drawn', () => {
    for (const wire of diagram.wires) {
      const svg = diagramSvg(diagram, 'Around a wire', { parts: [], wires: [wire.id] })
      const drawn = [...svg.matchAll(/data-part="([^"]+)"/g)].map((m) => m[1])
      expect(drawn.length, wire.id).toBeGreaterThan(0)
      const texts = [...svg.matchAll(/<text [^>]*x="([\d.]+)" y="([\d.]+)"/g)].map((m) => [+m[1]!, +m[2]!])
      for (const part of diagram.parts.filter((p) => !drawn.includes(pageText(p.id))))
        for (const [x, y] of texts) {
          const isIn = x! > part.x && x! < part.x + part.width && y! > part.y && y! < part.y + part.height
          expect(isIn, `${wire.id}: a text of ${part.id}`).toBe(false)
        }
    }
  })

  it('has a connection for whatever the design connects', () => {
    const because = book.wiring.connections.map((c) => c.because)
    const count = (of: (c: string) => boolean) => because.filter(of).length
    const { power } = loaded.design
    for (const [driver, d] of Object.entries(power?.drivers ?? {}))
      for (const [i, pin] of (d.pins ?? []).entries())
        if (pin.wired ?? pin.fixed ?? pin.tied)
          expect(
            count((b) => b === `power.drivers.${driver}.pins.${i}`),
            pin.name,
          ).toBe(1)
    for (const [district, d] of Object.entries(power?.districts ?? {})) {
      if (d.fuse !== undefined) expect(count((b) => b === `power.districts.${district}.fuse`)).toBe(1)
      if (d.trip?.by === 'breaker') expect(count((b) => b === `power.districts.${district}.trip`)).toBe(1)
    }
    for (const f of sources.plan?.feeders ?? [])
      expect(
        count((b) => b === `feeder ${f.name}`),
        f.name,
      ).toBe(f.open ? 0 : 1)
    for (const run of sources.plan?.runs ?? [])
      expect(
        count((b) => b === `track.bus.${run.name}`),
        run.name,
      ).toBe(run.parent < 0 ? 2 : 1)
    for (const run of sources.plan?.runs ?? [])
      expect(count((b) => b === `track.bus.${run.name}.terminator`)).toBe(run.design.terminator ? 1 : 0)
  })

  it('orders as much bus and feeder wire as the railroad is calculated with, and no wire is lost', () => {
    for (const c of sources.track?.conductors ?? []) {
      if (c.use === 'rail') continue
      const metres = book.wires
        .filter(
          (w) =>
            w.wire === c.name &&
            ((c.use.includes('bus') && w.because.startsWith('track.bus.')) ||
              (c.use.includes('feeder') && w.because.startsWith('feeder '))),
        )
        .reduce((sum, w) => sum + (w.lengthMm * w.roles.length) / 1000, 0)
      expect(metres, `${c.name} ${c.use}`).toBeCloseTo(c.metres, 6)
    }
    const ordered = wireOrders(book.wires).reduce((sum, o) => sum + o.metres, 0)
    expect(ordered).toBeCloseTo(
      book.wires.reduce((sum, w) => sum + (w.lengthMm * w.colours.length) / 1000, 0),
      9,
    )
    expect(book.wires.filter((w) => w.chosen).every((w) => w.lengthMm === OPTIONS.leadMm)).toBe(true)
  })
})

describe.each([...EXAMPLES, 'automation'])('the sheets of %s for paper', (name) => {
  const { book, sheets } = bookOf(loadedExample(name))

  it('hold every wire once, with nothing on top of anything', () => {
    expect(sheetFaults(book.wiring)).toEqual([])
  })

  it('fit on A4 on its side with letters of 8 points', () => {
    // ISO 216: 297 mm by 210 mm; margins of 12 mm; 72 points an inch.
    const [wide, high] = [297, 210].map((mm) => ((mm - 24) / 25.4) * 72) as [number, number]
    for (const { diagram, number } of sheets) {
      expect(diagram.width, String(number)).toBeLessThanOrEqual(SHEET_ROOM.width)
      expect(diagram.height, String(number)).toBeLessThanOrEqual(SHEET_ROOM.height)
      const svg = diagramSvg(diagram, 'A sheet', undefined, sheetUnitPt(diagram))
      const size = (pattern: RegExp) => Number(pattern.exec(svg)![1])
      const [w, h] = [size(/ width="([\d.]+)pt"/), size(/ height="([\d.]+)pt"/)]
      const letters = (size(/font:(\d+)px/) * w) / size(/viewBox="0 0 ([\d.]+) /)
      expect(letters).toBeGreaterThanOrEqual(7.99)
      expect(w).toBeLessThanOrEqual(wide)
      // It fills the sheet in one direction, unless its letters would be larger than eleven points.
      expect(w > 0.98 * wide - 12 || h > 0.98 * SHEET_ROOM.height * 0.8 || letters > 11).toBe(true)
      // Title and a line of text stand above.
      expect(h).toBeLessThanOrEqual(high - 50)
    }
  })

  it('say of each part that is wired on others where', () => {
    for (const { diagram, number } of sheets)
      for (const part of diagram.parts) {
        if (part.kind === 'section') continue
        const others = sheets.filter(
          (s) => s.number !== number && s.diagram.parts.some((p) => p.id === part.id),
        )
        const inside = diagram.labels.filter((l) => overlap(l, part) && l.text.startsWith('also on'))
        expect(inside.length, `${part.id} on ${number}`).toBe(others.length > 0 ? 1 : 0)
      }
  })
})

it('what two drivers feed shares a sheet where it fits: six districts are on nine sheets', () => {
  expect(bookOf(loadedExample('automation')).sheets).toHaveLength(9)
})

describe('designs made from answers', () => {
  const ANSWERS = [
    {},
    ...['N', 'H0', 'TT'].flatMap((scale) =>
      ['1', '2'].flatMap((districts) => [
        { scale, districts },
        { scale, districts, chip: 'atmega2560', limit: 'hiccup' },
      ]),
    ),
    { scale: 'H0', profile: 'rcn' },
  ]
  it.each(ANSWERS.map((a) => [JSON.stringify(a), a] as const))('%s', (_name, answers) => {
    const made = startDesign(answers)
    const text = 'started' in made ? made.started.text : undefined
    // A refused combination makes no design; the first one must not be refused.
    if (text === undefined) {
      expect(answers).not.toEqual({})
      return
    }
    const { book, diagram } = bookOf(loadDesign(text))
    expect(faultsOf(book.wiring, diagram)).toEqual([])
  })
})

describe('any wiring', () => {
  it('of up to 40 parts in any order is drawn soundly', () => {
    const wiring = fc
      .array(fc.record({ from: fc.nat(38), span: fc.integer({ min: 1, max: 12 }), pair: fc.boolean() }), {
        minLength: 1,
        maxLength: 90,
      })
      .map((list): Wiring => {
        const connections = list.map(({ from, span, pair }, i): Connection => {
          const to = Math.min(39, from + span)
          return {
            id: `W${i + 1}`,
            from: `p${Math.min(from, to - 1)}`,
            fromAt: `t${i}`,
            to: `p${to}`,
            toAt: `terminal ${i}`,
            roles: pair ? ['rail A', 'rail B'] : ['signal'],
            because: '',
            ...(i % 3 === 0 ? { wire: '2.5 mm2', lengthMm: 1 } : {}),
          }
        })
        const parts = Array.from({ length: 40 }, (_, i) => ({
          id: `p${i}`,
          kind: i % 7 === 6 ? ('section' as const) : ('driver' as const),
          title: `Part ${i}`,
          detail: 'detail',
        }))
        return { parts, connections }
      })
    fc.assert(
      fc.property(wiring, (w) => {
        expect(faultsOf(w, layDiagram(w))).toEqual([])
        expect(sheetFaults(w)).toEqual([])
      }),
      { numRuns: runs(40) },
    )
  })
})
