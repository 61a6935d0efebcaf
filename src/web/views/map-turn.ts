/** How the map is fitted into its frame; on a phone a wide railroad is turned by a quarter to fill the view. Pure, so that it can be tested without a screen. */
import type { TrackMapData } from '../worker/map-data.js'
import type { Bounds } from './map-geometry.js'
import { WIDTH } from './map-view.js'

const MARGIN = 40
/** Up to this width the map is at least so high, as a share of its width. */
const [NARROW_PX, TALL] = [600, 0.8]
/** A turned map is at least so high, and leaves so much of the view to what is above and below it, px. */
const [LEAST_PX, ABOVE_PX] = [320, 260]

/** So much wider than high, a railroad gains by being turned. */
const WIDE = 1.3

export const gainsByTurning = ({ minX, minY, maxX, maxY }: Bounds) => maxX - minX > WIDE * (maxY - minY)

const turn = ([x, y]: readonly [number, number]): [number, number] => [-y, x]

/** Clockwise: what was at the left is on top. */
export function turnedMap(map: TrackMapData): TrackMapData {
  return {
    ...map,
    tracks: map.tracks.map((t) => ({ ...t, points: t.points.map(turn) })),
    nodes: map.nodes.map((n) => ({
      ...n,
      at: turn(n.at),
      heading: n.heading === undefined ? undefined : n.heading + 90,
    })),
    feeders: map.feeders.map((f) => ({ ...f, at: turn(f.at) })),
  }
}

export const isNarrow = (framePx: number) => framePx > 0 && framePx < NARROW_PX

export interface Fit {
  /** Units of the drawing for each mm. */
  scale: number
  /** Where the railroad begins, and how high the drawing is, in its units. */
  left: number
  top: number
  height: number
}

/** @param viewPx height of the view where the map is turned: then all of it is in the first view. */
export function fitOf({ minX, minY, maxX, maxY }: Bounds, framePx: number, viewPx?: number): Fit {
  const [wide, high] = [Math.max(1, maxX - minX), Math.max(1, maxY - minY)]
  const flat = (high * (WIDTH - 2 * MARGIN)) / wide + 2 * MARGIN
  const most = viewPx === undefined ? flat : (WIDTH * Math.max(LEAST_PX, viewPx - ABOVE_PX)) / framePx
  // What is zoomed in fills a taller view than a strip.
  const height = isNarrow(framePx) ? Math.max(Math.min(flat, most), TALL * WIDTH) : flat
  const scale = Math.min((WIDTH - 2 * MARGIN) / wide, (height - 2 * MARGIN) / high)
  return { scale, left: (WIDTH - wide * scale) / 2, top: (height - high * scale) / 2, height }
}
