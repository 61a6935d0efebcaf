/** A network in one corner of its resistances, factored: open-circuit voltages, responses, loads. */

import type { LoadLaw } from '../layout/layout.js'
import { Groups } from './groups.js'
import { type Corner, EDGE, type Network } from './network.js'
import { type Elimination, planElimination } from './sparse/elimination.js'
import { ReducedFactor, type Solver } from './sparse/reduced.js'
import { solveDense } from './sparse/update.js'

/** What all corners of a network share: grounding, and which nodes are eliminated in which order. */
export interface MatrixLayout {
  net: Network
  /** Node → row of the matrix; −1: ground. One node of every part that hangs together is ground. */
  rowOf: Int32Array
  rows: number
  /** Node → a node of the part that it hangs together with. */
  partOf: Int32Array
  elimination: Elimination
}

export function layOut(net: Network): MatrixLayout {
  const parts = new Groups(net.size)
  for (let e = 0; e < net.from.length; e++) parts.join(net.from[e]!, net.to[e]!)
  const grounded = new Set<number>()
  const rowOf = new Int32Array(net.size)
  for (const t of net.terminals) {
    const part = parts.find(t.b)
    if (grounded.has(part)) continue
    grounded.add(part)
    rowOf[t.b] = -1
  }
  let rows = 0
  for (let n = 0; n < net.size; n++) if (rowOf[n] === 0) rowOf[n] = rows++
  const partOf = rowOf.map((_, n) => parts.find(n))
  return { net, rowOf, rows, partOf, elimination: eliminationOf(net, rowOf, rows) }
}

/**
 * Rails A and B hang together over ground only, so that the resistance between the rails of a place is that of each to ground.
 * Where they do hang together otherwise, both rails of every place count as joined, by nothing: so it is among what one pass gives.
 */
function eliminationOf(net: Network, rowOf: Int32Array, rows: number): Elimination {
  const row = (nodes: Int32Array) => nodes.map((n) => rowOf[n]!)
  const [from, to] = [row(net.from), row(net.to)]
  const plan = planElimination(rows, from, to)
  const { partOf } = plan
  const joined = net.places.filter((p) => {
    const a = rowOf[p.a]!
    const b = rowOf[p.b]!
    return a >= 0 && b >= 0 && a !== b && partOf[a] === partOf[b]
  })
  if (joined.length === 0) return plan
  const more = (nodes: Int32Array, side: 'a' | 'b') => {
    const list = new Int32Array(nodes.length + joined.length)
    list.set(nodes)
    joined.forEach((p, i) => {
      list[nodes.length + i] = rowOf[p[side]]!
    })
    return list
  }
  return planElimination(rows, more(from, 'a'), more(to, 'b'))
}

/** Something that draws between two nodes. */
export interface ElectricalLoad {
  a: number
  b: number
  /** At the voltage its place has without load. */
  amp: number
  law: LoadLaw
  /** Below this a decoder switches off: the current falls in proportion to the voltage. */
  minVolt: number
  /** That voltage by corner, where it is not the network's own: that of the network before a fault. */
  openVolt?: Readonly<Partial<Record<Corner, number>>>
}

export interface LoadSolution {
  converged: boolean
  iterations: number
  /** By load: voltage across it and current through it; negative voltage: polarity swapped. */
  volt: Float64Array
  amp: Float64Array
  /** By row. */
  x: Float64Array
}

export class Circuit {
  readonly layout: MatrixLayout
  readonly corner: Corner
  readonly factor: Solver
  readonly siemens: Float64Array
  /** Voltages without load, by row. */
  readonly open: Float64Array

  /**
   * @param solver of the conductances, where it is to be another
   * @param ohm of every edge, where they are not all at that corner
   */
  constructor(
    layout: MatrixLayout,
    corner: Corner,
    solver = (siemens: Float64Array): Solver => new ReducedFactor(layout.elimination, siemens),
    ohm = layout.net.ohm[corner],
  ) {
    const { net, rowOf, rows } = layout
    this.layout = layout
    this.corner = corner
    this.siemens = new Float64Array(ohm.length)
    for (let e = 0; e < ohm.length; e++) this.siemens[e] = 1 / ohm[e]!
    this.factor = solver(this.siemens)
    const b = new Float64Array(rows)
    for (let e = 0; e < ohm.length; e++) {
      if (net.kind[e] !== EDGE.source) continue
      const amp = this.openVolt(net.owner[e]!) * this.siemens[e]!
      const [p, q] = [rowOf[net.from[e]!]!, rowOf[net.to[e]!]!]
      if (p >= 0) b[p]! += amp
      if (q >= 0) b[q]! -= amp
    }
    this.open = this.factor.solve(b)
  }

  /** Voltage between two nodes in a solution. */
  across(x: Float64Array, a: number, b: number): number {
    const { rowOf } = this.layout
    const [p, q] = [rowOf[a]!, rowOf[b]!]
    return (p < 0 ? 0 : x[p]!) - (q < 0 ? 0 : x[q]!)
  }

  /** Response, by row, to one ampere into node `a` and out of node `b`. */
  unit(a: number, b: number, x?: Float64Array): Float64Array {
    const { rowOf } = this.layout
    return this.factor.unit(rowOf[a]!, rowOf[b]!, x)
  }

  /** {@link unit} between the rails of four places at once: that of row r for the k-th is `x[4 · r + k]`. */
  units(places: readonly number[], x: Float64Array): void {
    const { net, rowOf } = this.layout
    const rows = (side: 'a' | 'b') => places.map((p) => rowOf[net.places[p]![side]]!)
    this.factor.units(rows('a'), rows('b'), x)
  }

