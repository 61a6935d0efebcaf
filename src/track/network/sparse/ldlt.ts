/**
 * Sparse LDLᵀ of a conductance matrix. Up-looking, by rows along the elimination tree, as published by Davis
 * (Direct Methods for Sparse Linear Systems, 2006, chapter 4). No pivoting: a grounded conductance matrix is
 * positive definite. The order and the pattern of L are found once and serve for every set of values.
 */
import { minimumDegree, patternOf } from './order.js'

/** What depends only on which nodes are joined. */
export interface Symbolic {
  size: number
  /** Place in the elimination order → node, and back. */
  order: Int32Array
  placeOf: Int32Array
  /** Parent in the elimination tree by place; −1 at a root. */
  parent: Int32Array
  /** Columns of L by place: `start[j]…start[j + 1]`, strictly below the diagonal. */
  start: Int32Array
  edgeFrom: Int32Array
  edgeTo: Int32Array
  /** The upper triangle by columns of the permuted matrix. */
  upperStart: Int32Array
  upperRow: Int32Array
  /** Edge → its slot in the upper triangle; −1 when the edge ends at ground. */
  slotOfEdge: Int32Array
}

/**
 * @param size nodes, without ground.
 * @param from, to the edges; −1 is ground.
 */
export function analyse(size: number, from: Int32Array, to: Int32Array): Symbolic {
  const edges = from.length
  let inner = 0
  for (let e = 0; e < edges; e++) if (from[e]! >= 0 && to[e]! >= 0) inner++
  const innerFrom = new Int32Array(inner)
  const innerTo = new Int32Array(inner)
  inner = 0
  for (let e = 0; e < edges; e++) {
    if (from[e]! < 0 || to[e]! < 0) continue
    innerFrom[inner] = from[e]!
    innerTo[inner++] = to[e]!
  }
  const pattern = patternOf(size, innerFrom, innerTo)
  const order = minimumDegree(pattern)
  const placeOf = new Int32Array(size)
  for (let k = 0; k < size; k++) placeOf[order[k]!] = k

  const upperStart = new Int32Array(size + 1)
  const upperRow = new Int32Array(pattern.row.length / 2)
  let put = 0
  for (let k = 0; k < size; k++) {
    upperStart[k] = put
    const node = order[k]!
    for (let p = pattern.start[node]!; p < pattern.start[node + 1]!; p++) {
      const i = placeOf[pattern.row[p]!]!
      if (i < k) upperRow[put++] = i
    }
  }
  upperStart[size] = put

  const slotOfEdge = new Int32Array(edges).fill(-1)
  for (let e = 0; e < edges; e++) {
    if (from[e]! < 0 || to[e]! < 0 || from[e] === to[e]) continue
    let i = placeOf[from[e]!]!
    let k = placeOf[to[e]!]!
    if (i > k) {
      const swap = i
      i = k
      k = swap
    }
    const end = upperStart[k + 1]!
    let p = upperStart[k]!
    while (p < end && upperRow[p] !== i) p++
    if (p < end) slotOfEdge[e] = p
  }

  const parent = new Int32Array(size).fill(-1)
  const flag = new Int32Array(size).fill(-1)
  const count = new Int32Array(size)
  for (let k = 0; k < size; k++) {
    flag[k] = k
    for (let p = upperStart[k]!; p < upperStart[k + 1]!; p++) {
      for (let i = upperRow[p]!; flag[i] !== k; i = parent[i]!) {
        if (parent[i] === -1) parent[i] = k
        count[i]!++
        flag[i] = k
      }
    }
  }
  const start = new Int32Array(size + 1)
  for (let k = 0; k < size; k++) start[k + 1] = start[k]! + count[k]!
  return {
    size,
    order,
    placeOf,
    parent,
    start,
    edgeFrom: from,
    edgeTo: to,
    upperStart,
    upperRow,
    slotOfEdge,
  }
}

/** The factor for one set of conductances. */
export class Factor {
  readonly symbolic: Symbolic
  readonly #row: Int32Array
  readonly #value: Float64Array
  readonly #diagonal: Float64Array
  readonly #work: Float64Array
  /** All zero between calls. */
  readonly #zero: Float64Array

