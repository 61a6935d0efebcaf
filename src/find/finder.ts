/** The fault finder: what fits the readings, how well, and which reading to take next. */
import type { LoadedDesign } from '../design/index.js'
import type { InstrumentId } from './data/instruments.data.js'
import { type Expected, expectedOf, type Spot, spotsOf } from './model/expect.js'
import { type Column, Forecasts } from './model/forecasts.js'
import { type Hypothesis, hypothesesOf } from './model/hypotheses.js'
import { trackAt } from './model/reach.js'
import { type Station, stationOf } from './model/station.js'
import type { Reading, Symptom } from './reading.js'
import { areApart, type FormState, mixedFigure, mixedWords } from './reason/compare.js'
import { isConfirmed, isNoAccident, isRepeated } from './reason/contradiction.js'
import { figureGain, figureGainAgain, wordGain, wordGainAgain } from './reason/gain.js'
import {
  type Contribution,
  contributionOf,
  type Forecast,
  narrowed,
  type Taken,
  weigh,
  wordChance,
} from './reason/likelihood.js'
import { Noticed } from './reason/noticed.js'

export interface Ranked {
  hypothesis: Hypothesis
  /** Of all that this design can have; all add to 1. */
  probability: number
  /** Readings that it does not explain: places in the list that was given. */
  misfits: readonly number[]
}

export interface NextReading {
  spot: Spot
  instrument: InstrumentId
  /** Expected information, bits. */
  bits: number
  minutes: number
  /** What the likeliest hypotheses expect. */
  expects: { id: string; says: string }[]
}

export type Outcome = 'open' | 'found' | 'class' | 'nothing fits'

export interface Diagnosis {
  outcome: Outcome
  /** All with a probability of 0.0005 and more, and at least three; likeliest first. */
  ranking: readonly Ranked[]
  /** The likeliest, and what no allowed reading tells from it beyond the meter's error. */
  class: readonly Hypothesis[]
  /** Best first; empty where nothing tells the leaders apart. */
  next: readonly NextReading[]
  /** Readings that none of the leading hypotheses explains: worth taking again. */
  doubtful: readonly number[]
}

/** The class of the leader has it from here on. */
const SURE = 0.99
/** Without any one of its readings, a conclusion must still be this likely. */
const CONFIRMED = 0.9
/** A figure so many spreads off is not explained. */
const OFF = 3.5
const LEAST_BITS = 0.003
/** So often one place is read: twice, and once more where the two disagree. */
const MOST_TIMES = 3
const MOST_NEXT = 5

interface State {
  probabilities: Float64Array
  forms: FormState[][]
}

export class Finder {
  readonly station: Station
  readonly hypotheses: readonly Hypothesis[]
  readonly spots: readonly Spot[]
  readonly #forecasts: Forecasts
  readonly #noticed: Noticed

  /**
   * @throws InputError where the design has nothing that can be measured
   * @throws DesignConflict where the railroad cannot be as described
   */
  constructor(loaded: LoadedDesign) {
    this.station = stationOf(loaded)
    this.spots = spotsOf(this.station)
    this.hypotheses = hypothesesOf(this.station)
    const tolerance = new Map(
      Object.entries(loaded.design.power!.supplies).map(([name, s]) => [name, s.tolerance / Math.sqrt(3)]),
    )
    this.#forecasts = new Forecasts(this.station, this.hypotheses, this.spots, tolerance)
    this.#noticed = new Noticed(this.station, this.hypotheses, this.spots, this.#forecasts)
  }

  /** What a hypothesis expects of a reading, by form. */
  expected(hypothesis: number, spot: Spot): Expected[] {
    return this.hypotheses[hypothesis]!.forms.map(
      (effects) => expectedOf(this.station, effects, this.station.wiring?.with(effects.edits), spot)!,
    )
  }

