/** Where new track lies on the drawing: arcs, junctions, snapping. Pure; mm and degrees, y and angles grow downwards. */

import { stubEnd, TURNOUT_DEG, type TurnoutPort } from '../../track/index.js'

export type Xy = [number, number]

const RAD = Math.PI / 180

export interface Arc {
  centre: Xy
  radiusMm: number
  /** Angles of its ends, as the design file counts them. */
  from: number
  to: number
  end: Xy
  lengthMm: number
  /** Direction in which it leads on. */
  heading: number
}

export const ahead = ([x, y]: Readonly<Xy>, heading: number, mm: number): Xy => [
  x + mm * Math.cos(heading * RAD),
  y + mm * Math.sin(heading * RAD),
]

export const distance = (a: Readonly<Xy>, b: Readonly<Xy>) => Math.hypot(b[0] - a[0], b[1] - a[1])

export const headingOf = (a: Readonly<Xy>, b: Readonly<Xy>) => Math.atan2(b[1] - a[1], b[0] - a[0]) / RAD

/** Between -180 and 180. */
export const within180 = (deg: number) => ((((deg + 180) % 360) + 360) % 360) - 180

/** The arc that leaves a place in a direction. @param turn degrees; to the right when positive. */
export function arcFrom(start: Readonly<Xy>, heading: number, radiusMm: number, turn: number): Arc {
  const side = turn < 0 ? -1 : 1
  const centre = ahead(start, heading + 90 * side, radiusMm)
  const from = heading - 90 * side
  const to = from + turn
  const lengthMm = radiusMm * Math.abs(turn) * RAD
  return { centre, radiusMm, from, to, end: ahead(centre, to, radiusMm), lengthMm, heading: heading + turn }
}

/** Nearly straight arcs and those that come all round are none. */
const LEAST_TURN = 0.5
const MOST_TURN = 340

/** Radius and turn of the arc that leaves a place in a direction and ends at another (tangent and chord). */
export function arcThrough(
  start: Readonly<Xy>,
  heading: number,
  end: Readonly<Xy>,
): { radiusMm: number; turn: number } | undefined {
  const chord = distance(start, end)
  const off = within180(headingOf(start, end) - heading)
  const turn = 2 * off
  if (chord < 1e-3 || Math.abs(turn) < LEAST_TURN || Math.abs(turn) > MOST_TURN) return undefined
  return { radiusMm: chord / (2 * Math.sin(Math.abs(off) * RAD)), turn }
}

/** What a curve is until it is drawn. */
export const USUAL_CURVE = { radiusMm: 500, turn: 45 }

/** A curve in figures that one can build: radius in steps of 10 mm, turn in steps of 2.5 degrees. */
export function roundArc({ radiusMm, turn }: { radiusMm: number; turn: number }) {
  const round = (v: number, step: number) => Math.max(step, Math.round(Math.abs(v) / step) * step)
  return { radiusMm: round(radiusMm, 10), turn: Math.sign(turn) * round(turn, 2.5) }
}

/** Points along an arc, a few degrees apart. */
export function arcLine({ centre, radiusMm, from, to }: Arc): Xy[] {
  const steps = Math.max(2, Math.ceil(Math.abs(to - from) / 4))
  return Array.from({ length: steps + 1 }, (_, i) =>
    ahead(centre, from + ((to - from) * i) / steps, radiusMm),
  )
}

const GRID_MM = 50
const onGrid = (mm: number) => Math.round(mm / GRID_MM) * GRID_MM

/** On the grid; or on the line that a free end leads along, where that is nearer than `reachMm`. */
export function snapPlace(at: Readonly<Xy>, reachMm: number, line?: { start: Xy; heading: number }): Xy {
  if (line) {
    const size = distance(line.start, at)
    const off = within180(headingOf(line.start, at) - line.heading)
    const along = size * Math.cos(off * RAD)
    if (along > 0 && Math.abs(size * Math.sin(off * RAD)) <= reachMm) {
      const [x, y] = ahead(line.start, line.heading, Math.max(GRID_MM, onGrid(along)))
      return [Math.round(x), Math.round(y)]
    }
  }
  return [onGrid(at[0]), onGrid(at[1])]
}

/** A way that is drawn by hand from a free place begins along an axis. */
export const nearestAxis = (a: Readonly<Xy>, b: Readonly<Xy>) =>
  within180(Math.round(headingOf(a, b) / 90) * 90)

/** Middle and direction of a turnout that is entered by one of its ends. */
export function turnoutAt(
  start: Readonly<Xy>,
  heading: number,
  lengthMm: number,
  port: TurnoutPort,
  hand: 'left' | 'right',
): { at: Xy; along: number } {
  const side = hand === 'left' ? -1 : 1
  const along = port === 'points' ? heading : heading + 180 - (port === 'diverging' ? side * TURNOUT_DEG : 0)
  return { at: ahead(start, heading, lengthMm / 2), along: within180(along) }
}

/** Its three ends. */
export function turnoutLegs(at: Readonly<Xy>, along: number, lengthMm: number, hand: 'left' | 'right'): Xy[] {
  const junction = { kind: 'turnout', centre: at, met: new Map(), along, hand } as const
  return ['points', 'straight', 'diverging'].map((port) => stubEnd(junction, port, lengthMm / 2))
}

/** The four ends of a crossing. */
export function crossingLegs(at: Readonly<Xy>, along: number, lengthMm: number): Xy[] {
  const junction = { kind: 'crossing', centre: at, met: new Map(), along } as const
  return ['a1', 'a2', 'b1', 'b2'].map((port) => stubEnd(junction, port, lengthMm / 2))
}
