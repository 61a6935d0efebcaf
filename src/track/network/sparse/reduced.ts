/**
 * A network of conductances with most of its nodes eliminated, by {@link planElimination}. A node with conductances gᵢ to its
 * neighbours and g₀ to ground goes by the star–mesh transformation (Rosen 1924): gᵢ·gⱼ/Σg between every two of them. That only
 * adds and divides what is not negative, so nothing cancels, however far apart the resistances are; it is Gaussian elimination all
 * the same, and exact. What is left goes to the sparse factor.
 */
import type { Elimination } from './elimination.js'
import { analyse, Factor } from './ldlt.js'

/** What a solution of the network needs; {@link Factor} is the plain one. */
export interface Solver {
  /** Nodes, without ground. */
  readonly size: number
  solve(b: ArrayLike<number>, x?: Float64Array): Float64Array
  unit(plus: number, minus: number, x?: Float64Array): Float64Array
  /** Four of {@link unit} at once: `x[4 · v + k]` is what the k-th has at node v. */
  units(plus: ArrayLike<number>, minus: ArrayLike<number>, x: Float64Array): void
  between(plus: number, minus: number): number
  betweenAll(plus: Int32Array, minus: Int32Array): Float64Array
}

export class ReducedFactor implements Solver {
  readonly size: number
  readonly #plan: Elimination
  /** By step: what was beside the node, S; and the share of every neighbour in it. */
  readonly #whole: Float64Array
  readonly #share: Float64Array
  readonly #core: Factor | undefined
  /** All zero between calls. */
  readonly #zero: Float64Array

  /**
   * @param siemens conductance of every edge, ≥ 0; edges beyond the list have none.
   * @throws RangeError when a node has no way to ground: the matrix is singular.
   */
  constructor(plan: Elimination, siemens: Float64Array) {
    const { size, steps, node, start, beside, link, pairStart, between } = plan
    this.size = size
    this.#plan = plan
    this.#zero = new Float64Array(size)
    const g = new Float64Array(plan.links)
    const ground = new Float64Array(size)
    for (let e = 0; e < siemens.length; e++) {
      const l = plan.linkOfEdge[e]!
      if (l >= 0) {
        g[l]! += siemens[e]!
        continue
      }
      const [p, q] = [plan.edgeFrom[e]!, plan.edgeTo[e]!]
      if (p === q) continue
      ground[p < 0 ? q : p]! += siemens[e]!
    }
    this.#whole = new Float64Array(steps)
    this.#share = new Float64Array(start[steps]!)
    const whole = this.#whole
    const share = this.#share
    let first = 0
    for (let k = 0; k < steps; k++) {
      const v = node[k]!
      const end = start[k + 1]!
      const g0 = ground[v]!
      let sum = g0
      for (let i = first; i < end; i++) sum += g[link[i]!]!
      if (!(sum > 0)) throw new RangeError(`node ${v} has no way to ground`)
      whole[k] = sum
      for (let i = first; i < end; i++) {
        const s = g[link[i]!]! / sum
        share[i] = s
        ground[beside[i]!]! += s * g0
      }
      if (end - first > 1) {
        let pair = pairStart[k]!
        for (let i = first; i < end; i++)
          for (let j = i + 1; j < end; j++) g[between[pair++]!]! += share[i]! * g[link[j]!]!
      }
      first = end
    }
    const { core, coreLinks } = plan
    if (core.length === 0) return
    const count = coreLinks.length / 3
    const from = new Int32Array(count + core.length)
    const to = new Int32Array(count + core.length).fill(-1)
    const left = new Float64Array(count + core.length)
    for (let i = 0; i < count; i++) {
      from[i] = coreLinks[3 * i]!
      to[i] = coreLinks[3 * i + 1]!
      left[i] = g[coreLinks[3 * i + 2]!]!
    }
    core.forEach((v, i) => {
      from[count + i] = i
      left[count + i] = ground[v]!
    })
    this.#core = new Factor(analyse(core.length, from, to), left)
  }

