/**
 * The wiring diagram cut into sheets that can be read when they are printed: each connection is on one sheet, and a part
 * is drawn on every sheet that it is wired on. Each driver with what feeds and commands it comes first, then what the
 * drivers feed, bus by bus; neighbours share a sheet as long as it has room.
 */
import type { Connection, WiredPart, Wiring } from './connections.js'
import { type Diagram, layDiagram } from './diagram.js'

/** A unit of the diagram on paper, points: its letters are 10 units high, and 8 points are read at arm's length. */
export const SHEET_UNIT_PT = 0.8
/** A drawing that leaves room is printed larger, at most so many times: beyond that it looks like a poster. */
const MOST_LARGER = 1.4
/** What a sheet of A4 on its side holds inside margins of 12 mm, its title and a line below not counted, units. */
export const SHEET_ROOM = { width: 960, height: 570 } as const

/** A unit of a sheet on paper so that the drawing fills it, points. */
export function sheetUnitPt({ width, height }: Pick<Diagram, 'width' | 'height'>): number {
  const larger = Math.min(SHEET_ROOM.width / width, SHEET_ROOM.height / height, MOST_LARGER)
  return SHEET_UNIT_PT * Math.max(1, larger)
}

export interface DiagramSheet {
  /** From 1. */
  number: number
  /** `Supply brick, Controller, Driver bridge`. */
  title: string
  diagram: Diagram
  /** Numbers of its connections. */
  wires: string[]
}

/** Parts that several drivers may share: they hold no two drivers together. */
const SHARED: ReadonlySet<WiredPart['kind']> = new Set(['supply', 'own supply', 'regulator', 'controller'])
/** Parts after which a sheet is named. */
const NAMING: ReadonlySet<WiredPart['kind']> = new Set(['supply', 'controller', 'driver', 'bus'])

export function diagramSheets(wiring: Wiring): DiagramSheet[] {
  const sheets: Connection[][] = []
  let open: Connection[] = []
  const close = () => {
    if (open.length > 0) sheets.push(open)
    open = []
  }
  for (const group of groupsOf(wiring)) {
    if (fits(wiring, [...open, ...group], sheets)) open.push(...group)
    else {
      close()
      for (const connection of group) {
        if (open.length > 0 && !fits(wiring, [...open, connection], sheets)) close()
        open.push(connection)
      }
    }
  }
  close()
  const on = new Map<string, number[]>()
  sheets.forEach((list, i) => {
    for (const id of new Set(list.flatMap((c) => [c.from, c.to]))) on.set(id, [...(on.get(id) ?? []), i + 1])
  })
  return sheets.map((list, i) => {
    const own = partsOf(wiring, list)
    const parts = own.map((part) =>
      withOthers(
        part,
        on.get(part.id)!.filter((n) => n !== i + 1),
      ),
    )
    const named = own.filter((p) => NAMING.has(p.kind))
    return {
      number: i + 1,
      title: (named.length > 0 ? named : own).map((p) => p.title).join(', '),
      diagram: layDiagram({ parts, connections: list }),
      wires: list.map((c) => c.id),
    }
  })
}

const partsOf = ({ parts }: Wiring, list: readonly Connection[]) => {
  const ids = new Set(list.flatMap((c) => [c.from, c.to]))
  return parts.filter((p) => ids.has(p.id))
}

/** The part says on which other sheets it is; a section is wired once in most designs, and has no room for it. */
function withOthers(part: WiredPart, others: readonly number[]): WiredPart {
  if (others.length === 0 || part.kind === 'section') return part
  const more = others.length > 3 ? `${others.slice(0, 3).join(', ')} …` : others.join(', ')
  return { ...part, more: `also on ${more}` }
}

/** Stands for the number of a sheet to come, which is not known yet. */
const TO_COME = 10

/** With room for what is said of other sheets: those before it, and as many to come as there are wires left. */
function fits(wiring: Wiring, list: readonly Connection[], before: readonly Connection[][]): boolean {
  const placed = new Set([...list, ...before.flat()])
  const parts = partsOf(wiring, list).map((part) => {
    const isOn = (c: Connection) => c.from === part.id || c.to === part.id
    const known = before.flatMap((sheet, i) => (sheet.some(isOn) ? [i + 1] : []))
    const left = wiring.connections.filter((c) => !placed.has(c) && isOn(c))
    return withOthers(part, [...known, ...left.map(() => TO_COME)])
  })
  const { width, height } = layDiagram({ parts, connections: list })
  return width <= SHEET_ROOM.width && height <= SHEET_ROOM.height
}

/** Connections that belong together, in the order of the sheets. */
function groupsOf({ parts, connections }: Wiring): Connection[][] {
  const kinds = new Map(parts.map((p) => [p.id, p.kind]))
  const drivers = parts.filter((p) => p.kind === 'driver').map((p) => p.id)
  const fed = fedBy(drivers, connections)
  const shared = (id: string) => SHARED.has(kinds.get(id)!) || feedsSeveral(id, connections)
  const before = connections.filter((c) => !fed.has(c))
  const root = joinedParts(before.filter((c) => !shared(c.from) && !shared(c.to)))
  const roots = new Set(drivers.map(root))
  const ownStage = (c: Connection) =>
    [c.to, c.from].find((id) => !shared(id) && roots.has(root(id))) ?? undefined
  const groups = new Map<string, Connection[]>()
  const add = (key: string, c: Connection) => groups.set(key, [...(groups.get(key) ?? []), c])
  // What touches no driver goes with the one before it in the list, such as the ground of the controller.
  let last = drivers.length > 0 ? root(drivers[0]!) : ''
  for (const c of before) {
    const own = ownStage(c)
    if (own !== undefined) last = root(own)
    add(last, c)
  }
  for (const driver of drivers)
    for (const c of connections)
      if (fed.get(c) === driver) add(kinds.get(c.from) === 'bus' ? `from ${c.from}` : `fed by ${driver}`, c)
  const behind = drivers.flatMap((driver) => {
    const buses = [...groups.keys()].filter(
      (key) => key.startsWith('from ') && fed.get(groups.get(key)![0]!) === driver,
    )
    return [`fed by ${driver}`, ...buses]
  })
  return [...new Set([...drivers.map(root), ...behind, ...groups.keys()])].flatMap((key) => {
    const group = groups.get(key)
    return group ? [group] : []
  })
}

/** The fuse of a supply for several drivers. */
function feedsSeveral(id: string, connections: readonly Connection[]): boolean {
  return id.startsWith('fuse ') && new Set(connections.filter((c) => c.from === id).map((c) => c.to)).size > 1
}

/** Each connection behind a driver, with the driver. */
function fedBy(drivers: readonly string[], connections: readonly Connection[]): Map<Connection, string> {
  const found = new Map<Connection, string>()
  for (const driver of drivers) {
    const reached = [driver]
    for (let next = reached.pop(); next !== undefined; next = reached.pop())
      for (const c of connections) {
        if (c.from !== next || found.has(c)) continue
        found.set(c, driver)
        reached.push(c.to)
      }
  }
  return found
}

/** Which part stands for all that are wired together. */
function joinedParts(connections: readonly Connection[]): (id: string) => string {
  const above = new Map<string, string>()
  const root = (id: string): string => {
    let at = id
    for (let up = above.get(at); up !== undefined; up = above.get(at)) at = up
    return at
  }
  for (const { from, to } of connections) {
    const [a, b] = [root(from), root(to)]
    if (a !== b) above.set(a, b)
  }
  return root
}
