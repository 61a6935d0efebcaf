/** The wiring diagram, computed: every connection once, nothing on top of anything else. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  type Connection,
  type Diagram,
  diagramSheets,
  diagramSvg,
  layDiagram,
  SHEET_ROOM,
  SHEET_UNIT_PT,
  type Wiring,
  wireLabel,
  wireOrders,
} from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'
import { startDesign } from '../../src/start/index.js'
import { runs } from '../runs.js'
import { bookOf, EXAMPLES, loadedExample, OPTIONS } from './made.js'

type Box = { x: number; y: number; width: number; height: number }
const overlap = (a: Box, b: Box) =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height
const inside = (a: Box, b: Box) =>
  a.x >= b.x && a.y >= b.y && a.x + a.width <= b.x + b.width && a.y + a.height <= b.y + b.height

/** What is wrong with a diagram; nothing where it is sound. */
function faultsOf(wiring: Wiring, diagram: Diagram): string[] {
  const faults: string[] = []
  const drawn = diagram.wires.map((w) => w.id).sort()
  const wanted = wiring.connections.map((c) => c.id).sort()
  if (JSON.stringify(drawn) !== JSON.stringify(wanted)) faults.push(`drawn ${drawn}, wanted ${wanted}`)
  const parts = new Map(diagram.parts.map((p) => [p.id, p]))
  if (parts.size !== wiring.parts.length || diagram.parts.length !== wiring.parts.length)
    faults.push('parts are missing or drawn twice')
  diagram.parts.forEach((a, i) => {
    for (const b of diagram.parts.slice(i + 1)) if (overlap(a, b)) faults.push(`${a.id} on ${b.id}`)
  })
  diagram.labels.forEach((a, i) => {
    for (const b of diagram.labels.slice(i + 1)) if (overlap(a, b)) faults.push(`"${a.text}" on "${b.text}"`)
    const over = diagram.parts.filter((p) => overlap(a, p))
    if (a.kind === 'wire' ? over.length > 0 : over.length !== 1 || !inside(a, over[0]!))
      faults.push(`"${a.text}" sticks out of its part`)
    if (!inside(a, { x: 0, y: 0, width: diagram.width, height: diagram.height }))
      faults.push(`"${a.text}" is off the page`)
  })
  const lines = diagram.wires.flatMap((w) =>
    w.points.slice(1).map((p, i) => ({ id: w.id, from: w.points[i]!, to: p })),
  )
  for (const { id, from, to } of lines) {
    if (from[0] !== to[0] && from[1] !== to[1]) faults.push(`${id} is not at right angles`)
    const box = lineBox(from, to)
    for (const label of diagram.labels)
      if (overlap(box, label)) faults.push(`${id} runs through "${label.text}"`)
    for (const part of diagram.parts)
      if (overlap(box, shrunk(part))) faults.push(`${id} runs through ${part.id}`)
  }
  lines.forEach((a, i) => {
    for (const b of lines.slice(i + 1))
      if (a.id !== b.id && onTop(a, b)) faults.push(`${a.id} runs along ${b.id}`)
  })
  for (const c of wiring.connections) {
    const wire = diagram.wires.find((w) => w.id === c.id)
    if (!wire) continue
    const [first, last] = [wire.points[0]!, wire.points.at(-1)!]
    if (first[0] !== right(parts.get(c.from)!) || !within(first[1], parts.get(c.from)!))
      faults.push(`${c.id} does not start at ${c.from}`)
    if (last[0] !== parts.get(c.to)!.x || !within(last[1], parts.get(c.to)!))
      faults.push(`${c.id} does not end at ${c.to}`)
    if (diagram.labels.filter((l) => l.kind === 'wire' && l.text === wireLabel(c)).length !== 1)
      faults.push(`${c.id} has no label of its own`)
  }
  return faults
}
const right = (b: Box) => b.x + b.width
const within = (y: number, b: Box) => y > b.y && y < b.y + b.height
const shrunk = (b: Box): Box => ({ x: b.x + 0.5, y: b.y + 0.5, width: b.width - 1, height: b.height - 1 })
function lineBox([x1, y1]: [number, number], [x2, y2]: [number, number]): Box {
  return {
    x: Math.min(x1, x2) - 0.1,
    y: Math.min(y1, y2) - 0.1,
    width: Math.abs(x2 - x1) + 0.2,
    height: Math.abs(y2 - y1) + 0.2,
  }
}
type Line = { from: [number, number]; to: [number, number] }
/** Both level or both upright, on one line, with a stretch in common. */
function onTop(a: Line, b: Line): boolean {
  for (const [along, across] of [
    [0, 1],
    [1, 0],
  ] as const) {
    if (
      a.from[across] !== a.to[across] ||
      b.from[across] !== b.to[across] ||
      a.from[across] !== b.from[across]
    )
      continue
    const [a1, a2] = [Math.min(a.from[along], a.to[along]), Math.max(a.from[along], a.to[along])]
    const [b1, b2] = [Math.min(b.from[along], b.to[along]), Math.max(b.from[along], b.to[along])]
    if (a1 < b2 && b1 < a2) return true
  }
  return false
}

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

/** What is wrong with the sheets of a wiring; nothing where they hold it whole, each sheet soundly drawn. */
function sheetFaults(wiring: Wiring): string[] {
  const sheets = diagramSheets(wiring)
  const wires = sheets.flatMap((s) => s.wires).sort()
  const wanted = wiring.connections.map((c) => c.id).sort()
  const whole =
    JSON.stringify(wires) === JSON.stringify(wanted) ? [] : [`on sheets ${wires}, wanted ${wanted}`]
  return [
    ...whole,
    ...sheets.flatMap((s) => {
      const ids = new Set(s.diagram.parts.map((p) => p.id))
      return faultsOf(
        {
          parts: wiring.parts.filter((p) => ids.has(p.id)),
          connections: wiring.connections.filter((c) => s.wires.includes(c.id)),
        },
        s.diagram,
      )
    }),
  ]
}

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
      const svg = diagramSvg(diagram, 'A sheet', undefined, SHEET_UNIT_PT)
      const size = (pattern: RegExp) => Number(pattern.exec(svg)![1])
      const [w, h] = [size(/ width="([\d.]+)pt"/), size(/ height="([\d.]+)pt"/)]
      const letters = (size(/font:(\d+)px/) * w) / size(/viewBox="0 0 ([\d.]+) /)
      expect(letters).toBeGreaterThanOrEqual(7.99)
      expect(w).toBeLessThanOrEqual(wide)
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
