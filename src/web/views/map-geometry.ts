/** Where things are on the map: bounds, lines, vertices that can be moved. */
import type { MapTrack, TrackMapData } from '../worker/map-data.js'
import type { Picked } from './map-fields.js'

export interface Handle {
  path: (string | number)[]
  name: string
  at: [number, number]
}

export interface Bounds {
  minX: number
  minY: number
  maxX: number
  maxY: number
}

export type Scaled = (mm: number) => number

/** As the design file has it where it does not say. */
const USUAL_TURNOUT_MM = 230

/** A sheet to draw the first section on. */
const EMPTY_SHEET: Bounds = { minX: 0, minY: 0, maxX: 3000, maxY: 1200 }

export function nothingPicked(map: TrackMapData): Picked {
  const start: [number, number] = map.nodes.find((n) => n.meets)?.at ?? [0, 0]
  return {
    track: map.tracks[0]?.name ?? '',
    atMm: undefined,
    joint: '',
    stand: '',
    from: '',
    to: '',
    start,
    end: start,
    heading: 0,
    port: 'points',
    hand: 'right',
    isSlip: false,
    partMm: USUAL_TURNOUT_MM,
    into: '',
    intoMm: 0,
    towards: 'to',
    across: '',
    acrossMm: 0,
    acrossHeading: 0,
    way: [],
    groups: [],
  }
}

/** @param wider with room around it to draw in, at least the sheet that one begins on. */
export function boundsOf(map: TrackMapData, wider: boolean): Bounds {
  const all = map.tracks.flatMap((t) => t.points)
  if (all.length === 0) return EMPTY_SHEET
  const [minX, maxX] = bounds(all.map((p) => p[0]))
  const [minY, maxY] = bounds(all.map((p) => p[1]))
  const room = wider ? Math.max(300, (maxX - minX) / 12) : 0
  const own = { minX: minX - room, maxX: maxX + room, minY: minY - room, maxY: maxY + room }
  const { minX: left, minY: top, maxX: right, maxY: bottom } = EMPTY_SHEET
  const isOnSheet = minX >= left && maxX <= right && minY >= top && maxY <= bottom
  if (!wider || !isOnSheet) return own
  // The sheet stays as it is while one draws on it.
  return {
    minX: Math.min(left, own.minX),
    maxX: Math.max(right, own.maxX),
    minY: Math.min(top, own.minY),
    maxY: Math.max(bottom, own.maxY),
  }
}

/** Points of sections and places of turnouts that the file gives. */
export function handlesOf(data: unknown): Handle[] {
  const track = (data as { track?: Record<string, Record<string, unknown>> } | undefined)?.track ?? {}
  const list: Handle[] = []
  const isPoint = (p: unknown): p is [number, number] =>
    Array.isArray(p) && p.length === 2 && p.every((n) => typeof n === 'number')
  for (const [name, section] of Object.entries(track['sections'] ?? {})) {
    const points = (section as { points?: unknown } | null)?.points
    if (!Array.isArray(points)) continue
    points.forEach((p, i) => {
      if (isPoint(p))
        list.push({
          path: ['track', 'sections', name, 'points', i],
          name: `Point ${i + 1} of ${name}`,
          at: p,
        })
    })
  }
  for (const part of ['turnouts', 'crossings', 'turntables']) {
    for (const [name, one] of Object.entries(track[part] ?? {})) {
      const at = (one as { at?: unknown } | null)?.at
      if (isPoint(at)) list.push({ path: ['track', part, name, 'at'], name, at })
    }
  }
  return list
}

export function lineOf(t: MapTrack, x: Scaled, y: Scaled): string {
  return t.points.map(([a, b], i) => `${i === 0 ? 'M' : 'L'}${x(a).toFixed(1)} ${y(b).toFixed(1)}`).join('')
}

function bounds(values: number[]): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const v of values) {
    if (v < low) low = v
    if (v > high) high = v
  }
  return low <= high ? [low, high] : [0, 1]
}
