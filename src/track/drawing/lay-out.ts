/** A line on the map for every track. */
import type { Track, TrackLayout } from '../layout/layout.js'
import { stubEnd } from './stubs.js'

/** A track as it is drawn, x and y in mm, y downwards. */
export interface Line {
  points: [number, number][]
}

export function bounds(list: number[]): [number, number] {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]
  for (const v of list) {
    low = Math.min(low, v)
    high = Math.max(high, v)
  }
  return low <= high ? [low, high] : [0, 1]
}

/** Length of a line, in the units of its points. */
export function lengthOf(points: [number, number][]): number {
  let sum = 0
  for (let i = 1; i < points.length; i++)
    sum += Math.hypot(points[i]![0] - points[i - 1]![0], points[i]![1] - points[i - 1]![1])
  return sum
}

/** The point of a line at a length along it, in the units of its points. */
export function pointAt(points: [number, number][], along: number): [number, number] {
  let left = along
  for (let i = 1; i < points.length; i++) {
    const [a, b] = [points[i - 1]!, points[i]!]
    const size = Math.hypot(b[0] - a[0], b[1] - a[1])
    if (left <= size || i === points.length - 1) {
      const share = size > 0 ? left / size : 0
      return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
    }
    left -= size
  }
  return points[0]!
}

/** A part of a line from one length to another, with the corners between. */
export function partOf(points: [number, number][], from: number, to: number): [number, number][] {
  const out: [number, number][] = [pointAt(points, from)]
  let at = 0
  for (let i = 1; i < points.length; i++) {
    at += Math.hypot(points[i]![0] - points[i - 1]![0], points[i]![1] - points[i - 1]![1])
    if (at > from + 1e-9 && at < to - 1e-9) out.push(points[i]!)
  }
  out.push(pointAt(points, to))
  return out
}

/** Points along a drawn arc, 3 degrees apart or less. */
export function arcPoints(arc: {
  centre: number[]
  radius: number
  from: number
  to: number
}): [number, number][] {
  const steps = Math.min(720, Math.max(2, Math.ceil(Math.abs(arc.to - arc.from) / 3)))
  return Array.from({ length: steps + 1 }, (_, i) => {
    const angle = ((arc.from + ((arc.to - arc.from) * i) / steps) * Math.PI) / 180
    return [arc.centre[0]! + arc.radius * Math.cos(angle), arc.centre[1]! + arc.radius * Math.sin(angle)]
  })
}

