/**
 * The wiring diagram: parts in layers from left to right, wires at right angles between them. Every connection has a
 * terminal, a vertical track of its own in each channel and horizontals at heights that no other has, so that wires cross
 * but never run on top of each other, and labels have room of their own. Layers by longest path, order by barycentres
 * (Sugiyama, Tagawa and Toda 1981), one track a net in each channel.
 */
import type { Connection, WiredPart, Wiring } from './connections.js'

export interface Box {
  x: number
  y: number
  width: number
  height: number
}

export interface DiagramLabel extends Box {
  text: string
  /** `part` and `detail` in the head of a box, `terminal` beside a terminal, `wire` on a wire. */
  kind: 'part' | 'detail' | 'terminal' | 'wire'
}

export interface Diagram {
  width: number
  height: number
  parts: (Box & { id: string; kind: WiredPart['kind'] })[]
  wires: { id: string; pair: boolean; role: Connection['roles'][number]; points: [number, number][] }[]
  labels: DiagramLabel[]
}

/** Heights are multiples of a row; terminals, exits and passing wires lie at different quarters of it. */
const ROW = 24
const QUARTER = ROW / 4
const MARGIN = ROW
const TRACK_GAP = 8
const HEAD_ROWS = 2
/** Advance of one character of the diagram's font at its size. */
const LETTER = 6.1
const LETTERS_HIGH = 9
const PAD = 8

interface Node {
  id: string
  part?: WiredPart
  layer: number
  entries: Link[]
  exits: Link[]
  x: number
  y: number
  rows: number
}

/** One hop of a connection, between neighbouring layers. */
interface Link {
  connection: Connection
  from: Node
  to: Node
  last: boolean
}

export function layDiagram(wiring: Wiring): Diagram {
  const layers = layered(wiring)
  order(layers)
  place(layers)
  return draw(layers)
}

/** Every part in the layer after the last one that leads to it, with a passing place in each layer that a wire skips. */
function layered({ parts, connections }: Wiring): Node[][] {
  const nodes = new Map<string, Node>(
    parts.map((part) => [
      part.id,
      { id: part.id, part, layer: 0, entries: [], exits: [], x: 0, y: 0, rows: 0 },
    ]),
  )
  for (let round = 0, changed = true; changed; round++) {
    if (round > parts.length) throw new RangeError('the wiring leads in a circle')
    changed = false
    for (const c of connections) {
      const [from, to] = [nodes.get(c.from)!, nodes.get(c.to)!]
      if (to.layer > from.layer) continue
      to.layer = from.layer + 1
      changed = true
    }
  }
  const layers: Node[][] = []
  const add = (node: Node) => {
    const layer = layers[node.layer] ?? []
    layers[node.layer] = layer
    layer.push(node)
  }
  for (const node of nodes.values()) add(node)
  for (const connection of connections) {
    const target = nodes.get(connection.to)!
    let from = nodes.get(connection.from)!
    while (from !== target) {
      const layer = from.layer + 1
      const last = layer === target.layer
      const to: Node = last ? target : { id: '', layer, entries: [], exits: [], x: 0, y: 0, rows: 1 }
      if (!last) add(to)
      const link = { connection, from, to, last }
      from.exits.push(link)
      to.entries.push(link)
      from = to
    }
  }
  return layers
}

/** Fewer crossings: each node near the mean place of those it is wired to. */
function order(layers: Node[][]): void {
  const index = new Map<Node, number>()
  const number = (layer: Node[]) => {
    for (const [i, node] of layer.entries()) index.set(node, i)
  }
  layers.forEach(number)
  const mean = (links: Link[], end: 'from' | 'to', own: number) =>
    links.length === 0 ? own : links.reduce((sum, l) => sum + index.get(l[end])!, 0) / links.length
  for (let sweep = 0; sweep < 6; sweep++) {
    const down = sweep % 2 === 0
    for (const layer of down ? layers : [...layers].reverse()) {
      const at = new Map(
        layer.map((n) => [n, mean(down ? n.entries : n.exits, down ? 'from' : 'to', index.get(n)!)]),
      )
      layer.sort((a, b) => at.get(a)! - at.get(b)! || index.get(a)! - index.get(b)!)
      number(layer)
    }
  }
  for (const node of layers.flat()) {
    node.entries.sort((a, b) => index.get(a.from)! - index.get(b.from)!)
    node.exits.sort((a, b) => index.get(a.to)! - index.get(b.to)!)
  }
}

const headRows = (node: Node) => (node.part === undefined || node.part.kind === 'section' ? 0 : HEAD_ROWS)
const terminalText = (node: Node, at: string) =>
  node.part?.kind === 'section' ? `${titleOf(node.part)}, ${at}` : at

function place(layers: Node[][]): void {
  for (const layer of layers) {
    let y = MARGIN
    for (const node of layer) {
      if (node.part)
        node.rows =
          headRows(node) +
          Math.max(node.entries.length, node.exits.length + (node.exits.length > 0 ? 1 : 0), 1)
      node.y = y
      y += node.rows * ROW + (node.part ? ROW : 0)
    }
  }
}

/** Height at which a link leaves a node, and at which it meets one. */
function exitY(link: Link): number {
  const { from } = link
  if (!from.part) return from.y + QUARTER
  return from.y + (headRows(from) + from.exits.indexOf(link) + 1) * ROW
}
function entryY(link: Link): number {
  const { to } = link
  if (!to.part) return to.y + 3 * QUARTER
  return to.y + (headRows(to) + to.entries.indexOf(link)) * ROW + 2 * QUARTER
}