  /**
   * @param siemens conductance of every edge, > 0.
   * @throws RangeError when a node has no way to ground: the matrix is singular.
   */
  constructor(symbolic: Symbolic, siemens: Float64Array) {
    const { size, parent, start, upperStart, upperRow, slotOfEdge, placeOf, edgeFrom, edgeTo } = symbolic
    const upper = new Float64Array(upperRow.length)
    const diagonal = new Float64Array(size)
    for (let e = 0; e < siemens.length; e++) {
      const g = siemens[e]!
      const a = edgeFrom[e]!
      const b = edgeTo[e]!
      if (a === b) continue
      if (a >= 0) diagonal[placeOf[a]!]! += g
      if (b >= 0) diagonal[placeOf[b]!]! += g
      const slot = slotOfEdge[e]!
      if (slot >= 0) upper[slot]! -= g
    }
    const row = new Int32Array(start[size]!)
    const value = new Float64Array(start[size]!)
    const filled = new Int32Array(size)
    const y = new Float64Array(size)
    const flag = new Int32Array(size).fill(-1)
    const path = new Int32Array(size)
    const stack = new Int32Array(size)
    for (let k = 0; k < size; k++) {
      let top = size
      flag[k] = k
      for (let p = upperStart[k]!; p < upperStart[k + 1]!; p++) {
        let i = upperRow[p]!
        y[i]! += upper[p]!
        let length = 0
        for (; flag[i] !== k; i = parent[i]!) {
          path[length++] = i
          flag[i] = k
        }
        while (length > 0) stack[--top] = path[--length]!
      }
      const whole = diagonal[k]!
      let d = whole
      for (; top < size; top++) {
        const i = stack[top]!
        const yi = y[i]!
        y[i] = 0
        const end = start[i]! + filled[i]!
        for (let p = start[i]!; p < end; p++) y[row[p]!]! -= value[p]! * yi
        const l = yi / diagonal[i]!
        d -= l * yi
        row[end] = k
        value[end] = l
        filled[i]!++
      }
      if (!(d > 1e-13 * whole)) throw new RangeError(`node ${symbolic.order[k]} has no way to ground`)
      diagonal[k] = d
    }
    this.symbolic = symbolic
    this.#row = row
    this.#value = value
    this.#diagonal = diagonal
    this.#work = new Float64Array(size)
    this.#zero = y
  }

  /** Nodes, without ground. */
  get size(): number {
    return this.symbolic.size
  }

  /** Entries of L below the diagonal, a measure of fill. */
  get entries(): number {
    return this.#row.length
  }

  /** Solve K·x = b; both by node. */
  solve(b: ArrayLike<number>, x: Float64Array = new Float64Array(this.symbolic.size)): Float64Array {
    const { size, order } = this.symbolic
    const w = this.#work
    for (let k = 0; k < size; k++) w[k] = b[order[k]!]!
    this.#forward()
    this.#back(x)
    return x
  }

  /**
   * Response to one ampere into `plus` and out of `minus` (−1: ground): a column of the inverse. The forward
   * half touches only the way from the two nodes to the root of the elimination tree.
   */
  unit(plus: number, minus: number, x: Float64Array = new Float64Array(this.symbolic.size)): Float64Array {
    this.#work.fill(0)
    this.#path(this.#work, plus, minus)
    this.#back(x)
    return x
  }

  units(plus: ArrayLike<number>, minus: ArrayLike<number>, x: Float64Array): void {
    for (let i = 0; i < 4; i++) {
      const column = this.unit(plus[i]!, minus[i]!)
      for (let v = 0; v < column.length; v++) x[4 * v + i] = column[v]!
    }
  }

  /** Resistance seen between two nodes, Ohm: eᵀ·K⁻¹·e = Σ y²/d with L·y = e, without the backward half. */
  between(plus: number, minus: number): number {
    const { placeOf, parent } = this.symbolic
    const w = this.#zero
    this.#path(w, plus, minus)
    let sum = 0
    for (const node of [plus, minus]) {
      for (let k = node < 0 ? -1 : placeOf[node]!; k >= 0; k = parent[k]!) {
        const y = w[k]!
        sum += (y * y) / this.#diagonal[k]!
        w[k] = 0
      }
    }
    return sum
  }

  /**
   * The resistance between many pairs of nodes at once, Ohm: from the entries of the inverse that L has a place for,
   * found backwards from the last (Takahashi, Fagan and Chen 1973; Davis 2006). Pairs without such a place, which were not
   * among the edges that were analysed, go through {@link between}.
   */
  betweenAll(plus: Int32Array, minus: Int32Array): Float64Array {
    const { placeOf } = this.symbolic
    const inverse = this.#inverseOnPattern()
    const own = (node: number) => (node < 0 ? 0 : inverse.diagonal[placeOf[node]!]!)
    return Float64Array.from(plus, (p, i) => {
      const q = minus[i]!
      if (p === q) return 0
      if (p < 0 || q < 0) return own(p) + own(q)
      const at = this.#slot(p, q)
      return at < 0 ? this.between(p, q) : own(p) + own(q) - 2 * inverse.value[at]!
    })
  }