/** A line for every track: as the file draws it, or in rows of their own below. */
export function layOutTracks(plan: TrackLayout): Line[] {
  const { sections } = plan.design
  const lines: (Line | undefined)[] = plan.tracks.map((t) => {
    if (t.kind !== 'section') return undefined
    const own = sections[t.group]!
    const whole = own.points
      ? own.points.map((p): [number, number] => [p[0]!, p[1]!])
      : own.arc
        ? arcPoints(own.arc)
        : undefined
    if (!whole) return undefined
    const total = lengthOf(whole)
    return { points: partOf(whole, (total * t.index) / t.count, (total * (t.index + 1)) / t.count) }
  })
  // Legs of turnouts and crossings reach from their own place to the ends they meet.
  const places: Record<string, readonly number[] | undefined> = {}
  for (const list of [plan.design.turnouts, plan.design.crossings, plan.design.turntables])
    for (const [name, own] of Object.entries(list ?? {})) places[name] = own.at
  const meets = new Map<number, number>()
  for (const j of plan.joints) {
    meets.set(j.a, j.b)
    meets.set(j.b, j.a)
  }
  const pointOfEnd = (end: number | undefined): [number, number] | undefined => {
    const line = end === undefined ? undefined : lines[end >> 1]
    return line && ((end! & 1) === 0 ? line.points[0] : line.points.at(-1))
  }
  plan.tracks.forEach((t, i) => {
    if (t.kind === 'section') return
    const ends = [pointOfEnd(meets.get(2 * i)), pointOfEnd(meets.get(2 * i + 1))]
    const own = places[t.name]
    const centre: [number, number] | undefined = own
      ? [own[0]!, own[1]!]
      : hubCentre(plan, i, meets, pointOfEnd)
    if (t.kind === 'turntable' && centre) {
      lines[i] = {
        points: [
          [centre[0] - t.lengthMm / 2, centre[1]],
          [centre[0] + t.lengthMm / 2, centre[1]],
        ],
      }
      return
    }
    if (!centre) return
    const from = ends[0] ?? (t.fromHub >= 0 ? centre : stubOf(plan, i, 0, centre, meets, pointOfEnd))
    const to = ends[1] ?? (t.toHub >= 0 ? centre : stubOf(plan, i, 1, centre, meets, pointOfEnd))
    lines[i] = { points: [from, to] }
  })
  const drawn = lines.filter((l) => l !== undefined).flatMap((l) => l.points)
  const [, lowest] = bounds(drawn.map((p) => p[1]))
  const [leftmost, rightmost] = drawn.length > 0 ? bounds(drawn.map((p) => p[0])) : [0, 6000]
  const rows = new Map<string, { y: number; x: number }>()
  const step = Math.max(200, (rightmost - leftmost) / 14)
  let y = drawn.length > 0 ? lowest + step : 0
  const longest = plan.tracks.reduce((most, t) => Math.max(most, t.count * t.lengthMm), 1)
  plan.tracks.forEach((t, i) => {
    if (lines[i]) return
    let row = rows.get(t.group)
    if (!row) {
      row = { x: leftmost, y }
      rows.set(t.group, row)
      y += step
    }
    const size = (t.lengthMm / longest) * Math.max(1000, rightmost - leftmost)
    lines[i] = {
      points: [
        [row.x, row.y],
        [row.x + size, row.y],
      ],
    }
    row.x += size
  })
  return lines as Line[]
}

/** Middle of the ends that meet at the hub of a leg. */
function hubCentre(
  plan: TrackLayout,
  track: number,
  meets: Map<number, number>,
  pointOfEnd: (end: number | undefined) => [number, number] | undefined,
): [number, number] | undefined {
  const t = plan.tracks[track]!
  const hub = t.fromHub >= 0 ? t.fromHub : t.toHub
  const legs = hub < 0 ? [track] : plan.hubs[hub]!.map((end) => end >> 1)
  const points = legs.flatMap((leg) =>
    [2 * leg, 2 * leg + 1].flatMap((end) => {
      const p = pointOfEnd(meets.get(end))
      return p ? [p] : []
    }),
  )
  if (points.length === 0) return undefined
  return [
    points.reduce((s, p) => s + p[0], 0) / points.length,
    points.reduce((s, p) => s + p[1], 0) / points.length,
  ]
}

/** Where a free end of a turnout or crossing is drawn. */
function stubOf(
  plan: TrackLayout,
  track: number,
  side: 0 | 1,
  centre: [number, number],
  meets: Map<number, number>,
  pointOfEnd: (end: number | undefined) => [number, number] | undefined,
): [number, number] {
  const t = plan.tracks[track]!
  const met = new Map<string, [number, number]>()
  // The legs of one junction are next to each other.
  for (let i = Math.max(0, track - 3); i <= track + 3; i++) {
    const leg = plan.tracks[i]
    if (leg?.name !== t.name || leg.kind !== t.kind) continue
    for (const end of [0, 1] as const) {
      const at = pointOfEnd(meets.get(2 * i + end))
      if (at) met.set(portOf(leg, end), at)
    }
  }
  const own = plan.design.turnouts?.[t.name] ?? plan.design.crossings?.[t.name]
  const kind = t.kind === 'turnout' ? 'turnout' : 'crossing'
  const hand = plan.design.turnouts?.[t.name]?.hand
  const reach = t.kind === 'crossing' ? t.lengthMm / 2 : t.lengthMm
  return stubEnd({ kind, centre, met, along: own?.along, hand }, portOf(t, side), reach)
}

/** `points`, `a1`: the end of a turnout or crossing as the file names it. */
const portOf = (t: Track, side: 0 | 1) => (t.kind === 'crossing' ? `${t.leg}${side + 1}` : t.leg)
