/** The rails of a district as lines, in a ladder. */
import type { Feeder, TrackLayout } from '../layout/layout.js'
import type { Network } from '../network/network.js'
import { FEEDER_PAIR, type LineConstants, RAIL_PAIR } from './line.js'

/** A stretch of line between two nodes. */
export type Lay = (from: number, to: number, metres: number, line: LineConstants, dcOhmPerM: number) => void

/** Every section's rails as a line between its ends, what it is fed by and the place that is marked. */
export function layRails(
  plan: TrackLayout,
  net: Network,
  tracks: readonly number[],
  feeders: readonly { track: number; railMm: number }[],
  mark: { track: number; atMm: number } | undefined,
  stepMm: number,
  add: (label: string) => number,
  lay: Lay,
): { nodes: number[]; fed: number[]; marked: number | undefined } {
  const cut = new Set(net.cutForPhase)
  // Ends that are joined are one node.
  const joined = new Map<number, number>()
  const root = (end: number): number => {
    const up = joined.get(end)
    return up === undefined || up === end ? end : root(up)
  }
  const join = (a: number, b: number) => void joined.set(root(a), root(b))
  plan.joints.forEach((j, i) => {
    if (!(cut.has(i) || j.gapL || j.gapR)) join(j.a, j.b)
  })
  for (const hub of plan.hubs) for (const end of hub.slice(1)) join(hub[0]!, end)
  const atEnd = new Map<number, number>()
  const nodes: number[] = []
  const fed: number[] = feeders.map(() => -1)
  let marked: number | undefined
  const fresh = (track: number, mm: number) => {
    const t = plan.tracks[track]!
    const node = add(
      t.kind === 'section' ? `${t.name}, ${(mm / 1000).toFixed(2)} m` : t.leg ? `${t.name}.${t.leg}` : t.name,
    )
    nodes.push(node)
    return node
  }
  const ohmOf = railOhms(net)
  const inside = new Set(tracks)
  feeders.forEach((f, i) => {
    // A feeder of another district's rails hangs on its bus with nothing behind it.
    if (!inside.has(f.track)) fed[i] = add('feeder')
  })
  for (const track of tracks) {
    const { lengthMm, code } = plan.tracks[track]!
    const end = (which: 0 | 1) => {
      const r = root(2 * track + which)
      const had = atEnd.get(r)
      if (had !== undefined) return had
      const node = fresh(track, which * lengthMm)
      atEnd.set(r, node)
      return node
    }
    const pieces = Math.max(1, Math.ceil(lengthMm / stepMm))
    const marks = Array.from({ length: pieces + 1 }, (_, k) => (lengthMm * k) / pieces)
    const own = feeders.flatMap((f, i) => (f.track === track ? [{ i, mm: f.railMm }] : []))
    for (const { mm } of own) marks.push(mm)
    if (mark?.track === track) marks.push(mark.atMm)
    marks.sort((a, b) => a - b)
    const list: { mm: number; node: number }[] = [{ mm: 0, node: end(0) }]
    for (const mm of marks) {
      // So short a stretch is no line of its own.
      if (mm - list.at(-1)!.mm < SHORTEST_MM || lengthMm - mm < SHORTEST_MM) continue
      list.push({ mm, node: fresh(track, mm) })
    }
    list.push({ mm: lengthMm, node: end(1) })
    for (let k = 1; k < list.length; k++)
      lay(
        list[k - 1]!.node,
        list[k]!.node,
        Math.max(1, list[k]!.mm - list[k - 1]!.mm) / 1000,
        RAIL_PAIR,
        2 * ohmOf(code, plan.tracks[track]!.alloy),
      )
    for (const { i, mm } of own) fed[i] = closest(list, mm)
    if (mark?.track === track) marked = closest(list, mark.atMm)
  }
  return { nodes, fed, marked }
}

/** Stretches shorter than this are left to their neighbours, mm. */
const SHORTEST_MM = 40

function railOhms(net: Network): (code: number, alloy: string) => number {
  return (code, alloy) =>
    net.conductors.find((c) => c.rail?.alloy === alloy && c.name.startsWith(`code ${code} `))?.ohmPerM
      .usual ?? 0.1
}

/** On large railroads each feeder has its share of the rails, half to either side; those at one node are in parallel. */
export function shareRails(
  feeders: readonly Feeder[],
  tap: (f: Feeder) => number,
  railMm: number,
  add: (label: string) => number,
  lay: Lay,
): number[] {
  const byTap = new Map<number, { count: number; lengthMm: number }>()
  for (const f of feeders) {
    const at = tap(f)
    const had = byTap.get(at)
    if (had) had.count++
    else byTap.set(at, { count: 1, lengthMm: f.lengthMm })
  }
  const share = railMm / 1000 / Math.max(1, feeders.length)
  const parallel = (line: LineConstants, n: number): LineConstants => ({
    ...line,
    henryPerM: line.henryPerM / n,
    faradPerM: line.faradPerM * n,
    impedanceOhm: line.impedanceOhm / n,
  })
  const taps = [...byTap]
  // What is alike is side by side: the ladder is stepped two nodes at a time.
  const feet = taps.map(() => add('rails'))
  const ends = taps.map(() => add('rails'))
  for (const [i, [at, { count, lengthMm }]] of taps.entries()) {
    lay(at, feet[i]!, lengthMm / 1000, parallel(FEEDER_PAIR, count), 0.05 / count)
    lay(feet[i]!, ends[i]!, Math.max(0.05, share / 2), parallel(RAIL_PAIR, 2 * count), 0.2 / count)
  }
  return ends
}

/** The node nearest to a distance. */
export function closest(list: readonly { mm: number; node: number }[], mm: number): number {
  return list.reduce((best, x) => (Math.abs(x.mm - mm) < Math.abs(best.mm - mm) ? x : best)).node
}