  /** Entries of the inverse: of every node with itself, and of pairs that were among the edges analysed. */
  inverseEntries(one: Int32Array, other: Int32Array): { own: Float64Array; joint: Float64Array } {
    const { placeOf } = this.symbolic
    const { diagonal, value } = this.#inverseOnPattern()
    return {
      own: Float64Array.from(placeOf, (place) => diagonal[place]!),
      joint: Float64Array.from(one, (p, i) => value[this.#slot(p, other[i]!)]!),
    }
  }

  /** Where L has the entry of two nodes; −1: nowhere. */
  #slot(p: number, q: number): number {
    const { placeOf, start } = this.symbolic
    const row = this.#row
    const [a, b] = [placeOf[p]!, placeOf[q]!]
    const [low, high] = a < b ? [a, b] : [b, a]
    // Rows of a column are in ascending order.
    let from = start[low]!
    let to = start[low + 1]! - 1
    while (from < to) {
      const middle = (from + to) >> 1
      if (row[middle]! < high) from = middle + 1
      else to = middle
    }
    return from === to && row[from] === high ? from : -1
  }

  #inverse: { diagonal: Float64Array; value: Float64Array } | undefined

  /** Z = K⁻¹ where L has entries: Z_ij = −Σ L_kj·Z_ik over the rows k of column j, Z_jj = 1/d_j − Σ L_kj·Z_kj. */
  #inverseOnPattern(): { diagonal: Float64Array; value: Float64Array } {
    if (this.#inverse) return this.#inverse
    const { size, start } = this.symbolic
    const row = this.#row
    const l = this.#value
    const diagonal = new Float64Array(size)
    const value = new Float64Array(row.length)
    const slot = new Int32Array(size).fill(-1)
    for (let j = size - 1; j >= 0; j--) {
      const [from, to] = [start[j]!, start[j + 1]!]
      for (let p = from; p < to; p++) slot[row[p]!] = p
      for (let p = from; p < to; p++) {
        // Column k meets the rows of column j at and below k.
        const k = row[p]!
        value[p]! -= l[p]! * diagonal[k]!
        for (let q = start[k]!; q < start[k + 1]!; q++) {
          const at = slot[row[q]!]!
          if (at < 0) continue
          value[at]! -= l[p]! * value[q]!
          value[p]! -= l[at]! * value[q]!
        }
      }
      let sum = 1 / this.#diagonal[j]!
      for (let p = from; p < to; p++) {
        sum -= l[p]! * value[p]!
        slot[row[p]!] = -1
      }
      diagonal[j] = sum
    }
    this.#inverse = { diagonal, value }
    return this.#inverse
  }

  /** Forward half for a unit source, along the two paths merged in ascending order. */
  #path(w: Float64Array, plus: number, minus: number): void {
    const { placeOf, parent, start } = this.symbolic
    const row = this.#row
    const value = this.#value
    let a = plus < 0 ? -1 : placeOf[plus]!
    let b = minus < 0 ? -1 : placeOf[minus]!
    if (a >= 0) w[a]! += 1
    if (b >= 0) w[b]! -= 1
    while (a >= 0 || b >= 0) {
      const k = b < 0 || (a >= 0 && a <= b) ? a : b
      const y = w[k]!
      if (y !== 0) for (let p = start[k]!; p < start[k + 1]!; p++) w[row[p]!]! -= value[p]! * y
      if (a === k) a = parent[k]!
      if (b === k) b = parent[k]!
    }
  }

  #forward(): void {
    const { size, start } = this.symbolic
    const w = this.#work
    const row = this.#row
    const value = this.#value
    for (let k = 0; k < size; k++) {
      const y = w[k]!
      if (y === 0) continue
      for (let p = start[k]!; p < start[k + 1]!; p++) w[row[p]!]! -= value[p]! * y
    }
  }

  #back(x: Float64Array): void {
    const { size, order, start } = this.symbolic
    const w = this.#work
    const row = this.#row
    const value = this.#value
    const diagonal = this.#diagonal
    let end = start[size]!
    for (let k = size - 1; k >= 0; k--) {
      let y = w[k]! / diagonal[k]!
      const first = start[k]!
      for (let p = first; p < end; p++) y -= value[p]! * w[row[p]!]!
      end = first
      w[k] = y
      x[order[k]!] = y
    }
  }
}