  /** Solve K·x = b; both by node. */
  solve(b: ArrayLike<number>, x: Float64Array = new Float64Array(this.size)): Float64Array {
    const { steps, node, start, beside } = this.#plan
    const share = this.#share
    for (let v = 0; v < x.length; v++) x[v] = b[v]!
    for (let k = 0; k < steps; k++) {
      const y = x[node[k]!]!
      if (y === 0) continue
      const end = start[k + 1]!
      for (let i = start[k]!; i < end; i++) x[beside[i]!]! += share[i]! * y
    }
    this.#solveCore(x)
    this.#back(x)
    return x
  }

  /** Response to one ampere into `plus` and out of `minus` (−1: ground): a column of the inverse. */
  unit(plus: number, minus: number, x: Float64Array = new Float64Array(this.size)): Float64Array {
    x.fill(0)
    this.#path(x, plus, minus)
    this.#solveCore(x)
    this.#back(x)
    return x
  }

  /**
   * {@link unit} for four pairs of nodes at once, the same to the last bit: what is read of the network is read once for all,
   * and each step waits for the ones before it in four columns at the same time.
   */
  units(plus: ArrayLike<number>, minus: ArrayLike<number>, x: Float64Array): void {
    const { steps, node, start, beside } = this.#plan
    const whole = this.#whole
    x.fill(0)
    const y = this.#zero
    for (let i = 0; i < 4; i++) {
      const way = this.#path(y, plus[i]!, minus[i]!)
      // Elsewhere there is nothing to divide.
      for (const k of way) {
        x[4 * node[k]! + i] = y[node[k]!]! / whole[k]!
        y[node[k]!] = 0
      }
      this.#solveCore(y)
      for (const v of this.#plan.core) {
        x[4 * v + i] = y[v]!
        y[v] = 0
      }
    }
    const share = this.#share
    let end = start[steps]!
    for (let k = steps - 1; k >= 0; k--) {
      const v = 4 * node[k]!
      const first = start[k]!
      let y0 = x[v]!
      let y1 = x[v + 1]!
      let y2 = x[v + 2]!
      let y3 = x[v + 3]!
      for (let i = first; i < end; i++) {
        const s = share[i]!
        const b = 4 * beside[i]!
        y0 += s * x[b]!
        y1 += s * x[b + 1]!
        y2 += s * x[b + 2]!
        y3 += s * x[b + 3]!
      }
      x[v] = y0
      x[v + 1] = y1
      x[v + 2] = y2
      x[v + 3] = y3
      end = first
    }
  }

  /** Resistance seen between two nodes, Ohm: Σ y²/Σg over the nodes on the way, and that of what is left. */
  between(plus: number, minus: number): number {
    const { node, core } = this.#plan
    const y = this.#zero
    let sum = 0
    const way = this.#path(y, plus, minus)
    for (const k of way) sum += y[node[k]!]! ** 2 / this.#whole[k]!
    for (const k of way) y[node[k]!] = 0
    if (this.#core) {
      const into = Float64Array.from(core, (v) => y[v]!)
      const rest = this.#core.solve(into)
      into.forEach((amp, i) => {
        sum += amp * rest[i]!
        y[core[i]!] = 0
      })
    }
    return sum
  }

  /**
   * The resistance between many pairs of nodes at once, Ohm: from the entries of the inverse for every link, found backwards from
   * the last (Takahashi, Fagan and Chen 1973), for two nodes of one link or of parts that only ground joins. Others go through
   * {@link between}.
   */
  betweenAll(plus: Int32Array, minus: Int32Array): Float64Array {
    const inverse = this.#inverseOnLinks()
    const { partOf } = this.#plan
    const own = (v: number) => (v < 0 ? 0 : inverse.own[v]!)
    return Float64Array.from(plus, (p, i) => {
      const q = minus[i]!
      if (p === q) return 0
      if (p < 0 || q < 0 || partOf[p] !== partOf[q]) return own(p) + own(q)
      const l = this.#linkBetween(p, q)
      return l < 0 ? this.between(p, q) : own(p) + own(q) - 2 * inverse.link[l]!
    })
  }

