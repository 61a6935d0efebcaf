/** Where trains can stand, and which of these places cost another one most. */
import type { TrackLayout } from '../layout/layout.js'
import type { Circuit } from '../network/circuit.js'
import type { Train } from './trains.js'
import { candidatesOf } from './weak-places.js'

/** Trains that meet nose to nose at a turnout. */
const AT_TURNOUT = 3

/** The response to one ampere at a place: that of row r is `x[each · r + from]`. */
export interface Response {
  x: Float64Array
  each: number
  from: number
}

export function acrossRows({ x, each, from }: Response, a: number, b: number): number {
  return (a < 0 ? 0 : x[each * a + from]!) - (b < 0 ? 0 : x[each * b + from]!)
}

export interface Seat {
  seat: number
  track: number
  place: number
  ohm: number
}

export interface Placed {
  train: Train
  track: number
  place: number
  ohm: number
}

export class Seats {
  readonly #plan: TrackLayout
  readonly #circuit: Circuit
  /** A turnout is one place, however many legs it has: tracks of one seat. */
  readonly #seat: Int32Array
  readonly #candidates: ReturnType<typeof candidatesOf>
  #heard: { x: Float64Array; each: number } = { x: new Float64Array(0), each: 1 }
  #isFresh = false
  #last: readonly Seat[] = []
  readonly #ohm: Float64Array
  readonly #at: Int32Array

  /** @param weakest by track, its place of highest resistance */
  constructor(plan: TrackLayout, circuit: Circuit, weakest: Int32Array) {
    this.#plan = plan
    this.#circuit = circuit
    this.#seat = Int32Array.from(plan.tracks, (t, i) =>
      t.fromHub >= 0 ? -1 - t.fromHub : t.toHub >= 0 ? -1 - t.toHub : i,
    )
    this.#candidates = candidatesOf(circuit, weakest)
    this.#ohm = new Float64Array(4 * plan.tracks.length)
    this.#at = new Int32Array(4 * plan.tracks.length)
  }

  /** What {@link dearest} goes by: the responses of one place or of four, until the next. */
  hear(x: Float64Array, each: number): void {
    this.#heard = { x, each }
    this.#isFresh = true
  }

  /** By track and response: the most resistance that a place of the track shares with it, and which place; −1: none. */
  #shareOut(): void {
    const { start, place, a, b } = this.#candidates
    const { x, each } = this.#heard
    const ohm = this.#ohm
    const at = this.#at
    ohm.fill(-1)
    for (let t = 0; t + 1 < start.length; t++) {
      for (let k = start[t]!; k < start[t + 1]!; k++) {
        const ra = each * a[k]!
        const rb = each * b[k]!
        for (let i = 0; i < each; i++) {
          const here = Math.abs((ra < 0 ? 0 : x[ra + i]!) - (rb < 0 ? 0 : x[rb + i]!))
          if (here > ohm[each * t + i]!) {
            ohm[each * t + i] = here
            at[each * t + i] = place[k]!
          }
        }
      }
    }
    this.#isFresh = false
  }

  /**
   * Seats by the resistance that they share with a place, most first, as many as there are trains; its own among them.
   * @param from which of the responses is the place's
   */
  dearest(p: number, from: number, count: number, self: number): Seat[] {
    const own = this.#seat[this.#circuit.layout.net.places[p]!.track]!
    const top: Seat[] = [{ seat: own, track: this.#circuit.layout.net.places[p]!.track, place: p, ohm: self }]
    if (count === 0) return top
    if (this.#isFresh) this.#shareOut()
    const { each } = this.#heard
    const shared = this.#ohm
    const tracks = this.#seat.length
    const least = this.#leastOf(own, from, count, self)
    let enough = -1
    for (let t = 0; t < tracks; t++) {
      const ohm = shared[each * t + from]!
      if (ohm < least || ohm <= enough) continue
      const seat = this.#seat[t]!
      if (seat === own) continue
      const twin = seat < 0 ? top.findIndex((x) => x.seat === seat) : -1
      if (twin >= 0) {
        if (top[twin]!.ohm >= ohm) continue
        top.splice(twin, 1)
      }
      let i = top.length
      while (i > 0 && top[i - 1]!.ohm < ohm) i--
      top.splice(i, 0, { seat, track: t, place: this.#at[each * t + from]!, ohm })
      if (top.length > count + 1) top.pop()
      enough = top.length < count + 1 ? -1 : top.at(-1)!.ohm
    }
    this.#last = top
    return top
  }

  /** What the least of the seats has at least, by those that were dearest to the place before: as a rule its neighbour. */
  #leastOf(own: number, from: number, count: number, self: number): number {
    const others = this.#last.filter((s) => s.seat !== own).slice(0, count)
    if (others.length < count) return -1
    return others.reduce((least, s) => Math.min(least, this.#ohm[this.#heard.each * s.track + from]!), self)
  }

  /** Each seat takes as many trains as its length holds, heaviest first; one in any case. */
  place(ownTrack: number, headMm: number, others: readonly Train[], seats: readonly Seat[]): Placed[] {
    const own = this.#seat[ownTrack]!
    const placed: Placed[] = []
    let at = -1
    let free = 0
    let empty = false
    const next = () => {
      at++
      const s = seats[at]
      if (!s) return
      free = s.seat < 0 ? 0 : this.#plan.tracks[s.track]!.lengthMm
      empty = true
      if (s.seat === own) {
        free -= headMm
        empty = false
      }
    }
    next()
    for (const train of others) {
      while (at < seats.length && !(empty || free >= train.lengthMm)) next()
      const s = seats[at]
      if (!s) break
      placed.push({ train, track: s.track, place: s.place, ohm: s.ohm })
      free -= train.lengthMm
      empty = false
    }
    return placed
  }

  /** What the others cost at most: between two of them that stand across the ends of a section, its length holds the rest. */
  bound(
    ownTrack: number,
    others: readonly Train[],
    room: number,
    seats: readonly Seat[],
  ): { steady: number; power: number } {
    const own = this.#seat[ownTrack]!
    const shortest = others.reduce((least, t) => Math.min(least, t.lengthMm), Number.POSITIVE_INFINITY)
    const bound = { steady: 0, power: 0 }
    let at = 0
    let left = -1
    let amp = Math.max(0, room)
    for (const train of others) {
      if (left < 0) left = this.#atMost(seats[at]!, shortest) - (seats[at]!.seat === own ? 1 : 0)
      while (left === 0 && at + 1 < seats.length) {
        at++
        left = this.#atMost(seats[at]!, shortest) - (seats[at]!.seat === own ? 1 : 0)
      }
      const drawn = Math.min(train.amp, amp)
      bound[train.law === 'power' ? 'power' : 'steady'] += drawn * seats[at]!.ohm
      amp -= drawn
      left--
      if (amp <= 0) break
    }
    return bound
  }

  #atMost(seat: Seat, shortestMm: number): number {
    if (seat.seat < 0) return AT_TURNOUT
    return 2 + Math.floor(this.#plan.tracks[seat.track]!.lengthMm / shortestMm)
  }
}
