/**
 * The corner engine. A clause is a margin over uncertain quantities: 0 or more where it holds. Over a box of intervals
 * a function that is monotone in each quantity alone, in whichever direction, has its extremes at corners, so that
 * trying both ends of every quantity is exact. A clause may name the unfavourable end, where that is the same
 * whatever the others are, and spares the search; or further values, where the extreme may lie in between.
 */
import type { Verdict } from '../standard/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs } from '../units/index.js'
import { isSettled, type Quantities, type Uncertain, type Values } from './quantity.js'

export interface CornerQuestion<K extends string = string> {
  quantities: Quantities<K>
  /** How far the clause holds: 0 at its limit, below 0 where it is broken. NaN is taken as broken. */
  margin(values: Values<K>): number
  /** The end that is unfavourable whatever the other quantities are. */
  unfavourable?: Partial<Record<K, 'low' | 'high'>>
  /** Values between the ends to be tried too, where the margin is not monotone in a quantity. */
  tries?: Partial<Record<K, readonly number[]>>
}

export interface Corner<K extends string = string> {
  values: Values<K>
  margin: number
}

export interface CornerResult<K extends string = string> {
  /** `met` when every corner holds, `broken` when none does, `undecided` when they differ. */
  verdict: Verdict
  worst: Corner<K>
  best: Corner<K>
  /** Quantities that move the margin at the worst corner, the strongest first. */
  matters: K[]
  /** Undecided: the quantity that decides it alone when it is known, or else the strongest. */
  decider?: K
  /** Knowing the decider alone is enough. */
  decidesAlone?: boolean
  /** The worst corner in words: `voltage of supply main at its highest, 15.5 V`. */
  corner: string
}

const SCALED = new Set(['V', 'A', 'Ohm', 'F', 'H', 'W', 'J', 's', 'm'])

/** More undeclared quantities than this are a fault of the clause, not of the design: 2^n corners are tried. */
const MOST_FREE = 16

/**
 * The worst and the best corner of a clause.
 * @throws RangeError when more than 16 uncertain quantities name no unfavourable end
 */
export function searchCorners<K extends string>(question: CornerQuestion<K>): CornerResult<K> {
  const { quantities, unfavourable, tries } = question
  const names = Object.keys(quantities) as K[]
  const margin = (values: Values<K>) => {
    const m = question.margin(values)
    return Number.isNaN(m) ? Number.NEGATIVE_INFINITY : m
  }
  const open = names.filter((name) => !isSettled(quantities[name]))
  const free = open.filter((name) => unfavourable?.[name] === undefined)
  if (free.length > MOST_FREE)
    throw new RangeError(`${free.length} uncertain quantities name no unfavourable end; at most ${MOST_FREE}`)
  const extreme = (worst: boolean): Corner<K> => {
    const values = {} as Record<K, number>
    for (const name of names) {
      const q = quantities[name]
      const end = unfavourable?.[name]
      values[name] = end === undefined || (end === 'low') === worst ? q.low : q.high
    }
    let found: Corner<K> | undefined
    const visit = (at: number) => {
      if (at === free.length) {
        const m = margin(values)
        if (!found || (worst ? m < found.margin : m > found.margin))
          found = { values: { ...values }, margin: m }
        return
      }
      const name = free[at]!
      const q = quantities[name]
      for (const value of [q.low, q.high, ...(tries?.[name] ?? [])]) {
        if (value < q.low || value > q.high) continue
        values[name] = value
        visit(at + 1)
      }
    }
    visit(0)
    return found!
  }
  const worst = extreme(true)
  const best = open.length === 0 ? worst : extreme(false)
  const verdict: Verdict = worst.margin >= 0 ? 'met' : best.margin >= 0 ? 'undecided' : 'broken'
  /** The best margin when one quantity alone leaves its value in the worst corner. */
  const relieved = new Map<K, number>()
  for (const name of open) {
    const q = quantities[name]
    const others = [q.low, q.high, ...(tries?.[name] ?? [])].filter((v) => v !== worst.values[name])
    relieved.set(name, Math.max(...others.map((v) => margin({ ...worst.values, [name]: v }))))
  }
  const gain = (name: K) => relieved.get(name)! - worst.margin
  const matters = open.filter((name) => gain(name) > 1e-9).sort((a, b) => gain(b) - gain(a))
  const result: CornerResult<K> = {
    verdict,
    worst,
    best,
    matters,
    corner: cornerInWords(quantities, worst.values, matters),
  }
  if (verdict === 'undecided') {
    const enough = matters.filter((name) => relieved.get(name)! >= 0)
    // What nobody knows can be found out; what spreads from part to part would have to be measured on this one.
    const alone = enough.find((name) => quantities[name].unknown) ?? enough[0]
    const decider = alone ?? matters[0]
    if (decider !== undefined) {
      result.decider = decider
      result.decidesAlone = alone !== undefined
    }
  }
  return result
}

/** `voltage of supply main at its highest, 15.5 V, and on-resistance at its lowest, 180 mOhm`. */
export function cornerInWords<K extends string>(
  quantities: Quantities<K>,
  values: Values<K>,
  names: readonly K[],
): string {
  const parts = names.map((name) => endInWords(quantities[name], values[name]))
  if (parts.length < 2) return parts.join('')
  return `${parts.slice(0, -1).join('; ')}; and ${parts.at(-1)}`
}

function endInWords(q: Uncertain, value: number): string {
  const end = value === q.low ? ' at its lowest, ' : value === q.high ? ' at its highest, ' : ' at '
  return `${q.name}${end}${valueInWords(value, q.unit)}`
}

/** A value with its unit; a `share` as a percentage. */
export function valueInWords(value: number, unit: string): string {
  if (!Number.isFinite(value)) return 'without limit'
  if (unit === 'share') return formatShare(value)
  if (unit === 'us') return formatTimeUs(value, 3)
  if (unit === '') return formatNumber(value, 3)
  return SCALED.has(unit) ? formatSi(value, unit, 3) : `${formatNumber(value, 3)} ${unit}`
}