  /** @param skipped keys of readings that cannot be taken */
  diagnose(
    readings: readonly Reading[],
    symptoms: readonly Symptom[] = [],
    skipped: ReadonlySet<string> = new Set(),
  ): Diagnosis {
    const state = this.#weigh(readings, symptoms)
    const { probabilities } = state
    const order = [...probabilities.keys()].sort((a, b) => probabilities[b]! - probabilities[a]!)
    const ranking = order
      .filter((h, i) => i < 3 || probabilities[h]! >= 5e-4)
      .map((h) => ({
        hypothesis: this.hypotheses[h]!,
        probability: probabilities[h]!,
        misfits: this.#misfits(h, state, readings),
      }))
    const leaders = ranking.filter((r, i) => i < 3 || r.probability > 0.01)
    const doubtful = readings.flatMap((_, i) => (leaders.every((r) => r.misfits.includes(i)) ? [i] : []))
    // What is out of the question fits nothing.
    const fitting = ranking
      .filter((r, i) => i === 0 || r.probability > 0.01)
      .filter(
        (r) =>
          !isNoAccident(r.misfits.length, readings.length) &&
          !isConfirmed(r.misfits.map((i) => readings[i]!)),
      )
    const group = order.filter((h) => probabilities[h]! > 1e-6 && this.isLike(order[0]!, h))
    const share = group.reduce((sum, h) => sum + probabilities[h]!, 0)
    const kin = group.map((h) => this.hypotheses[h]!)
    const nothing = readings.length > 0 && fitting.length === 0
    const open = nothing
      ? []
      : share < SURE
        ? this.#next(state, order, readings, skipped)
        : (this.#again(order[0]!, state, ranking[0]!.misfits, readings, skipped) ??
          this.#confirming(group, state, readings, symptoms, skipped))
    const next = open ?? []
    const outcome: Outcome = nothing ? 'nothing fits' : open ? 'open' : kin.length > 1 ? 'class' : 'found'
    return { outcome, ranking, class: kin, next, doubtful }
  }

  #weigh(readings: readonly Reading[], symptoms: readonly Symptom[]): State {
    const groups = new Map<string, Reading[]>()
    for (const r of readings) {
      const key = `${r.spot.key} ${r.instrument} ${r.error?.share} ${r.error?.fixed}`
      groups.set(key, [...(groups.get(key) ?? []), r])
    }
    const list = [...groups.values()].map((own) => {
      const column = this.#forecasts.column(own[0]!.spot, own[0]!.instrument, own[0]!.error)
      return { column, said: this.#saidBy(column, own) }
    })
    const sound = weigh(list.map(({ column, said }) => said(column.sound)))
    const logs = new Float64Array(this.hypotheses.length)
    const forms = this.hypotheses.map((hypothesis, h): FormState[] => {
      const isConcerned = list.some(({ column }) => column.changed.has(h))
      const weighed = hypothesis.forms.map((_, f) =>
        isConcerned ? weigh(list.map(({ column, said }) => said(column.of(h)[f]!))) : sound,
      )
      const most = Math.max(...weighed.map((w) => w.log))
      const shares = weighed.map((w) => Math.exp(w.log - most))
      const total = shares.reduce((s, v) => s + v, 0)
      logs[h] = most + Math.log(total / weighed.length) + Math.log(hypothesis.prior)
      for (const s of symptoms) logs[h]! += Math.log(this.#noticed.chance(h, s))
      return weighed.map((w, i) => ({ share: shares[i]! / total, weighed: w }))
    })
    const most = Math.max(...logs)
    const probabilities = logs.map((l) => Math.exp(l - most))
    const sum = probabilities.reduce((s, v) => s + v, 0)
    return { probabilities: probabilities.map((p) => p / sum), forms }
  }

  /** Whether a conclusion could be less than confirmed without a reading: by bounds, without weighing the others again. */
  #couldTurn(group: readonly number[], probabilities: Float64Array, reading: Reading): boolean {
    const column = this.#forecasts.column(reading.spot, reading.instrument, reading.error)
    const said = this.#saidBy(column, [reading])
    const logsOf = (h: number) => column.of(h).flatMap((forecast) => said(forecast).logs)
    const first = group[0]!
    const most = Math.max(...logsOf(first))
    const least = Math.min(...said(column.sound).logs)
    const inGroup = new Set(group)
    let others = 0
    probabilities.forEach((p, h) => {
      if (inGroup.has(h)) return
      const low = column.changed.has(h) ? Math.min(...logsOf(h)) : least
      others += p * Math.exp(most - low)
    })
    return others / probabilities[first]! > (1 - CONFIRMED) / 2
  }

  readonly #said = new WeakMap<Column, Map<string, Map<Forecast, Contribution>>>()

  /** What the readings of one column say of a forecast: calculated once, as the next step asks for it again. */
  #saidBy(column: Column, readings: readonly Reading[]): (forecast: Forecast) => Contribution {
    const byValues = this.#said.get(column) ?? new Map<string, Map<Forecast, Contribution>>()
    this.#said.set(column, byValues)
    const key = readings.map((r) => r.value).join(' ')
    const known = byValues.get(key) ?? new Map<Forecast, Contribution>()
    byValues.set(key, known)
    const taken = readings.map((r): Taken => ({ value: r.value, width: widthOf(r.spot) }))
    return (forecast) => {
      const made = known.get(forecast) ?? contributionOf(taken, forecast)
      known.set(forecast, made)
      return made
    }
  }

