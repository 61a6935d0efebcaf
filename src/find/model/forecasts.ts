/**
 * What every hypothesis expects of every reading. Most faults change few readings: only these are calculated, and all others
 * share what a station without a fault shows.
 */
import type { InstrumentId, MeterError } from '../data/instruments.data.js'
import { differs } from '../reason/compare.js'
import { type Forecast, WIRES } from '../reason/likelihood.js'
import { type Expected, expectedOf, figureOf, type Spot } from './expect.js'
import type { Hypothesis } from './hypotheses.js'
import { Reach } from './reach.js'
import type { Station } from './station.js'
import type { Scratch } from './wiring.js'

/** What each hypothesis expects of one reading, by form. */
export interface Column {
  /** Of the station without a fault, and of every fault that does not change this reading. */
  sound: Forecast
  /** Only the hypotheses that expect something else in at least one form, in order. */
  changed: ReadonlyMap<number, readonly Forecast[]>
  /** Of those, the ones that expect enough else for a reading to tell anything. */
  concerned: readonly number[]
  of(hypothesis: number): readonly Forecast[]
}

/**
 * Of the model's spread of what is read along the rails without a supply of its own, the part that each reading has for
 * itself: joiners differ one by one, wires and rails are longer or thinner all alike. Assumed, no source.
 */
const OWN_SHARE = 0.5

/** Expectations nearer than this part of the spread of model and meter are the same. */
const ALIKE = 1e-3

export class Forecasts {
  readonly #station: Station
  readonly #hypotheses: readonly Hypothesis[]
  readonly #spots: readonly Spot[]
  readonly #tolerance: ReadonlyMap<string, number>
  readonly #number: ReadonlyMap<string, number>
  readonly #columns = new Map<string, Column>()
  #table: { sound: Expected[]; changed: Map<number, Expected[]>[] } | undefined

  /** @param tolerance of each supply's voltage, as one standard deviation, a share */
  constructor(
    station: Station,
    hypotheses: readonly Hypothesis[],
    spots: readonly Spot[],
    tolerance: ReadonlyMap<string, number>,
  ) {
    this.#station = station
    this.#hypotheses = hypotheses
    this.#spots = spots
    this.#tolerance = tolerance
    this.#number = new Map(spots.map((s, i) => [s.key, i]))
  }

  column(spot: Spot, instrument: InstrumentId, error?: MeterError): Column {
    const key = `${spot.key} ${instrument}${error ? ` ${error.share} ${error.fixed}` : ''}`
    const had = this.#columns.get(key)
    if (had) return had
    this.#table ??= this.#calculate()
    const i = this.#number.get(spot.key)!
    const sound = this.#forecast(this.#table.sound[i]!, spot, instrument, error)
    const expected = this.#table.sound[i]!
    const changed = new Map<number, readonly Forecast[]>()
    const concerned: number[] = []
    for (const [h, list] of this.#table.changed[i]!) {
      const own = list.map((e) => (e === expected ? sound : this.#forecast(e, spot, instrument, error)))
      changed.set(h, own)
      if (own.some((f) => differs(f, sound))) concerned.push(h)
    }
    const alike: Forecast[][] = []
    const made: Column = {
      sound,
      changed,
      concerned,
      of: (h) => {
        const own = changed.get(h)
        if (own) return own
        const { length } = this.#hypotheses[h]!.forms
        alike[length] ??= Array.from({ length }, () => sound)
        return alike[length]
      },
    }
    this.#columns.set(key, made)
    return made
  }

  /** By hypothesis, the readings that it changes, by number. */
  #calculate() {
    const station = this.#station
    const base = station.wiring?.with([])
    const reach = new Reach(station, this.#spots)
    const sound = this.#spots.map((spot) => expectedOf(station, this.#hypotheses[0]!.forms[0]!, base, spot)!)
    const changed = this.#spots.map(() => new Map<number, Expected[]>())
    const spread = sound.map((e, i) =>
      'words' in e ? 1 : figureOf(e, this.#spots[i]!.kind.instruments[0]!).sd,
    )
    const scratch: Scratch = { low: [], high: [] }
    this.#hypotheses.forEach(({ forms }, h) => {
      forms.forEach((effects, f) => {
        const wiring = effects.edits.length > 0 ? station.wiring!.with(effects.edits, scratch) : base
        for (const i of reach.of(effects, wiring, base)) {
          const expected = expectedOf(station, effects, wiring, this.#spots[i]!)!
          if (isSame(expected, sound[i]!, ALIKE * spread[i]!)) continue
          const had = changed[i]!.get(h)
          const list = had ?? forms.map(() => sound[i]!)
          list[f] = expected
          if (!had) changed[i]!.set(h, list)
        }
      })
    })
    return { sound, changed }
  }

  #forecast(
    expected: Expected,
    { quantity }: Spot,
    instrument: InstrumentId,
    error: MeterError | undefined,
  ): Forecast {
    if ('words' in expected) return { chances: expected.words }
    const { mean, sd, modelSd, meterSd } = figureOf(expected, instrument, error)
    if (quantity === 'fed volts' && modelSd > 0)
      return {
        mean,
        sd: Math.hypot(meterSd, OWN_SHARE * modelSd),
        factor: WIRES,
        perUnit: (Math.sqrt(1 - OWN_SHARE ** 2) * modelSd) / mean,
      }
    const { supply } = expected
    return supply === undefined
      ? { mean, sd }
      : { mean, sd, factor: supply, perUnit: this.#tolerance.get(supply) ?? 0 }
  }
}

function isSame(a: Expected, b: Expected, within: number): boolean {
  if ('words' in a || 'words' in b) {
    if (!('words' in a && 'words' in b)) return false
    for (const word in a.words) if (!(Math.abs(a.words[word]! - b.words[word]!) <= within)) return false
    return true
  }
  return (
    a.supply === b.supply &&
    Math.abs(a.span.low - b.span.low) <= within &&
    Math.abs(a.span.high - b.span.high) <= within
  )
}