  /** The link of two nodes at the time the first of them went; −1 where there was none, or where both are left over. */
  #linkBetween(p: number, q: number): number {
    const { stepOf, start, beside, link } = this.#plan
    const [a, b] = [stepOf[p]!, stepOf[q]!]
    const [k, other] = b < 0 || (a >= 0 && a < b) ? [a, q] : [b, p]
    if (k < 0) return -1
    for (let i = start[k]!; i < start[k + 1]!; i++) if (beside[i] === other) return link[i]!
    return -1
  }

  #inverse: { own: Float64Array; link: Float64Array } | undefined

  #inverseOnLinks(): { own: Float64Array; link: Float64Array } {
    if (this.#inverse) return this.#inverse
    const { size, steps, node, start, beside, link, pairStart, between, links, core, coreLinks } = this.#plan
    const share = this.#share
    const own = new Float64Array(size)
    const joint = new Float64Array(links)
    if (this.#core) {
      const pairs = (side: 0 | 1) =>
        Int32Array.from({ length: coreLinks.length / 3 }, (_, i) => coreLinks[3 * i + side]!)
      const found = this.#core.inverseEntries(pairs(0), pairs(1))
      found.own.forEach((z, i) => {
        own[core[i]!] = z
      })
      found.joint.forEach((z, i) => {
        joint[coreLinks[3 * i + 2]!] = z
      })
    }
    for (let k = steps - 1; k >= 0; k--) {
      const [first, end] = [start[k]!, start[k + 1]!]
      for (let i = first; i < end; i++) joint[link[i]!] = share[i]! * own[beside[i]!]!
      let pair = pairStart[k]!
      for (let i = first; i < end; i++)
        for (let j = i + 1; j < end; j++) {
          const z = joint[between[pair++]!]!
          joint[link[i]!]! += share[j]! * z
          joint[link[j]!]! += share[i]! * z
        }
      let z = 1 / this.#whole[k]!
      for (let i = first; i < end; i++) z += share[i]! * joint[link[i]!]!
      own[node[k]!] = z
    }
    this.#inverse = { own, link: joint }
    return this.#inverse
  }

  /**
   * Forward half for a unit source. Whatever is beside a node is beside the first of them to go as well, so that one way leads
   * from each of the two nodes; they are merged in the order of elimination.
   * @returns the steps on the way.
   */
  #path(x: Float64Array, plus: number, minus: number): number[] {
    const { node, stepOf } = this.#plan
    if (plus >= 0) x[plus]! += 1
    if (minus >= 0) x[minus]! -= 1
    let a = plus < 0 ? -1 : stepOf[plus]!
    let b = minus < 0 ? -1 : stepOf[minus]!
    const way: number[] = []
    while (a >= 0 || b >= 0) {
      const k = b < 0 || (a >= 0 && a <= b) ? a : b
      way.push(k)
      const y = x[node[k]!]!
      const next = this.#spread(x, k, y)
      if (a === k) a = next
      if (b === k) b = next
    }
    return way
  }

  /** Hand what a node has on to what is beside it. @returns the step of the first of them to go; −1: all are left over. */
  #spread(x: Float64Array, k: number, y: number): number {
    const { start, beside, stepOf } = this.#plan
    let next = -1
    const end = start[k + 1]!
    for (let i = start[k]!; i < end; i++) {
      x[beside[i]!]! += this.#share[i]! * y
      const step = stepOf[beside[i]!]!
      if (step >= 0 && (next < 0 || step < next)) next = step
    }
    return next
  }

  #solveCore(x: Float64Array): void {
    if (!this.#core) return
    const { core } = this.#plan
    const found = this.#core.solve(Float64Array.from(core, (v) => x[v]!))
    for (let i = 0; i < core.length; i++) x[core[i]!] = found[i]!
  }

  #back(x: Float64Array): void {
    const { steps, node, start, beside } = this.#plan
    const share = this.#share
    const whole = this.#whole
    let end = start[steps]!
    for (let k = steps - 1; k >= 0; k--) {
      const v = node[k]!
      const first = start[k]!
      let y = x[v]!
      if (y !== 0) y /= whole[k]!
      for (let i = first; i < end; i++) y += share[i]! * x[beside[i]!]!
      x[v] = y
      end = first
    }
  }
}