  #misfits(h: number, { forms }: State, readings: readonly Reading[]): number[] {
    return readings.flatMap((r, i) => {
      const column = this.#forecasts.column(r.spot, r.instrument, r.error).of(h)
      const explained = column.some((forecast, f) => {
        if (forms[h]![f]!.share < 0.01) return false
        if ('chances' in forecast) return wordChance(String(r.value), forecast.chances) > 0.05
        const { mean, sd } = narrowed(forecast, forms[h]![f]!.weighed.factors)
        return Math.abs(Number(r.value) - mean) <= OFF * sd
      })
      return explained ? [] : [i]
    })
  }

  /** The resistor that readings under load take at a place, Ohm. */
  testOhmAt(place: string): number | undefined {
    const { places, districts, districtOf } = this.station
    const found = places.find((p) => p.text === place)
    if (!found) return undefined
    const track = trackAt(this.station, found)
    const name = track === undefined ? found.name : districtOf(track)
    const own = name === undefined ? undefined : districts.get(name)
    const bySupply = [...districts.values()].find((d) => d.stage.supplyName === found.name)
    return (found.kind === 'supply' ? bySupply : own)?.testOhm
  }

  /** The symptoms that a fault causes, without their places. */
  symptomsOf(h: number): Symptom[] {
    return this.#noticed.symptomsOf(h)
  }

  /** A hypothesis and all that no allowed reading tells from it beyond the meter's error, by number. */
  classOf(hypothesis: number): number[] {
    return [...this.hypotheses.keys()].filter((h) => this.isLike(hypothesis, h))
  }

  readonly #alike = new Map<number, boolean>()

  /** Whether no allowed reading tells two hypotheses apart beyond the meter's error. */
  isLike(a: number, b: number): boolean {
    if (a === b) return true
    const key = Math.min(a, b) * this.hypotheses.length + Math.max(a, b)
    const had = this.#alike.get(key)
    if (had !== undefined) return had
    const apart = (c: Column) => areApart(c.of(a), c.of(b))
    const made = !this.#changedBy(a).some(apart) && !this.#changedBy(b).some(apart)
    this.#alike.set(key, made)
    return made
  }

  #columnsOf: Column[][] | undefined

  /** Readings, each with the instrument that is usual for it, of which a hypothesis expects something else than a sound station. */
  #changedBy(hypothesis: number): readonly Column[] {
    if (!this.#columnsOf) {
      this.#columnsOf = this.hypotheses.map(() => [])
      for (const spot of this.spots) {
        const column = this.#forecasts.column(spot, spot.kind.instruments[0]!)
        for (const h of column.changed.keys()) this.#columnsOf[h]!.push(column)
      }
    }
    return this.#columnsOf[hypothesis]!
  }

  /**
   * The readings that the leader does not explain, to be taken once more: nothing is settled over a reading that contradicts
   * it and was taken only once.
   * @returns `undefined` where there is none; an empty list where none of them can be taken again
   */
  #again(
    leader: number,
    { forms }: State,
    misfits: readonly number[],
    readings: readonly Reading[],
    skipped: ReadonlySet<string>,
  ): NextReading[] | undefined {
    const once = misfits.filter((i) => !isRepeated(readings, readings[i]!))
    if (once.length === 0) return undefined
    return once.flatMap((i): NextReading[] => {
      const { spot, instrument } = readings[i]!
      if (skipped.has(spot.key)) return []
      const next = { spot, instrument, bits: 0, minutes: spot.kind.minutes, expects: [] }
      return [{ ...next, expects: this.#says(next, [leader], forms) }]
    })
  }

  /**
   * Nothing is settled on the strength of a single reading either: that one again, or another that tells as much for its
   * minutes.
   * @returns `undefined` where the conclusion is the same without any one reading; an empty list where nothing can confirm it
   */
  #confirming(
    group: readonly number[],
    { probabilities }: State,
    readings: readonly Reading[],
    symptoms: readonly Symptom[],
    skipped: ReadonlySet<string>,
  ): NextReading[] | undefined {
    let weakest: { share: number; reading: Reading; state: State } | undefined
    for (const reading of readings) {
      if (!isRepeated(readings, reading) && !this.#couldTurn(group, probabilities, reading)) continue
      const state = this.#weigh(
        readings.filter((r) => r !== reading),
        symptoms,
      )
      const share = group.reduce((sum, h) => sum + state.probabilities[h]!, 0)
      if (share < (weakest?.share ?? CONFIRMED)) weakest = { share, reading, state }
    }
    if (!weakest) return undefined
    const { reading, state } = weakest
    const order = [...state.probabilities.keys()].sort(
      (a, b) => state.probabilities[b]! - state.probabilities[a]!,
    )
    const others = readings.filter((r) => r !== reading)
    return this.#next(state, order, others, skipped)
  }

  /** What is still to be had, best first: a reading that was taken is worth taking again where a wrong one hides much. */
  #next(
    { probabilities, forms }: State,
    order: readonly number[],
    readings: readonly Reading[],
    skipped: ReadonlySet<string>,
  ): NextReading[] {
    const alive = order.filter((h) => probabilities[h]! > 1e-5)
    const sum = alive.reduce((s, h) => s + probabilities[h]!, 0)
    const isAlive = new Set(alive)
    const list = this.spots.flatMap((spot): NextReading[] => {
      if (skipped.has(spot.key)) return []
      const instrument = spot.kind.instruments[0]!
      const had = readings.filter((r) => r.spot.key === spot.key)
      if (had.length >= MOST_TIMES || had.some((r) => r.instrument !== instrument || r.error)) return []
      const column = this.#forecasts.column(spot, instrument)
      // Whatever this reading does not concern expects what a sound station does.
      const concerned = column.concerned.filter((h) => isAlive.has(h))
      const own = concerned.map((h) => ({ h, weight: probabilities[h]! / sum }))
      const rest = { h: 0, weight: Math.max(0, 1 - own.reduce((s, o) => s + o.weight, 0)) }
      if (own.length === 0 || Math.max(...own.map((o) => o.weight), rest.weight) > 1 - 1e-6) return []
      const all = [...own, rest]
      const bits = gainOf(
        spot,
        had.map((r) => r.value),
        all.map(({ h, weight }) => ({ weight, column: column.of(h), forms: forms[h]! })),
      )
      return [{ spot, instrument, bits, minutes: spot.kind.minutes, expects: [] }]
    })
    return list
      .filter((n) => n.bits > LEAST_BITS)
      .sort((a, b) => b.bits / b.minutes - a.bits / a.minutes)
      .filter((n, i, all) => all.findIndex((o) => o.spot.quantity === n.spot.quantity) === i)
      .slice(0, MOST_NEXT)
      .map((n) => ({ ...n, expects: this.#says(n, alive.slice(0, 4), forms) }))
  }

  #says({ spot, instrument }: NextReading, leaders: readonly number[], forms: State['forms']) {
    const column = this.#forecasts.column(spot, instrument)
    return leaders.map((h) => {
      const id = this.hypotheses[h]!.id
      if (spot.kind.words) {
        const chances = mixedWords(column.of(h), forms[h]!)
        const [word] = Object.entries(chances).reduce((a, b) => (b[1] > a[1] ? b : a))
        return { id, says: word }
      }
      const { mean, sd } = mixedFigure(column.of(h), forms[h]!)
      return { id, says: figureText(mean, sd, spot.kind.unit ?? '') }
    })
  }
}

/** Expected information of a reading, bits, after what it showed before. */
function gainOf(
  spot: Spot,
  had: readonly (number | string)[],
  list: readonly { weight: number; column: readonly Forecast[]; forms: readonly FormState[] }[],
): number {
  const { words } = spot.kind
  if (words) {
    const all = list.map(({ weight, column, forms }) => ({ weight, expects: mixedWords(column, forms) }))
    return had.length > 0 ? wordGainAgain(all, words, had.map(String)) : wordGain(all, words)
  }
  const all = list.map(({ weight, column, forms }) => ({ weight, expects: mixedFigure(column, forms) }))
  const width = widthOf(spot)
  return had.length > 0 ? figureGainAgain(all, width, had.map(Number)) : figureGain(all, width)
}

export function widthOf({ kind }: Spot): number {
  return kind.words ? kind.words.length : kind.signed ? 2 * kind.span : kind.span
}

function figureText(mean: number, sd: number, unit: string): string {
  const digits = sd >= 3 ? 0 : sd >= 0.3 ? 1 : sd >= 0.03 ? 2 : 3
  return `${mean.toFixed(digits)} ± ${(2 * sd).toFixed(digits)} ${unit}`
}
