/** A train on the rails: which stretches it covers, and how it moves along them. */
import type { TrackLayout } from '../../track/index.js'
import type { TrackEnd, Ways } from './ways.js'

export interface Position {
  track: number
  /** From the track's start, mm. */
  mm: number
}

/** A stretch that the train covers; `ahead`: forward is towards its `to` end. */
interface Covered {
  track: number
  ahead: boolean
}

export type Moved =
  /** One of its ends has come onto another stretch. */
  | { what: 'entered'; end: 'front' | 'rear'; track: number; from: number; joint: number }
  /** It has left a stretch altogether. */
  | { what: 'left'; track: number }
  /** It stands at the end of the track. */
  | { what: 'end'; track: number }

/** Nearer to an end than this is at it, mm. */
const AT_END_MM = 1e-6

export class Motion {
  readonly #layout: TrackLayout
  readonly #ways: Ways
  /** From the front to the rear. */
  #covered: Covered[]
  /** Of the front in its stretch and of the rear in its own, each along the way forward, mm. */
  #front: number
  #rear: number
  /** How far it has run since it was placed, either way, mm. */
  ranMm = 0

  /** A train of a length with its front there; forward is towards the `to` end of its stretch. */
  constructor(layout: TrackLayout, ways: Ways, at: Position, lengthMm: number) {
    this.#layout = layout
    this.#ways = ways
    this.#covered = [{ track: at.track, ahead: true }]
    this.#front = at.mm
    this.#rear = at.mm
    const lacking = this.#layOut(lengthMm)
    if (lacking > 0) {
      // There is not enough track behind it: its front stands further on.
      this.#covered = [{ track: at.track, ahead: true }]
      this.#front = at.mm
      this.#rear = at.mm
      this.move(lacking)
      this.#layOut(lengthMm)
    }
    this.ranMm = 0
  }

  /** Lay the train out behind its front. @returns how much of it finds no track, mm */
  #layOut(lengthMm: number): number {
    let left = lengthMm
    while (this.#rear < left) {
      left -= this.#rear
      this.#rear = 0
      const next = this.#ways.from(rearEnd(this.#covered.at(-1)!))
      if (!next || this.#covered.some((c) => c.track === next.end >> 1)) return left
      // What is entered at its `from` end is run through backwards.
      const track = next.end >> 1
      this.#covered.push({ track, ahead: (next.end & 1) === 1 })
      this.#rear = this.#length(track)
    }
    this.#rear -= left
    return 0
  }

  #length(track: number): number {
    return this.#layout.tracks[track]!.lengthMm
  }

  get front(): Position {
    return this.#position(this.#covered[0]!, this.#front)
  }

  get rear(): Position {
    return this.#position(this.#covered.at(-1)!, this.#rear)
  }

  #position({ track, ahead }: Covered, along: number): Position {
    return { track, mm: ahead ? along : this.#length(track) - along }
  }

  /** Stretches under the train, from the front to the rear. */
  get tracks(): number[] {
    return this.#covered.map((c) => c.track)
  }

  /** How far it is until one of its ends reaches the end of a stretch, mm. */
  untilEnd(forward: boolean): number {
    const front = this.#length(this.#covered[0]!.track) - this.#front
    const last = this.#covered.at(-1)!
    const rear = this.#length(last.track) - this.#rear
    return forward ? Math.min(front, rear + AT_END_MM) : Math.min(this.#rear, this.#front + AT_END_MM)
  }

  /**
   * Move by a distance, backwards if negative.
   * @returns what its ends met, in order
   */
  move(mm: number): Moved[] {
    const met: Moved[] = []
    let left = Math.abs(mm)
    const forward = mm > 0
    while (left > 0) {
      const leading = forward ? this.#covered[0]! : this.#covered.at(-1)!
      const room = forward ? this.#length(leading.track) - this.#front : this.#rear
      const trailing = forward ? this.#length(this.#covered.at(-1)!.track) - this.#rear : this.#front
      const go = Math.min(left, room, trailing)
      const before = this.#covered.length
      this.#front += forward ? go : -go
      this.#rear += forward ? go : -go
      this.ranMm += go
      left -= go
      if (go >= trailing - AT_END_MM && this.#covered.length > 1) {
        const gone = forward ? this.#covered.pop()! : this.#covered.shift()!
        if (forward) this.#rear = 0
        else this.#front = this.#length(this.#covered[0]!.track)
        met.push({ what: 'left', track: gone.track })
      }
      if (go < room - AT_END_MM) {
        if (go === 0 && this.#covered.length === before) break
        continue
      }
      const next = this.#ways.from(forward ? frontEnd(leading) : rearEnd(leading))
      if (!next) {
        met.push({ what: 'end', track: leading.track })
        return met
      }
      const track = next.end >> 1
      const entered = (next.end & 1) === 0
      if (forward) {
        this.#covered.unshift({ track, ahead: entered })
        this.#front = 0
      } else {
        this.#covered.push({ track, ahead: !entered })
        this.#rear = this.#length(track)
      }
      met.push({
        what: 'entered',
        end: forward ? 'front' : 'rear',
        track,
        from: leading.track,
        joint: next.joint,
      })
    }
    return met
  }
}

function frontEnd({ track, ahead }: Covered): TrackEnd {
  return 2 * track + (ahead ? 1 : 0)
}

function rearEnd({ track, ahead }: Covered): TrackEnd {
  return 2 * track + (ahead ? 0 : 1)
}
