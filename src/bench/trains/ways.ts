/** Where a train comes to when it leaves a stretch of track at one of its ends. */
import type { TrackLayout } from '../../track/index.js'

export type TurnoutPosition = 'straight' | 'diverging'

/** End 2·t is the `from` end of track t, 2·t + 1 its `to` end. */
export type TrackEnd = number

export interface Way {
  /** The end at which the next stretch is entered. */
  end: TrackEnd
  /** The joint crossed; −1 inside a turnout. */
  joint: number
}

export class Ways {
  readonly #layout: TrackLayout
  readonly #jointAt = new Map<TrackEnd, number>()
  readonly #position = new Map<string, TurnoutPosition>()

  constructor(layout: TrackLayout) {
    this.#layout = layout
    layout.joints.forEach((j, i) => {
      this.#jointAt.set(j.a, i)
      this.#jointAt.set(j.b, i)
    })
  }

  throw(turnout: string, to: TurnoutPosition): void {
    this.#position.set(turnout, to)
  }

  /** Turnouts that nobody has thrown are straight. */
  position(turnout: string): TurnoutPosition {
    return this.#position.get(turnout) ?? 'straight'
  }

  /** @returns undefined where the track ends, or a turntable begins */
  from(end: TrackEnd): Way | undefined {
    const joint = this.#jointAt.get(end)
    if (joint !== undefined) {
      const { a, b } = this.#layout.joints[joint]!
      return { end: a === end ? b : a, joint }
    }
    const { tracks, hubs } = this.#layout
    const track = tracks[end >> 1]!
    const hub = (end & 1) === 0 ? track.fromHub : track.toHub
    if (hub < 0) return undefined
    const wanted = this.#through(track.leg, track.group)
    const next = hubs[hub]!.find((e) => e !== end && tracks[e >> 1]!.leg === wanted)
    return next === undefined ? undefined : { end: next, joint: -1 }
  }

  /** The leg that follows a leg. */
  #through(leg: string, name: string): string {
    if (leg === 'points') return this.position(name)
    if (leg === 'straight' || leg === 'diverging') return 'points'
    // A slip: a1 and b1 on one side, a2 and b2 on the other; thrown, it leads from one road to the other.
    const crosses = this.position(name) === 'diverging'
    const road = leg[0] === 'a' ? 'a' : 'b'
    const other = road === 'a' ? 'b' : 'a'
    return `${crosses ? other : road}${leg[1] === '1' ? '2' : '1'}`
  }
}