/** Letters of East Asian scripts and pictures take the width of two in a font of fixed advance (Unicode TR 11). */
const WIDE =
  /[\u1100-\u115f\u2e80-\ua4cf\uac00-\ud7a3\uf900-\ufaff\ufe30-\ufe6f\uff00-\uff60\uffe0-\uffe6\u{1f300}-\u{1faff}]/u
const textWidth = (text: string) =>
  [...text].reduce((sum, letter) => sum + (WIDE.test(letter) ? 2 : 1), 0) * LETTER

/** A longer name leaves out its middle; the wiring list has it whole. */
const MOST_LETTERS = 40
function titleOf({ title }: WiredPart): string {
  const letters = [...title]
  if (letters.length <= MOST_LETTERS) return title
  const [head, tail] = [letters.slice(0, 24), letters.slice(-14)]
  return `${head.join('').trimEnd()} … ${tail.join('').trimStart()}`
}

function columnWidth(layer: Node[]): number {
  const texts = layer.flatMap((node) =>
    node.part === undefined
      ? []
      : [
          ...(headRows(node) > 0 ? [titleOf(node.part), node.part.detail, node.part.more ?? ''] : []),
          ...node.entries.map((l) => terminalText(node, l.connection.toAt)),
          ...node.exits.map((l) => l.connection.fromAt),
        ],
  )
  return Math.max(4 * ROW, ...texts.map((t) => textWidth(t) + 2 * PAD))
}

/** What is written on a wire: its number, and its size where the design gives it. */
export function wireLabel(c: Connection): string {
  return c.wire === undefined ? c.id : `${c.id} ${c.wire}`
}

function draw(layers: Node[][]): Diagram {
  const diagram: Diagram = { width: 0, height: 0, parts: [], wires: [], labels: [] }
  const points = new Map<Connection, [number, number][]>()
  let x = MARGIN
  layers.forEach((layer) => {
    const width = columnWidth(layer)
    for (const node of layer) {
      node.x = x
      if (node.part) drawPart(diagram, node, node.part, width)
      // A passing wire steps from the height it comes at to the height it leaves at.
      else
        points
          .get(node.entries[0]!.connection)!
          .push([x + width / 2, entryY(node.entries[0]!)], [x + width / 2, exitY(node.exits[0]!)])
    }
    x += width
    const links = layer.flatMap((node) => node.exits)
    if (links.length === 0) return
    const labels = Math.max(0, ...links.filter((l) => l.last).map((l) => textWidth(wireLabel(l.connection))))
    inTracks(links).forEach((link, i) => {
      const track = x + ROW / 2 + i * TRACK_GAP
      const path = points.get(link.connection) ?? []
      if (path.length === 0) path.push([x, exitY(link)])
      path.push([track, exitY(link)], [track, entryY(link)])
      points.set(link.connection, path)
    })
    const tracksEnd = x + ROW / 2 + links.length * TRACK_GAP
    const end = tracksEnd + labels + 2 * PAD
    for (const link of links.filter((l) => l.last)) {
      const y = entryY(link)
      points.get(link.connection)!.push([end, y])
      const text = wireLabel(link.connection)
      diagram.labels.push({
        kind: 'wire',
        text,
        x: tracksEnd + PAD / 2,
        y: y - LETTERS_HIGH - 1,
        width: textWidth(text),
        height: LETTERS_HIGH,
      })
    }
    x = end
  })
  for (const [{ id, roles }, path] of points)
    diagram.wires.push({ id, pair: roles.length > 1, role: roles[0]!, points: path })
  diagram.width = x + MARGIN
  diagram.height = Math.max(0, ...layers.flat().map((n) => n.y + n.rows * ROW)) + MARGIN
  return diagram
}

/** Downward wires from the lowest up, then upward ones from the highest down: neighbours then do not cross. */
function inTracks(links: readonly Link[]): Link[] {
  const down = links.filter((l) => entryY(l) >= exitY(l)).sort((a, b) => exitY(b) - exitY(a))
  const up = links.filter((l) => entryY(l) < exitY(l)).sort((a, b) => exitY(a) - exitY(b))
  return [...down, ...up]
}

function drawPart(diagram: Diagram, node: Node, part: WiredPart, width: number): void {
  diagram.parts.push({ id: part.id, kind: part.kind, x: node.x, y: node.y, width, height: node.rows * ROW })
  const write = (kind: DiagramLabel['kind'], text: string, middleY: number, side: 'left' | 'right') => {
    if (text === '') return
    const wide = textWidth(text)
    diagram.labels.push({
      kind,
      text,
      x: side === 'left' ? node.x + PAD : node.x + width - PAD - wide,
      y: middleY - LETTERS_HIGH / 2,
      width: wide,
      height: LETTERS_HIGH,
    })
  }
  if (headRows(node) > 0) {
    write('part', titleOf(part), node.y + ROW / 2, 'left')
    write('detail', part.detail, node.y + ROW, 'left')
    write('detail', part.more ?? '', node.y + 1.5 * ROW, 'left')
  }
  for (const link of node.entries)
    write('terminal', terminalText(node, link.connection.toAt), entryY(link), 'left')
  for (const link of node.exits) write('terminal', link.connection.fromAt, exitY(link), 'right')
}
