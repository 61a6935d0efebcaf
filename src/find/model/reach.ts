/** Which readings a fault can change at all: those of its part of the network, its district, its supply, and those it names. */
import { type Effects, readingKey } from '../faults/effects.js'
import type { Spot } from './expect.js'
import { isTripped } from './fed.js'
import type { Station } from './station.js'
import type { FaultyWiring } from './wiring.js'
import type { WiringEdit } from './wiring-edit.js'

/** By what a reading depends on: the readings, by number. */
export class Reach {
  readonly #station: Station
  readonly #spots: readonly Spot[]
  readonly #by = new Map<string, number[]>()

  constructor(station: Station, spots: readonly Spot[]) {
    this.#station = station
    this.#spots = spots
    spots.forEach((spot, i) => {
      for (const key of this.#dependsOn(spot)) {
        const list = this.#by.get(key)
        if (list) list.push(i)
        else this.#by.set(key, [i])
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
    for (const edit of effects.edits) for (const part of this.#partsOf(edit)) keys.add(`part ${part}`)
    for (const name of effects.waves.keys()) keys.add(`district ${name}`)
    for (const supply of effects.supplies.keys()) {
      keys.add(`supply ${supply}`)
      for (const [name, d] of districts) if (d.stage.supplyName === supply) keys.add(`district ${name}`)
    }
    const trips =
      wiring !== undefined && wiring !== sound && [...districts.values()].some((d) => isTripped(d, wiring))
    if (trips) for (const name of districts.keys()) keys.add(`district ${name}`)
    if (effects.trains !== 'run' || effects.waves.size > 0 || trips) keys.add('trains')
    const found = new Set<number>()
    for (const key of keys) {
      const isPart = key.startsWith('part ')
      for (const i of this.#by.get(key) ?? []) if (!isPart || !this.#isFar(i, wiring!, sound!)) found.add(i)
    }
    return [...found]
  }

  /** Whether a place on the rails is too far from the change for a meter to show it. */
  #isFar(spot: number, wiring: FaultyWiring, sound: FaultyWiring): boolean {
    const { place } = this.#spots[spot]!
    if (place.kind === 'track') return wiring.isLike(sound, place.index!)
    if (place.kind === 'gap') {
      const { a, b } = this.#station.wiring!.gaps[place.index!]!
      return wiring.isLike(sound, a) && wiring.isLike(sound, b)
    }
    if (place.kind !== 'joint' && place.kind !== 'feeder') return false
    const { wiring: w, districtOf, districts } = this.#station
    const track = trackAt(this.#station, place)!
    const edge =
      place.kind === 'joint'
        ? w!.joints[place.index!]!.edge
        : w!.feeders.get(place.index!)![place.side as 'A' | 'B']
    return wiring.isLikeAlong(sound, edge, track, districts.get(districtOf(track)!)!.testOhm)
  }

  #partsOf(edit: WiringEdit): number[] {
    return this.#station.wiring!.partsOf({ edit })
  }

  #dependsOn({ key, place, quantity }: Spot): string[] {
    const { wiring, districts, districtOf } = this.#station
    const ofDistrict = (name: string): string[] => {
      const index = districts.get(name)!.index
      const parts = index === undefined || !wiring ? [] : wiring.partsOf({ district: index })
      return [`district ${name}`, ...parts.map((p) => `part ${p}`)]
    }
    switch (place.kind) {
      case 'track':
      case 'joint':
      case 'feeder': {
        const track = trackAt(this.#station, place)!
        const name = districtOf(track)!
        return [
          key,
          ...ofDistrict(name),
          ...wiring!.partsOf({ track }).map((p) => `part ${p}`),
          ...(quantity === 'coin test' ? [readingKey(`district ${name}`, 'trip current')] : []),
        ]
      }
      case 'gap': {
        const { a, b } = wiring!.gaps[place.index!]!
        return [
          key,
          ...[a, b].flatMap((track) => [
            ...ofDistrict(districtOf(track)!),
            ...wiring!.partsOf({ track }).map((p) => `part ${p}`),
          ]),
        ]
      }
      case 'district':
        return [key, ...ofDistrict(place.name)]
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
