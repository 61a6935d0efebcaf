/**
 * A few edges of a factored network changed, without factoring again: Sherman–Morrison–Woodbury.
 * K' = K + Σ δg·e·eᵀ, so K'⁻¹b = x − U·(D⁻¹ + EᵀU)⁻¹·Eᵀx with U = K⁻¹E.
 */
import type { Solver } from './reduced.js'

/** A change of conductance between two nodes (−1: ground); a new edge is a change from nought. */
export interface EdgeChange {
  from: number
  to: number
  /** S; negative takes away. */
  deltaSiemens: number
}

export class Update {
  readonly #changes: readonly EdgeChange[]
  readonly #columns: Float64Array[]
  readonly #middle: Float64Array[]

  /**
   * @param scratch vectors to use for the columns, made as needed; they must not change while the update is in use.
   * @throws RangeError when the changed network has a part without a way to ground.
   */
  constructor(factor: Solver, changes: readonly EdgeChange[], scratch: Float64Array[] = []) {
    this.#changes = changes.filter((c) => c.deltaSiemens !== 0 && c.from !== c.to)
    this.#columns = this.#changes.map((c, i) => {
      scratch[i] ??= new Float64Array(factor.size)
      return factor.unit(c.from, c.to, scratch[i])
    })
    const matrix = this.#changes.map((c, i) =>
      Float64Array.from(this.#columns, (u, j) => across(u, c) + (i === j ? 1 / c.deltaSiemens : 0)),
    )
    this.#middle = invert(matrix)
  }

  get rank(): number {
    return this.#columns.length
  }

  /** How much of each column a solution of the unchanged network loses: x' = x − Σ weightᵢ·uᵢ. */
  weights(x: Float64Array): Float64Array {
    const right = this.#changes.map((c) => across(x, c))
    return Float64Array.from(this.#middle, (line) => {
      let y = 0
      for (let j = 0; j < right.length; j++) y += line[j]! * right[j]!
      return y
    })
  }

  /** Correct a solution of the unchanged network in place. */
  correct(x: Float64Array): Float64Array {
    this.weights(x).forEach((y, i) => {
      const u = this.#columns[i]!
      for (let n = 0; n < x.length; n++) x[n]! -= y * u[n]!
    })
    return x
  }

  /** What each column makes between two nodes (−1: ground), for {@link between} and {@link weights}. */
  seen(plus: number, minus: number, out: Float64Array): Float64Array {
    for (let i = 0; i < out.length; i++) {
      const u = this.#columns[i]!
      out[i] = (plus < 0 ? 0 : u[plus]!) - (minus < 0 ? 0 : u[minus]!)
    }
    return out
  }

  /** What is {@link seen} at one place, through the change: times what is seen at another it is what the two lose. */
  apply(seen: Float64Array): number[] {
    const out: number[] = []
    for (let i = 0; i < seen.length; i++) {
      const line = this.#middle[i]!
      let sum = 0
      for (let j = 0; j < seen.length; j++) sum += line[j]! * seen[j]!
      out.push(sum)
    }
    return out
  }

  /** Resistance between two nodes after the change, from that before it and what is {@link seen} there. */
  between(seen: Float64Array, before: number): number {
    let sum = before
    for (let i = 0; i < seen.length; i++) {
      const line = this.#middle[i]!
      for (let j = 0; j < seen.length; j++) sum -= seen[i]! * line[j]! * seen[j]!
    }
    return sum
  }
}

function across(x: Float64Array, c: EdgeChange): number {
  return (c.from < 0 ? 0 : x[c.from]!) - (c.to < 0 ? 0 : x[c.to]!)
}

/** Gauss–Jordan with partial pivoting; for the few rows of an update. */
function invert(matrix: Float64Array[]): Float64Array[] {
  const n = matrix.length
  const a = matrix.map((line, i) => {
    const wide = new Float64Array(2 * n)
    wide.set(line)
    wide[n + i] = 1
    return wide
  })
  for (let k = 0; k < n; k++) {
    let best = k
    for (let i = k + 1; i < n; i++) if (Math.abs(a[i]![k]!) > Math.abs(a[best]![k]!)) best = i
    ;[a[k], a[best]] = [a[best]!, a[k]!]
    const pivot = a[k]![k]!
    if (!(Math.abs(pivot) > 0)) throw new RangeError('the change cuts a part of the network off')
    for (let j = 0; j < 2 * n; j++) a[k]![j]! /= pivot
    for (let i = 0; i < n; i++) {
      const f = a[i]![k]!
      if (i === k || f === 0) continue
      for (let j = 0; j < 2 * n; j++) a[i]![j]! -= f * a[k]![j]!
    }
  }
  return a.map((line) => line.slice(n))
}

/** Solve a small dense system in place by Gaussian elimination with partial pivoting. `undefined` when singular. */
export function solveDense(matrix: Float64Array[], right: Float64Array): Float64Array | undefined {
  const n = right.length
  const a = matrix
  const b = right
  for (let k = 0; k < n; k++) {
    let best = k
    for (let i = k + 1; i < n; i++) if (Math.abs(a[i]![k]!) > Math.abs(a[best]![k]!)) best = i
    ;[a[k], a[best]] = [a[best]!, a[k]!]
    ;[b[k], b[best]] = [b[best]!, b[k]!]
    const pivot = a[k]![k]!
    if (!(Math.abs(pivot) > 1e-300)) return undefined
    for (let i = k + 1; i < n; i++) {
      const f = a[i]![k]! / pivot
      if (f === 0) continue
      for (let j = k; j < n; j++) a[i]![j]! -= f * a[k]![j]!
      b[i]! -= f * b[k]!
    }
  }
  for (let k = n - 1; k >= 0; k--) {
    let sum = b[k]!
    for (let j = k + 1; j < n; j++) sum -= a[k]![j]! * b[j]!
    b[k] = sum / a[k]![k]!
  }
  return b
}
