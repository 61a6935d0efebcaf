/**
 * One step in time of supplies, drivers, rails, decoders' capacitors and shorts: backward Euler, so that nothing rings
 * that is not there. What conducts and what limits is found by trying: each part is linear in either state.
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

export interface Step {
  state: State
  /** Out of each source into the wires, A. */
  sourceAmp: Float64Array
  supplyAmp: Float64Array
  portVolt: Float64Array
  /** No state of all parts was found that is consistent. */
  doubtful?: true
}

/** A wheel or wire that is not there; keeps what nothing feeds solvable, S. */
const LEAK = 1e-9
/** Of a stay-alive's diode when it gives, Ohm. */
const GIVES_OHM = 0.5
const LEAST_OHM = 1e-4
/** Below this a load is a resistor, V. */
const EMPTY_VOLT = 0.5
const MOST_TRIES = 60
/** What still changes after so many tries is what cannot be decided. */
const SETTLED_TRIES = 30
/** After so many, supplies are tried out of their limit, with their sources in theirs. */
const RELEASED_TRIES = 25
/** Rails as good as dead: which of them is the higher one drives no current that counts, V. */
const DEAD_VOLT = 0.05
/** A rectifier so near to its edge carries next to nothing either way, V. */
const EDGE_VOLT = 1e-3

