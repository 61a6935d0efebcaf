/**
 * How well a hypothesis explains readings. A figure lies about the expected one by the spread of model and meter, or, one
 * time in fifty, anywhere in its span. What readings share is integrated out: the true voltage of their supply, or whether
 * resistances are rather high or rather low.
 */
import { WRONG_READING } from '../data/instruments.data.js'

/** What a form of a hypothesis expects of one reading. */
export type Forecast =
  | {
      mean: number
      sd: number
      /** Common factor that it follows; its share per unit of that factor. */
      factor?: string
      perUnit?: number
    }
  | { chances: Readonly<Record<string, number>> }

export interface Taken {
  value: number | string
  /** Width of what the reading may be at all, in its unit; number of words. */
  width: number
}

/** Factor of readings that all depend on how high the resistances of rails and wires are between their corners. */
export const WIRES = 'resistances of rails and wires'

/**
 * The true voltage of a supply is tried in steps of this share of it: twice the spread of the best meters, so that no reading
 * lies between two of them. So far on each side, in spreads of the supply's tolerance, and at most so many.
 */
const VOLT_STEP = 0.005
const REACH = 3
const MOST_ON_A_SIDE = 40

/** Even steps of a standard normal variable, by their number. */
const STEPS = new Map<number, readonly (readonly [number, number])[]>()

function steps(count: number): readonly (readonly [number, number])[] {
  const had = STEPS.get(count)
  if (had) return had
  const side = (count - 1) / 2
  const at = Array.from({ length: count }, (_, i) => (REACH * (i - side)) / side)
  const sum = at.reduce((s, g) => s + Math.exp((-g * g) / 2), 0)
  const made = at.map((g) => [g, Math.exp((-g * g) / 2) / sum] as const)
  STEPS.set(count, made)
  return made
}

/** Middles of seven equal parts of a uniform variable of spread 1. */
const EVEN_NODES: readonly (readonly [number, number])[] = Array.from({ length: 7 }, (_, i) => [
  (Math.sqrt(3) * (2 * i - 6)) / 7,
  1 / 7,
])

/** Readings of one place with one instrument, repeated: they share the meter's error and differ by this part of it. */
export const REPEAT_SHARE = 0.25
/** More repeats of one reading add nothing. */
const MOST_REPEATS = 5

export function normal(x: number, mean: number, sd: number): number {
  const z = (x - mean) / sd
  return Math.exp(-0.5 * z * z) / (sd * Math.sqrt(2 * Math.PI))
}

/** Density of the repeats of one reading, all with the same expectation; wrong ones are anywhere in the span. */
export function groupDensity(values: readonly number[], mean: number, sd: number, width: number): number {
  const list = values.slice(0, MOST_REPEATS)
  if (list.length === 1) return (1 - WRONG_READING) * normal(list[0]!, mean, sd) + WRONG_READING / width
  let sum = 0
  for (let set = 0; set < 1 << list.length; set++) {
    const good = list.filter((_, i) => set & (1 << i))
    let p = (WRONG_READING / width) ** (list.length - good.length) * (1 - WRONG_READING) ** good.length
    if (good.length > 0) p *= sharedDensity(good, mean, sd)
    sum += p
  }
  return sum
}

/** The part of {@link groupDensity} in which none of the values is wrong. */
export function rightDensity(values: readonly number[], mean: number, sd: number): number {
  const list = values.slice(0, MOST_REPEATS)
  return (1 - WRONG_READING) ** list.length * sharedDensity(list, mean, sd)
}

/** Chance of what is said of one thing, once or again: the thing is what it is, and each saying may be plainly wrong. */
export function wordsChance(said: readonly string[], chances: Readonly<Record<string, number>>): number {
  const words = Object.entries(chances)
  const slip = WRONG_READING / words.length
  return words.reduce(
    (sum, [word, chance]) =>
      sum + chance * said.reduce((p, s) => p * ((s === word ? 1 - WRONG_READING : 0) + slip), 1),
    0,
  )
}

export function wordChance(word: string, chances: Readonly<Record<string, number>>): number {
  return wordsChance([word], chances)
}