  /** Resistance between two nodes with the sources' voltages at nought, Ohm. */
  between(a: number, b: number): number {
    const { rowOf } = this.layout
    return this.factor.between(rowOf[a]!, rowOf[b]!)
  }

  #placeOhm: Float64Array | undefined

  /** {@link between} the two rails of every place, Ohm. */
  get placeOhm(): Float64Array {
    if (!this.#placeOhm) {
      const { net, rowOf } = this.layout
      const rows = (side: 'a' | 'b') => Int32Array.from(net.places, (p) => rowOf[p[side]]!)
      this.#placeOhm = this.factor.betweenAll(rows('a'), rows('b'))
    }
    return this.#placeOhm
  }

  /** Current out of a district's source in a solution, A. */
  sourceAmp(x: Float64Array, district: number): number {
    const { net } = this.layout
    const { a, b } = net.terminals[district]!
    return (this.openVolt(district) - this.across(x, a, b)) / this.sourceOhm(district)
  }

  /** Volts lost per ampere in a district's source. */
  sourceOhm(district: number): number {
    const { sourceOhm, sourceLeastOhm } = this.layout.net.sources[district]!
    return this.corner === 'low' ? Math.min(sourceOhm, sourceLeastOhm ?? sourceOhm) : sourceOhm
  }

  /** A district's voltage without load: the lowest where resistances are highest. */
  openVolt(district: number): number {
    const volt = this.layout.net.sources[district]!.openVolt
    return { low: volt.high, usual: volt.usual, high: volt.low }[this.corner]
  }

  /**
   * Voltages with loads. The network is reduced to the loads' own places (a resistance matrix from one response
   * each), Newton's method with step halving runs there, and one more solution gives every node. The solution
   * of highest voltage is meant: the start is no load.
   */
  withLoads(loads: readonly ElectricalLoad[]): LoadSolution {
    const { rows } = this.layout
    const drawing = loads.filter((l) => l.amp > 0)
    const spots = new Map<string, { a: number; b: number; loads: ElectricalLoad[] }>()
    for (const l of drawing) {
      const key = `${l.a},${l.b}`
      const spot = spots.get(key)
      if (spot) spot.loads.push(l)
      else spots.set(key, { a: l.a, b: l.b, loads: [l] })
    }
    const list = [...spots.values()]
    const n = list.length
    const columns = list.map((s) => this.unit(s.a, s.b))
    const r = list.map((s) => Float64Array.from(columns, (u) => this.across(u, s.a, s.b)))
    const start = Float64Array.from(list, (s) => this.across(this.open, s.a, s.b))
    const scale = Math.max(1e-9, ...start.map(Math.abs))
    const volt = start.slice()
    const amp = new Float64Array(n)
    const slope = new Float64Array(n)
    const evaluate = (v: Float64Array): Float64Array => {
      list.forEach((s, i) => {
        amp[i] = 0
        slope[i] = 0
        for (const l of s.loads) {
          const [current, rise] = drawn(l, v[i]!, l.openVolt?.[this.corner] ?? start[i]!)
          amp[i]! += current
          slope[i]! += rise
        }
      })
      return Float64Array.from(r, (line, i) => {
        let f = v[i]! - start[i]!
        for (let j = 0; j < n; j++) f += line[j]! * amp[j]!
        return f
      })
    }
    let residual = evaluate(volt)
    let iterations = 0
    let converged = worst(residual) <= 1e-12 * scale
    while (!converged && iterations < 100) {
      iterations++
      const jacobian = r.map((line, i) =>
        Float64Array.from(line, (rij, j) => rij * slope[j]! + (i === j ? 1 : 0)),
      )
      const step = solveDense(jacobian, residual.slice())
      if (!step) break
      const before = worst(residual)
      let share = 1
      let trial: Float64Array
      do {
        trial = volt.map((v, i) => v - share * step[i]!)
        residual = evaluate(trial)
        share /= 2
      } while (!(worst(residual) < before) && share > 1e-6)
      volt.set(trial)
      const now = worst(residual)
      converged = now <= 1e-12 * scale || (now <= 1e-9 * scale && now >= before)
    }
    const x = this.open.slice()
    columns.forEach((u, i) => {
      const current = amp[i]!
      for (let k = 0; k < rows; k++) x[k]! -= current * u[k]!
    })
    const across = (l: ElectricalLoad) => this.across(x, l.a, l.b)
    return {
      converged,
      iterations,
      x,
      volt: Float64Array.from(loads, across),
      amp: Float64Array.from(loads, (l) =>
        l.amp > 0 ? drawn(l, across(l), l.openVolt?.[this.corner] ?? this.across(this.open, l.a, l.b))[0] : 0,
      ),
    }
  }
}

function worst(list: Float64Array): number {
  let most = 0
  for (const v of list) most = Math.max(most, Math.abs(v))
  return Number.isNaN(list[0] ?? 0) ? Number.POSITIVE_INFINITY : most
}

/** Current and its slope at a voltage; decoders rectify, so the law is the same for either polarity. */
export function drawn(l: ElectricalLoad, volt: number, openVolt: number): [number, number] {
  const size = Math.abs(volt)
  const sign = volt < 0 ? -1 : 1
  const reference = Math.max(1e-9, Math.abs(openVolt))
  if (l.law === 'resistor') return [(l.amp * volt) / reference, l.amp / reference]
  const least = Math.max(1e-6, Math.min(l.minVolt, reference))
  if (l.law === 'current') {
    if (size >= least) return [sign * l.amp, 0]
    return [(l.amp * volt) / least, l.amp / least]
  }
  const watt = l.amp * reference
  if (size >= least) return [watt / volt, -watt / (volt * volt)]
  return [(watt * volt) / (least * least), watt / (least * least)]
}