type SupplyMode = 'free' | 'limited' | 'blocked'
type SourceMode = 'free' | 'held'

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
class Scratch {
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

/** @param h length of the step, s */
export function step(t: Topology, from: State, modes: Modes, h: number): Step {
  t.scratch ??= new Scratch(t.ports.length + t.supplies.length, t.loadCount)
  const { scratch } = t
  let matters = false
  for (let tries = 0; ; tries++) {
    for (const { loads } of t.ports)
      for (const { load, index } of loads)
        scratch.companion(load, index, from.volt[index]!, from.stay[index]!, modes.gives[index] === 1, h)
    fill(t, scratch, from, modes, h)
    if (!scratch.solve(scratch.x.length)) scratch.x.fill(0)
    const found = read(t, scratch, from, modes, h)
    const changed = revise(t, modes, found, scratch.x, tries)
    if (changed === NOTHING) return found
    if (tries === RELEASED_TRIES) release(t, modes)
    if (tries >= SETTLED_TRIES && changed === MATTERS) matters = true
    if (tries >= MOST_TRIES) return matters ? { ...found, doubtful: true } : found
  }
}

/** Kirchhoff's current law at every port, and at the output of every supply. */
function fill(t: Topology, scratch: Scratch, from: State, modes: Modes, h: number): void {
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

function read(t: Topology, scratch: Scratch, from: State, modes: Modes, h: number): Step {
  const n = t.ports.length
  const { x } = scratch
  const state: State = {
    volt: new Float64Array(t.loadCount),
    stay: new Float64Array(t.loadCount),
    supply: x.slice(n),
  }
  t.ports.forEach(({ loads }, p) => {
    for (const { load, index } of loads) {
      const amp = modes.conducts[index] ? scratch.siemens[index]! * Math.abs(x[p]!) - scratch.amp[index]! : 0
      const volt = (scratch.k[index]! + amp) / scratch.a[index]!
      state.volt[index] = Math.max(0, volt)
      if (load.stay)
        state.stay[index] =
          from.stay[index]! + (h * scratch.staySiemens[index]! * (volt - from.stay[index]!)) / load.stay.farad
    }
  })
  const sourceAmp = new Float64Array(t.sources.length)
  for (let d = 0; d < sourceAmp.length; d++) {
    const { plan, port, supply, output } = t.sources[d]!
    const s = 1 / Math.max(LEAST_OHM, plan.ohm)
    if (output === 'braking') sourceAmp[d] = -s * x[port]!
    else if (output === 'driving')
      sourceAmp[d] =
        modes.source[d] === 'held' ? plan.holdsAmp : s * (x[n + supply]! - plan.dropVolt - x[port]!)
  }
  const supplyAmp = new Float64Array(t.supplies.length)
  for (let k = 0; k < supplyAmp.length; k++) {
    const { plan, volt, on } = t.supplies[k]!
    if (!on || modes.supply[k] === 'blocked') continue
    if (modes.supply[k] === 'free') supplyAmp[k] = (volt - x[n + k]!) / Math.max(LEAST_OHM, plan.ohm)
    else if (plan.limit !== 'foldback') supplyAmp[k] = plan.limitAmp
    else {
      const short = plan.shortAmp ?? 0
      supplyAmp[k] = short + ((plan.limitAmp - short) * x[n + k]!) / plan.volt
    }
  }
  return { state, sourceAmp, supplyAmp, portVolt: x.slice(0, n) }
}

const NOTHING = 0
const TRIFLE = 1
const MATTERS = 2

/** Parts that cannot be in the state that was tried change it. @returns whether any did that matters for a current */
function revise(t: Topology, modes: Modes, found: Step, x: Float64Array, tries: number): 0 | 1 | 2 {
  const n = t.ports.length
  let changed: 0 | 1 | 2 = NOTHING
  // After a while one part at a time, so that two cannot chase each other.
  const may = () => changed === NOTHING || tries < 20
  const change = (isTrifle: boolean) => {
    if (!isTrifle) changed = MATTERS
    else if (changed === NOTHING) changed = TRIFLE
  }
  t.ports.forEach(({ loads }, p) => {
    const rail = Math.abs(x[p]!)
    if (modes.sign[p]! * x[p]! < -1e-6 && may()) {
      modes.sign[p] = -modes.sign[p]!
      change(rail < DEAD_VOLT || !isFed(t, p))
    }
    for (const { load, index } of loads) {
      const conducts = rail >= found.state.volt[index]! ? 1 : 0
      if (conducts !== modes.conducts[index] && may()) {
        modes.conducts[index] = conducts
        change(Math.abs(rail - found.state.volt[index]!) < EDGE_VOLT || !isFed(t, p))
      }
      if (!load.stay) continue
      const gives = found.state.stay[index]! > found.state.volt[index]! ? 1 : 0
      if (gives !== modes.gives[index] && may()) {
        modes.gives[index] = gives
        change(Math.abs(found.state.stay[index]! - found.state.volt[index]!) < EDGE_VOLT)
      }
    }
  })
  let bySupply = false
  t.supplies.forEach(({ plan, volt, on }, k) => {
    if (!on) return
    const out = x[n + k]!
    const free = (volt - out) / Math.max(LEAST_OHM, plan.ohm)
    const most = plan.limit === 'none' ? Number.POSITIVE_INFINITY : plan.limitAmp
    const held: SupplyMode = free < -1e-9 ? 'blocked' : free > most * (1 + 1e-9) ? 'limited' : 'free'
    // Out of either limit it is free first: at once into the other one would go to and fro for ever.
    const wanted = modes.supply[k] === 'free' || held === modes.supply[k] ? held : 'free'
    if (wanted !== modes.supply[k] && may()) {
      modes.supply[k] = wanted
      change(false)
      bySupply = true
      // What its sources hold was found with another voltage.
      if (wanted === 'limited')
        t.sources.forEach((source, d) => {
          if (source.supply === k) modes.source[d] = 'free'
        })
    }
  })
  if (bySupply) return MATTERS
  t.sources.forEach(({ plan, port, supply, output }, d) => {
    if (output !== 'driving' || plan.holdsAmp === Number.POSITIVE_INFINITY) return
    const free = (x[n + supply]! - plan.dropVolt - x[port]!) / Math.max(LEAST_OHM, plan.ohm)
    const wanted: SourceMode = free > plan.holdsAmp * (1 + 1e-9) ? 'held' : 'free'
    if (wanted !== modes.source[d] && may()) {
      modes.source[d] = wanted
      change(false)
    }
  })
  return changed
}

/**
 * A foldback supply that is limited gives less the lower its output is, so a current that its drivers hold below its limit
 * fits two outputs: one far down, which does not last, and the full one. It comes to the full one as soon as they hold it.
 */
function release(t: Topology, modes: Modes): void {
  t.supplies.forEach(({ plan }, k) => {
    if (plan.limit !== 'foldback' || modes.supply[k] !== 'limited') return
    modes.supply[k] = 'free'
    t.sources.forEach(({ plan: source, supply, output }, d) => {
      if (supply === k && output === 'driving' && source.holdsAmp < Number.POSITIVE_INFINITY)
        modes.source[d] = 'held'
    })
  })
}

/** Whether a driving source reaches a port: on rails that none does, no choice of polarity changes what a source gives. */
function isFed(t: Topology, port: number): boolean {
  if (t.fed) return t.fed[port] === 1
  const fed = new Uint8Array(t.ports.length)
  const next = t.sources.flatMap((s) => (s.output === 'driving' ? [s.port] : []))
  for (let p = next.pop(); p !== undefined; p = next.pop()) {
    if (fed[p]) continue
    fed[p] = 1
    t.siemens[p]!.forEach((s, q) => {
      // What rounding leaves between separate rails is no wire.
      if (Math.abs(s) > LEAK) next.push(q)
    })
    for (const { from, to } of t.bridges)
      if (from === p) next.push(to)
      else if (to === p) next.push(from)
  }
  t.fed = fed
  return fed[port] === 1
}