/** Normal values with one shared and one own error each, together of the spread `sd`. */
function sharedDensity(values: readonly number[], mean: number, sd: number): number {
  const n = values.length
  const own = REPEAT_SHARE * sd
  const middle = values.reduce((s, v) => s + v, 0) / n
  const square = values.reduce((s, v) => s + (v - middle) ** 2, 0)
  const shared = Math.sqrt(sd * sd - own * own + (own * own) / n)
  const within = (2 * Math.PI * own * own) ** (-(n - 1) / 2) * Math.exp(-square / (2 * own * own))
  return (normal(middle, mean, shared) * within) / Math.sqrt(n)
}

export interface Weighed {
  /** Logarithm of the likelihood. */
  log: number
  /** Mean and variance of each common factor after the readings. */
  factors: ReadonlyMap<string, { mean: number; variance: number }>
}

/** What the readings of one group say of one forecast: one logarithm, or one for each node of the factor that it follows. */
export interface Contribution {
  factor?: string
  logs: readonly number[]
}

/** @param taken readings of one kind at one place with one instrument */
export function contributionOf(taken: readonly Taken[], forecast: Forecast): Contribution {
  if ('chances' in forecast) {
    const said = taken.map((t) => String(t.value))
    return { logs: [Math.log(wordsChance(said, forecast.chances))] }
  }
  const { mean, sd, factor, perUnit } = forecast
  const values = taken.map((t) => Number(t.value))
  const log = (at: number) => Math.log(groupDensity(values, at, sd, taken[0]!.width))
  if (factor === undefined || !perUnit) return { logs: [log(mean)] }
  return { factor, logs: nodesOf(factor, perUnit).map(([g]) => log(mean * (1 + g * perUnit))) }
}

/** @param perUnit of a supply, its tolerance: the same for all that follow it */
function nodesOf(factor: string, perUnit: number): readonly (readonly [number, number])[] {
  if (factor === WIRES) return EVEN_NODES
  const side = Math.ceil((REACH * perUnit) / VOLT_STEP)
  return steps(2 * Math.min(MOST_ON_A_SIDE, Math.max(REACH, side)) + 1)
}

const nodesMade = (factor: string, count: number) => (factor === WIRES ? EVEN_NODES : steps(count))

/** All groups together, each factor integrated out. */
export function weigh(contributions: readonly Contribution[]): Weighed {
  let log = 0
  const byFactor = new Map<string, number[]>()
  for (const { factor, logs } of contributions) {
    if (factor === undefined) {
      log += logs[0]!
      continue
    }
    let sums = byFactor.get(factor)
    if (!sums) {
      sums = nodesMade(factor, logs.length).map(([, w]) => Math.log(w))
      byFactor.set(factor, sums)
    }
    for (let i = 0; i < logs.length; i++) sums[i]! += logs[i]!
  }
  const factors = new Map<string, { mean: number; variance: number }>()
  for (const [name, logs] of byFactor) {
    const nodes = nodesMade(name, logs.length)
    const most = Math.max(...logs)
    const shares = logs.map((l) => Math.exp(l - most))
    const total = shares.reduce((s, v) => s + v, 0)
    log += most + Math.log(total)
    const mean = shares.reduce((s, v, i) => s + v * nodes[i]![0], 0) / total
    const square = shares.reduce((s, v, i) => s + v * nodes[i]![0] ** 2, 0) / total
    factors.set(name, { mean, variance: Math.max(0, square - mean * mean) })
  }
  return { log, factors }
}

/** What is expected of a further reading, once the factors are known so well. */
export function narrowed(
  forecast: Extract<Forecast, { mean: number }>,
  factors: Weighed['factors'],
): { mean: number; sd: number } {
  const { mean, sd, factor, perUnit } = forecast
  if (factor === undefined || !perUnit) return { mean, sd }
  const { mean: g, variance } = factors.get(factor) ?? { mean: 0, variance: 1 }
  return { mean: mean * (1 + g * perUnit), sd: Math.hypot(sd, mean * perUnit * Math.sqrt(variance)) }
}
