/** Quantiles and how far they may be trusted. */

/**
 * Quantile of sorted values, linear between order statistics (Hyndman and Fan 1996, type 7).
 * @param q 0…1. @returns NaN for no values.
 */
export function quantileOf(sorted: ArrayLike<number>, q: number): number {
  const n = sorted.length
  if (n === 0) return Number.NaN
  const h = (n - 1) * q
  const k = Math.min(n - 1, Math.floor(h))
  const low = sorted[k]!
  return low + (h - k) * (sorted[Math.min(n - 1, k + 1)]! - low)
}

/** Batches the run is cut into; Student's t for 19 degrees of freedom at 97.5 % is 2.093 (any table of t). */
export const BATCHES = 20
const T_19 = 2.093

export interface Estimate {
  value: number
  /** 95 % confidence interval by batch means; NaN while there are too few values. */
  low: number
  high: number
}

/**
 * A statistic of values in the order of time, with its interval by batch means: neighbours depend on each other, so
 * the run is cut into {@link BATCHES} parts long against that, and the spread of the parts' own figures counts
 * (Law and Kelton, Simulation Modeling and Analysis).
 */
export function batchEstimate(values: Float64Array, of: (part: Float64Array) => number): Estimate {
  const value = of(values)
  const size = Math.floor(values.length / BATCHES)
  if (size < 5) return { value, low: Number.NaN, high: Number.NaN }
  let sum = 0
  let squares = 0
  for (let b = 0; b < BATCHES; b++) {
    const x = of(values.subarray(b * size, (b + 1) * size)) - value
    sum += x
    squares += x * x
  }
  const variance = Math.max(0, squares - (sum * sum) / BATCHES) / (BATCHES - 1)
  const half = T_19 * Math.sqrt(variance / BATCHES)
  return { value, low: value - half, high: value + half }
}

export function meanOf(values: Float64Array): number {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]!
  return sum / values.length
}

/** The q-quantile as a statistic for {@link batchEstimate}. */
export function quantile(q: number): (values: Float64Array) => number {
  return (values) => selectQuantile(values.slice(), q)
}

/**
 * Quantile as {@link quantileOf} has it, of values in any order: they are moved about, not sorted, in a time that
 * grows with their number (Hoare's selection, 1961).
 */
export function selectQuantile(values: Float64Array, q: number): number {
  const n = values.length
  if (n === 0) return Number.NaN
  const h = (n - 1) * q
  const k = Math.min(n - 1, Math.floor(h))
  select(values, k)
  const low = values[k]!
  if (h === k || k === n - 1) return low
  let next = Number.POSITIVE_INFINITY
  for (let i = k + 1; i < n; i++) if (values[i]! < next) next = values[i]!
  return low + (h - k) * (next - low)
}

/** Afterwards the k-th smallest stands at k, smaller ones before it, greater ones behind. */
function select(v: Float64Array, k: number): void {
  let from = 0
  let to = v.length - 1
  while (from < to) {
    // The middle of three keeps sorted and equal values quick.
    const a = v[from]!
    const b = v[(from + to) >> 1]!
    const c = v[to]!
    const pivot = a < b ? (b < c ? b : Math.max(a, c)) : a < c ? a : Math.max(b, c)
    let i = from
    let j = to
    while (i <= j) {
      while (v[i]! < pivot) i++
      while (v[j]! > pivot) j--
      if (i <= j) {
        const x = v[i]!
        v[i++] = v[j]!
        v[j--] = x
      }
    }
    if (k <= j) to = j
    else if (k >= i) from = i
    else return
  }
}
