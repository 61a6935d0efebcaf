/** Places on the drawn tracks. */
import type { MapNode, MapTrack } from '../worker/map-data.js'

export type Xy = readonly [number, number]

export interface OnTrack {
  track: number
  /** From the `from` end. */
  atMm: number
  /** From the point that was asked for, in the drawing's mm. */
  off: number
}

/** The nearest place on any track. */
export function nearestPlace(tracks: readonly MapTrack[], [px, py]: Xy): OnTrack | undefined {
  let best: OnTrack | undefined
  tracks.forEach((t, track) => {
    let along = 0
    const full = drawnLength(t)
    for (let i = 1; i < t.points.length; i++) {
      const [a, b] = [t.points[i - 1]!, t.points[i]!]
      const [dx, dy] = [b[0] - a[0], b[1] - a[1]]
      const size = Math.hypot(dx, dy)
      const share = size > 0 ? Math.min(1, Math.max(0, ((px - a[0]) * dx + (py - a[1]) * dy) / size ** 2)) : 0
      const off = Math.hypot(a[0] + share * dx - px, a[1] + share * dy - py)
      if (!best || off < best.off)
        best = { track, atMm: full > 0 ? ((along + share * size) / full) * t.lengthMm : 0, off }
      along += size
    }
  })
  return best
}

export function drawnLength(t: MapTrack): number {
  let sum = 0
  for (let i = 1; i < t.points.length; i++)
    sum += Math.hypot(t.points[i]![0] - t.points[i - 1]![0], t.points[i]![1] - t.points[i - 1]![1])
  return sum
}

/** Where a place on a track is drawn. */
export function pointOn(t: MapTrack, atMm: number): Xy {
  let left = t.lengthMm > 0 ? (atMm / t.lengthMm) * drawnLength(t) : 0
  for (let i = 1; i < t.points.length; i++) {
    const [a, b] = [t.points[i - 1]!, t.points[i]!]
    const size = Math.hypot(b[0] - a[0], b[1] - a[1])
    if (left <= size || i === t.points.length - 1) {
      const share = size > 0 ? Math.min(1, left / size) : 0
      return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
    }
    left -= size
  }
  return t.points[0]!
}

/** The nearest place where tracks can meet, within a reach. */
export function nearestNode(nodes: readonly MapNode[], at: Xy, reach: number): MapNode | undefined {
  let best: MapNode | undefined
  let off = reach
  for (const n of nodes) {
    const d = Math.hypot(n.at[0] - at[0], n.at[1] - at[1])
    if (d <= off) {
      best = n
      off = d
    }
  }
  return best
}

/** Direction of a track at a place of it, degrees, towards its `to` end. */
export function headingOn(t: MapTrack, atMm: number): number {
  const step = Math.min(10, t.lengthMm / 4)
  const [ax, ay] = pointOn(t, Math.max(0, atMm - step))
  const [bx, by] = pointOn(t, Math.min(t.lengthMm, atMm + step))
  return (Math.atan2(by - ay, bx - ax) * 180) / Math.PI
}

/** Where two of some tracks cross on the drawing, nearest to a point and within a reach. */
export function crossedAt(
  tracks: readonly MapTrack[],
  [px, py]: Xy,
  reach: number,
): [first: OnTrack, second: OnTrack] | undefined {
  let best: [OnTrack, OnTrack] | undefined
  let least = reach
  for (let i = 0; i < tracks.length; i++)
    for (let k = i + 1; k < tracks.length; k++)
      for (const [x, y] of intersections(tracks[i]!.points, tracks[k]!.points)) {
        const off = Math.hypot(x - px, y - py)
        if (off > least) continue
        least = off
        const on = (track: number): OnTrack => ({ ...nearestPlace([tracks[track]!], [x, y])!, track, off })
        best = [on(i), on(k)]
      }
  return best
}

/** Where two lines cross; where one ends at the other they only meet. */
function intersections(a: readonly Xy[], b: readonly Xy[]): Xy[] {
  const ends = [a[0], a.at(-1), b[0], b.at(-1)]
  const found: Xy[] = []
  for (let i = 1; i < a.length; i++)
    for (let k = 1; k < b.length; k++) {
      const [[x1, y1], [x2, y2], [x3, y3], [x4, y4]] = [a[i - 1]!, a[i]!, b[k - 1]!, b[k]!]
      const [ax, ay, bx, by] = [x2 - x1, y2 - y1, x4 - x3, y4 - y3]
      const cross = ax * by - ay * bx
      if (cross === 0) continue
      const s = ((x3 - x1) * by - (y3 - y1) * bx) / cross
      const t = ((x3 - x1) * ay - (y3 - y1) * ax) / cross
      if (s < 0 || s > 1 || t < 0 || t > 1) continue
      const at: Xy = [x1 + s * ax, y1 + s * ay]
      if (!ends.some((end) => end && Math.hypot(end[0] - at[0], end[1] - at[1]) < 1)) found.push(at)
    }
  return found
}
