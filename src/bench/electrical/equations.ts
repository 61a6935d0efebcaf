/**
 * The linear equations of one step in time, backward Euler: what each part does in the state that it is in, and which
 * state a voltage puts it in.
 */
import type { Bridge, DriverOutput, RailLoad, SourcePlan, SupplyPlan } from './parts.js'

export interface Port {
  loads: { load: RailLoad; index: number }[]
  /** Of everything that lies across the rails there, S. */
  shortSiemens: number
}

/** The circuit as it is between two changes. */
export interface Topology {
  ports: readonly Port[]
  /** Of wires and rails between ports, S. */
  siemens: readonly Float64Array[]
  /** Port of each source, and the number of its supply. */
  sources: readonly { plan: SourcePlan; port: number; supply: number; output: DriverOutput }[]
  supplies: readonly { plan: SupplyPlan; volt: number; on: boolean }[]
  bridges: readonly (Omit<Bridge, 'from' | 'to'> & { from: number; to: number })[]
  loadCount: number
  scratch?: Scratch
  /** Ports that a source feeds, 1 each; found when first asked for. */
  fed?: Uint8Array
}

/** Voltages that last from one instant to the next: of each load's capacitor, stay-alive, and each supply's output. */
export interface State {
  volt: Float64Array
  stay: Float64Array
  supply: Float64Array
}

/** A wheel or wire that is not there; keeps what nothing feeds solvable, S. */
export const LEAK = 1e-9
/** Of a stay-alive's diode when it gives, Ohm. */
const GIVES_OHM = 0.5
export const LEAST_OHM = 1e-4
/** Below this a load is a resistor, V. */
const EMPTY_VOLT = 0.5

export type SupplyMode = 'free' | 'limited' | 'blocked'
export type SourceMode = 'free' | 'held'

/** Which way each part is for now; kept from step to step, as it seldom changes. */
export class Modes {
  readonly conducts: Uint8Array
  readonly gives: Uint8Array
  /** Which rail of each port is the higher one. */
  readonly sign: Int8Array
  readonly supply: SupplyMode[]
  readonly source: SourceMode[]

  constructor(topology: Topology) {
    this.conducts = new Uint8Array(topology.loadCount).fill(1)
    this.gives = new Uint8Array(topology.loadCount)
    this.sign = new Int8Array(topology.ports.length).fill(1)
    this.supply = topology.supplies.map(() => 'free')
    this.source = topology.sources.map(() => 'free')
  }
}

/** Numbers of one step, kept from step to step. */
export class Scratch {
  readonly matrix: Float64Array
  readonly x: Float64Array
  /** Of each load over the step: its conductance towards the rails and what it gives or takes there, and its own equation. */
  readonly siemens: Float64Array
  readonly amp: Float64Array
  readonly a: Float64Array
  readonly k: Float64Array
  readonly staySiemens: Float64Array

  constructor(size: number, loads: number) {
    this.matrix = new Float64Array(size * size)
    this.x = new Float64Array(size)
    this.siemens = new Float64Array(loads)
    this.amp = new Float64Array(loads)
    this.a = new Float64Array(loads)
    this.k = new Float64Array(loads)
    this.staySiemens = new Float64Array(loads)
  }

  /** A load's capacitor, with its stay-alive eliminated: C·dv/dt = i − a·v + k over the step. */
  companion(load: RailLoad, i: number, volt: number, stay: number, gives: boolean, h: number): void {
    const own = load.farad / h
    // A load draws nothing from a capacitor that is empty: near that it is a resistor, solved with the rest, or steps would be short.
    const isEmpty = volt <= EMPTY_VOLT
    let a = own + (isEmpty ? load.amp / EMPTY_VOLT : 0)
    let k = own * volt - (isEmpty ? 0 : load.amp)
    let staySiemens = 0
    if (load.stay) {
      staySiemens = 1 / ((gives ? GIVES_OHM : Math.max(LEAST_OHM, load.stay.ohm)) + h / load.stay.farad)
      a += staySiemens
      k += staySiemens * stay
    }
    const siemens = 1 / (Math.max(LEAST_OHM, load.ohm) + 1 / a)
    this.a[i] = a
    this.k[i] = k
    this.siemens[i] = siemens
    this.amp[i] = siemens * (k / a)
    this.staySiemens[i] = staySiemens
  }

