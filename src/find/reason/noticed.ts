/** What people notice of each fault. */
import { SYMPTOM_SEEN, SYMPTOMS } from '../data/symptoms.data.js'
import type { Spot } from '../model/expect.js'
import type { Forecasts } from '../model/forecasts.js'
import type { Hypothesis } from '../model/hypotheses.js'
import type { Station } from '../model/station.js'
import type { Symptom } from '../reading.js'
import type { Forecast } from './likelihood.js'

/** Of all tracks: more than that is no single place. */
const MOST_OF_ALL = 0.6

export class Noticed {
  readonly station: Station
  readonly hypotheses: readonly Hypothesis[]
  readonly #spots: readonly Spot[]
  readonly #forecasts: Forecasts

  constructor(
    station: Station,
    hypotheses: readonly Hypothesis[],
    spots: readonly Spot[],
    forecasts: Forecasts,
  ) {
    this.station = station
    this.hypotheses = hypotheses
    this.#spots = spots
    this.#forecasts = forecasts
  }

  /** How likely a symptom is noticed with this fault. */
  chance(h: number, { id, place }: Symptom): number {
    const { kinds, places, causes } = this.hypotheses[h]!
    const { caused, otherwise } = SYMPTOM_SEEN
    if (id === 'stops at one place' && this.station.wiring && kinds.length > 0) {
      const starved = this.#starved(h)
      // Where all of it starves, nobody would name one place.
      if (starved.size > 0 && starved.size < MOST_OF_ALL * this.station.wiring.plan.tracks.length)
        return place === undefined || starved.has(place) ? caused : otherwise
    }
    if (!causes.includes(id)) return otherwise
    // A fault of another locomotive or place does not explain it; one of the whole station does.
    const isElsewhere =
      place !== undefined && places.every((p) => p !== place && p.startsWith(`${placeKindOf(id)} `))
    return isElsewhere ? otherwise : caused
  }

  readonly #starvedBy = new Map<number, ReadonlySet<string>>()

  /** Tracks whose voltage under load is less than three quarters of what it is without the fault. */
  #starved(h: number): ReadonlySet<string> {
    const had = this.#starvedBy.get(h)
    if (had) return had
    const names = this.#spots.flatMap((spot) => {
      if (spot.quantity !== 'track volts under load') return []
      const { sound, changed } = this.#forecasts.column(spot, spot.kind.instruments[0]!)
      const own = changed.get(h)
      return own && meanOf(own) < 0.75 * meanOf([sound]) ? [spot.place.text] : []
    })
    const made = new Set(names)
    this.#starvedBy.set(h, made)
    return made
  }

  /** The symptoms that a fault causes, without their places. */
  symptomsOf(h: number): Symptom[] {
    const { kinds, causes } = this.hypotheses[h]!
    const ids = new Set(causes)
    const tracks = this.station.wiring?.plan.tracks.length ?? 0
    const starved = kinds.length > 0 ? this.#starved(h).size : 0
    if (starved > 0 && starved < MOST_OF_ALL * tracks) ids.add('stops at one place')
    return [...ids].map((id) => ({ id }))
  }
}

function placeKindOf(id: Symptom['id']): string {
  const kind = SYMPTOMS[id]
  return 'place' in kind ? kind.place : 'no'
}

function meanOf(list: readonly Forecast[]): number {
  return list.reduce((sum, f) => sum + ('chances' in f ? 0 : f.mean), 0) / list.length
}
