/** The wiring diagram, computed: what is wrong with one. */
import { type Diagram, diagramSheets, type Wiring, wireLabel } from '../../src/book/index.js'

export type Box = { x: number; y: number; width: number; height: number }
export const overlap = (a: Box, b: Box) =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height
const inside = (a: Box, b: Box) =>
  a.x >= b.x && a.y >= b.y && a.x + a.width <= b.x + b.width && a.y + a.height <= b.y + b.height

/** What is wrong with a diagram; nothing where it is sound. */
export function faultsOf(wiring: Wiring, diagram: Diagram): string[] {
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

/** What is wrong with the sheets of a wiring; nothing where they hold it whole, each sheet soundly drawn. */
export function sheetFaults(wiring: Wiring): string[] {
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
