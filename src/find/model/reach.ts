/** Which readings a fault can change at all: those of its part of the network, its district, its supply, and those it names. */
import { type Effects, readingKey } from '../faults/effects.js'
import type { Spot } from './expect.js'
import { isTripped } from './fed.js'
import type { Station } from './station.js'
import type { FaultyWiring } from './wiring.js'

/** Whether a place is too far from the changes for a meter to show it. */
type IsFar = (wiring: FaultyWiring, sound: FaultyWiring) => boolean

interface Position {
  isFar: IsFar
  /** What can be read there, by number. */
  spots: number[]
}

/** By what a reading depends on: the readings, by number. */
export class Reach {
  readonly #station: Station
  readonly #by = new Map<string, number[]>()
  /** By part of the network: its places, each asked about once for all that is read there. */
  readonly #byPart = new Map<number, Position[]>()
  /** By reading: the question that it was last found for, so that none is found twice. */
  readonly #foundFor: Int32Array
  #question = 0

  constructor(station: Station, spots: readonly Spot[]) {
    this.#station = station
    this.#foundFor = new Int32Array(spots.length)
    const positions = new Map<string, Position>()
    spots.forEach((spot, i) => {
      for (const key of this.#dependsOn(spot)) {
        const list = this.#by.get(key)
        if (list) list.push(i)
        else this.#by.set(key, [i])
      }
      const { text } = spot.place
      const had = positions.get(text)
      if (had) {
        had.spots.push(i)
        return
      }
      const made = { isFar: this.#farFrom(spot.place), spots: [i] }
      positions.set(text, made)
      for (const part of this.#partsAt(spot.place)) {
        const list = this.#byPart.get(part)
        if (list) list.push(made)
        else this.#byPart.set(part, [made])
      }
    })
  }

  /**
   * The readings that may change, by number.
   * @param wiring with the changes of these effects; `sound` without any
   */
  of(effects: Effects, wiring: FaultyWiring | undefined, sound: FaultyWiring | undefined): number[] {
    const { districts } = this.#station
    const keys = new Set<string>([...effects.figures.keys(), ...effects.words.keys()])
    for (const name of effects.waves.keys()) keys.add(`district ${name}`)
    for (const supply of effects.supplies.keys()) {
      keys.add(`supply ${supply}`)
      for (const [name, d] of districts) if (d.stage.supplyName === supply) keys.add(`district ${name}`)
    }
    const trips =
      wiring !== undefined && wiring !== sound && [...districts.values()].some((d) => isTripped(d, wiring))
    if (trips) for (const name of districts.keys()) keys.add(`district ${name}`)
    if (effects.trains !== 'run' || effects.waves.size > 0 || trips) keys.add('trains')
    const found: number[] = []
    const question = ++this.#question
    const take = (list: readonly number[]) => {
      for (const i of list) {
        if (this.#foundFor[i] === question) continue
        this.#foundFor[i] = question
        found.push(i)
      }
    }
    for (const key of keys) take(this.#by.get(key) ?? [])
    const parts = new Set(effects.edits.flatMap((edit) => this.#station.wiring!.partsOf({ edit })))
    for (const part of parts)
      for (const { isFar, spots } of this.#byPart.get(part) ?? []) if (!isFar(wiring!, sound!)) take(spots)
    return found
  }

  #farFrom(place: Spot['place']): IsFar {
    const { wiring, districtOf, districts } = this.#station
    switch (place.kind) {
      case 'track':
        return (changed, sound) => changed.isLike(sound, place.index!)
      case 'gap': {
        const { a, b } = wiring!.gaps[place.index!]!
        return (changed, sound) => changed.isLike(sound, a) && changed.isLike(sound, b)
      }
      case 'joint':
      case 'feeder': {
        const track = trackAt(this.#station, place)!
        const edge =
          place.kind === 'joint'
            ? wiring!.joints[place.index!]!.edge
            : wiring!.feeders.get(place.index!)![place.side as 'A' | 'B']
        const { testOhm } = districts.get(districtOf(track)!)!
        return (changed, sound) => changed.isLikeAlong(sound, edge, track, testOhm)
      }
      default:
        return () => false
    }
  }

  #partsOfDistrict(name: string): number[] {
    const { wiring, districts } = this.#station
    const { index } = districts.get(name)!
    return index === undefined || !wiring ? [] : wiring.partsOf({ district: index })
  }

  /** The parts of the network that what is read at a place depends on. */
  #partsAt(place: Spot['place']): Set<number> {
    const { wiring, districtOf } = this.#station
    const along = (...tracks: number[]) =>
      new Set(
        tracks.flatMap((track) => [
          ...this.#partsOfDistrict(districtOf(track)!),
          ...wiring!.partsOf({ track }),
        ]),
      )
    switch (place.kind) {
      case 'track':
      case 'joint':
      case 'feeder':
        return along(trackAt(this.#station, place)!)
      case 'gap': {
        const { a, b } = wiring!.gaps[place.index!]!
        return along(a, b)
      }
      case 'district':
        return new Set(this.#partsOfDistrict(place.name))
      default:
        return new Set()
    }
  }

  /** What else a reading depends on. */
  #dependsOn({ key, place, quantity }: Spot): string[] {
    const { wiring, districtOf } = this.#station
    switch (place.kind) {
      case 'track':
      case 'joint':
      case 'feeder': {
        const district = districtOf(trackAt(this.#station, place)!)!
        const trip = readingKey(`district ${district}`, 'trip current')
        return [key, `district ${district}`, ...(quantity === 'coin test' ? [trip] : [])]
      }
      case 'gap': {
        const { a, b } = wiring!.gaps[place.index!]!
        return [key, ...new Set([a, b].map((track) => `district ${districtOf(track)!}`))]
      }
      case 'district':
        return [key, `district ${place.name}`]
      case 'supply':
        return [key, `supply ${place.name}`]
      case 'locomotive':
        return [key, 'trains']
      default:
        return [key]
    }
  }
}

/** The track that a place on the rails or at a feeder belongs to, by number. */
export function trackAt({ wiring }: Station, place: Spot['place']): number | undefined {
  switch (place.kind) {
    case 'track':
      return place.index
    case 'joint':
      return wiring!.plan.joints[wiring!.joints[place.index!]!.joint]!.a >> 1
    case 'gap':
      return wiring!.gaps[place.index!]!.a
    case 'feeder':
      return wiring!.plan.feeders[place.index!]!.track
    default:
      return undefined
  }
}