  /** Solves the matrix for `x` in place, with partial pivoting. @returns false where it is singular */
  solve(size: number): boolean {
    const { matrix: m, x } = this
    for (let k = 0; k < size; k++) {
      let best = k
      for (let i = k + 1; i < size; i++)
        if (Math.abs(m[i * size + k]!) > Math.abs(m[best * size + k]!)) best = i
      if (best !== k) {
        for (let j = k; j < size; j++) {
          const t = m[k * size + j]!
          m[k * size + j] = m[best * size + j]!
          m[best * size + j] = t
        }
        const t = x[k]!
        x[k] = x[best]!
        x[best] = t
      }
      const pivot = m[k * size + k]!
      if (!(Math.abs(pivot) > 1e-300)) return false
      for (let i = k + 1; i < size; i++) {
        const f = m[i * size + k]! / pivot
        if (f === 0) continue
        for (let j = k + 1; j < size; j++) m[i * size + j]! -= f * m[k * size + j]!
        x[i]! -= f * x[k]!
      }
    }
    for (let k = size - 1; k >= 0; k--) {
      let sum = x[k]!
      for (let j = k + 1; j < size; j++) sum -= m[k * size + j]! * x[j]!
      x[k] = sum / m[k * size + k]!
    }
    return true
  }
}

/** Kirchhoff's current law at every port, and at the output of every supply. */
export function fill(t: Topology, scratch: Scratch, from: State, modes: Modes, h: number): void {
  const n = t.ports.length
  const size = scratch.x.length
  const { matrix, x: right, siemens, amp } = scratch
  matrix.fill(0)
  right.fill(0)
  const add = (i: number, j: number, s: number) => {
    matrix[i * size + j]! += s
  }
  for (let i = 0; i < n; i++) {
    matrix.set(t.siemens[i]!, i * size)
    add(i, i, LEAK + t.ports[i]!.shortSiemens)
    for (const { index } of t.ports[i]!.loads) {
      if (!modes.conducts[index]) continue
      add(i, i, siemens[index]!)
      right[i]! += modes.sign[i]! * amp[index]!
    }
  }
  for (const { from: p, to: q, ohm, opposed } of t.bridges) {
    const s = 1 / Math.max(LEAST_OHM, ohm)
    add(p, p, s)
    add(q, q, s)
    add(p, q, opposed ? s : -s)
    add(q, p, opposed ? s : -s)
  }
  t.sources.forEach(({ plan, port, supply, output }, d) => {
    const k = n + supply
    const s = 1 / Math.max(LEAST_OHM, plan.ohm)
    if (output === 'braking') add(port, port, s)
    if (output !== 'driving') return
    if (modes.source[d] === 'held') {
      right[port]! += plan.holdsAmp
      right[k]! -= plan.holdsAmp
      return
    }
    add(port, port, s)
    add(port, k, -s)
    add(k, k, s)
    add(k, port, -s)
    right[port]! -= s * plan.dropVolt
    right[k]! += s * plan.dropVolt
  })
  t.supplies.forEach(({ plan, volt, on }, k) => {
    const i = n + k
    add(i, i, LEAK)
    if (plan.farad) {
      add(i, i, plan.farad / h)
      right[i]! += (plan.farad / h) * from.supply[k]!
    }
    if (!on || modes.supply[k] === 'blocked') return
    if (modes.supply[k] === 'free') {
      const s = 1 / Math.max(LEAST_OHM, plan.ohm)
      add(i, i, s)
      right[i]! += s * volt
    } else if (plan.limit === 'foldback') {
      // Current at an output voltage U: short + (limit − short) · U / V.
      const short = plan.shortAmp ?? 0
      add(i, i, -(plan.limitAmp - short) / plan.volt)
      right[i]! += short
    } else right[i]! += plan.limitAmp
  })
}
