/** Where the free ends of turnouts and crossings are drawn: no section says where they lead. */

type Xy = readonly [number, number]

/** Angle between the two ways of a turnout, and of a crossing, as drawn. */
export const TURNOUT_DEG = 12
const CROSSING_DEG = 24

export interface Junction {
  kind: 'turnout' | 'crossing'
  centre: Xy
  /** Ends that meet a section, by port: `points`, `a1`. */
  met: ReadonlyMap<string, Xy>
  /** Direction of its first way where no end is met; degrees, from the right, growing downwards like y. */
  along?: number | undefined
  hand?: 'left' | 'right' | undefined
}

const turned = ([x, y]: Xy, deg: number): Xy => {
  const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)]
  return [x * c - y * s, x * s + y * c]
}

/** Direction of each end from the centre, when its first way runs to the right. */
const PORTS: Record<Junction['kind'], Record<string, number>> = {
  turnout: { straight: 0, points: 180, diverging: TURNOUT_DEG },
  crossing: { a2: 0, a1: 180, b2: CROSSING_DEG, b1: 180 + CROSSING_DEG },
}

/** The end of a stub of a length, so that a free end lies where a track from there would be laid. */
export function stubEnd(junction: Junction, port: string, lengthMm: number): [number, number] {
  const { centre, met, hand } = junction
  const side = hand === 'left' ? -1 : 1
  const ports = PORTS[junction.kind]
  let first: Xy | undefined
  for (const [name, deg] of Object.entries(ports)) {
    const end = met.get(name)
    if (!end) continue
    const by: Xy = [end[0] - centre[0], end[1] - centre[1]]
    const size = Math.hypot(by[0], by[1])
    if (size < 1e-6) continue
    first = turned([by[0] / size, by[1] / size], -side * deg)
    break
  }
  first ??= turned([1, 0], junction.along ?? 0)
  const [dx, dy] = turned(first, side * ports[port]!)
  return [centre[0] + lengthMm * dx, centre[1] + lengthMm * dy]
}
