/**
 * One edge through the ladder, in small steps: coils and capacitors take turns (leapfrog, the scheme of finite
 * differences in time), bridges are solved with their node. Quick enough to search by; SPICE confirms what is kept.
 */
import type { RingCircuit } from './circuit.js'
import { BRANCH, NODE, Workplace } from './kernel.js'

/** Forward drop of two bridge diodes and their resistance; common practice, no source. */
export const BRIDGE = { volt: 1.6, ohm: 0.5 } as const
/** When the edge begins in a run, us. */
export const EDGE_AT_US = 1

export interface Waves {
  timeUs: Float64Array
  /** Node → its voltage over time, for the nodes asked for. */
  volt: Map<number, Float64Array>
}

/** Voltages after an edge from −V to +V at {@link EDGE_AT_US}, from the steady state before it. */
export function simulateEdge(c: RingCircuit, untilUs: number, nodes: readonly number[] = c.probes): Waves {
  return new EdgeRecord(c, untilUs, nodes).finish()
}

/** The highest voltage of every node until then, V. */
export function peaksOfEdge(c: RingCircuit, untilUs: number): Float64Array {
  const { dt, steps } = stepsOf(c, untilUs)
  const run = new EdgeRun(c, dt)
  run.advanceTo(steps)
  return run.peaks()
}

/** An edge whose voltages are kept, and which may stop on the way to be looked at. */
export class EdgeRecord {
  readonly #run: EdgeRun
  readonly #every: number
  readonly #steps: number
  readonly #waves: Waves
  #next = 0

  constructor(c: RingCircuit, untilUs: number, nodes: readonly number[] = c.probes) {
    const { dt, steps } = stepsOf(c, untilUs)
    this.#run = new EdgeRun(c, dt)
    this.#steps = steps
    this.#every = Math.max(1, Math.floor(steps / 4000))
    const kept = Math.floor(steps / this.#every) + 1
    this.#waves = {
      timeUs: Float64Array.from({ length: kept }, (_, k) => k * this.#every * dt * 1e6),
      volt: new Map(nodes.map((k) => [k, new Float64Array(kept).fill(-c.volt)])),
    }
    this.#next = Math.ceil(this.#run.step / this.#every)
  }

  /** The highest voltage of every node so far, V. */
  peaks(): Float64Array {
    return this.#run.peaks()
  }

  /**
   * On to a step, at most to the last.
   * @param mostVolt it goes no further once a voltage that is kept is higher
   * @returns whether it got there
   */
  advanceTo(step: number, mostVolt = Number.POSITIVE_INFINITY): boolean {
    const last = Math.min(step, this.#steps)
    for (; this.#next * this.#every <= last; this.#next++) {
      this.#run.advanceTo(this.#next * this.#every)
      for (const [node, list] of this.#waves.volt) {
        const volt = this.#run.volt(node)
        if (volt > mostVolt) return false
        list[this.#next] = volt
      }
    }
    this.#run.advanceTo(last)
    return true
  }

  finish(): Waves {
    this.advanceTo(this.#steps)
    return this.#waves
  }

  /** {@link finish}, unless a voltage that is kept is higher than that: then nothing. */
  finishBelow(mostVolt: number): Waves | undefined {
    return this.advanceTo(this.#steps, mostVolt) ? this.#waves : undefined
  }
}

function reciprocalHenries(c: RingCircuit): Float64Array {
  const inverse = new Float64Array(c.farad.length)
  for (const b of c.branches) {
    inverse[b.from]! += 1 / b.henry
    inverse[b.to]! += 1 / b.henry
  }
  return inverse
}

/** Stable below √2 of the same root (the largest eigenvalue is at most twice the largest row): well inside. */
export function stepsOf(c: RingCircuit, untilUs: number): { dt: number; steps: number } {
  const inverse = reciprocalHenries(c)
  let step = 5e-9
  for (let i = 0; i < inverse.length; i++)
    if (inverse[i]! > 0) step = Math.min(step, 0.8 * Math.sqrt(c.farad[i]! / inverse[i]!))
  const dt = Math.max(step, (untilUs * 1e-6) / 400_000)
  return { dt, steps: Math.ceil((untilUs * 1e-6) / dt) }
}

/**
 * The state of the ladder, stepped. Nodes have up to three branches; the few others (the driver, nodes of many feeders, bridges
 * and terminators) are set aside in every step.
 */
export class EdgeRun {
  /** What comes next; until shortly before the edge nothing happens. */
  step: number
  readonly bytes: Uint8Array
  readonly #workplace: Workplace
  readonly #circuit: RingCircuit
  readonly #dt: number
  readonly #branchEnd: number
  readonly #nodeEnd: number
  readonly #perFarad: Float64Array
  /** Nodes that are set aside: all their branches by place of their current, and what the nodes come to. */
  readonly #apart: { node: number; at: number; leak: number; branches: Int32Array; signs: Float64Array }[]
  readonly #apartVolt: Float64Array
  readonly #apartPeak: Float64Array
  readonly #reservoir: Float64Array
  readonly #rc: Float64Array
  readonly #bridges: { node: number; members: number[] }[] = []

  constructor(c: RingCircuit, dt: number, workplace = shared) {
    const n = c.farad.length
    const m = c.branches.length
    const inverse = reciprocalHenries(c)
    this.#workplace = workplace
    this.#circuit = c
    this.#dt = dt
    this.step = Math.max(0, Math.floor((EDGE_AT_US * 1e-6) / dt) - 2)
    // One branch more, which carries nothing: what an end has for a second and third one.
    this.#branchEnd = (m + 1) * BRANCH.size
    this.#nodeEnd = this.#branchEnd + n * NODE.size
    this.bytes = new Uint8Array(this.#nodeEnd)
    const image = new DataView(this.bytes.buffer)
    const float = (at: number, value: number) => image.setFloat64(at, value, true)
    const place = (at: number, value: number) => image.setInt32(at, value, true)
    const touching: { branch: number; sign: number }[][] = c.farad.map(() => [])
    c.branches.forEach((b, i) => {
      touching[b.from]!.push({ branch: i, sign: -1 })
      touching[b.to]!.push({ branch: i, sign: 1 })
      const at = i * BRANCH.size
      float(at + BRANCH.perHenry, dt / b.henry)
      float(at + BRANCH.skinOhm, b.skin?.ohm ?? 0)
      float(at + BRANCH.perSkinHenry, b.skin ? dt / b.skin.henry : 0)
      float(at + BRANCH.keep, 1 / (1 + (dt * b.ohm) / b.henry))
      place(at + BRANCH.from, this.#at(b.from))
      place(at + BRANCH.to, this.#at(b.to))
    })
    place(m * BRANCH.size + BRANCH.from, this.#at(0))
    place(m * BRANCH.size + BRANCH.to, this.#at(0))
    // Where shortest pieces would ask for shorter steps still, a picofarad more keeps the scheme stable.
    this.#perFarad = Float64Array.from(c.farad, (f, i) => dt / Math.max(f, inverse[i]! * (dt / 0.8) ** 2))
    const leak = (node: number) => 1 / (1 + this.#perFarad[node]! * c.siemens[node]!)
    for (let node = 0; node < n; node++) {
      const at = this.#at(node)
      // Nothing flows before the edge: everything is at −V.
      float(at + NODE.volt, -c.volt)
      float(at + NODE.perFarad, this.#perFarad[node]!)
      float(at + NODE.leak, leak(node))
      for (const k of [0, 1, 2] as const) {
        float(at + NODE.sign[k], touching[node]![k]?.sign ?? 0)
        place(at + NODE.branch[k], (touching[node]![k]?.branch ?? m) * BRANCH.size)
      }
    }
    this.#reservoir = Float64Array.from(c.decoders, () => Math.max(0, c.volt - BRIDGE.volt))
    this.#rc = Float64Array.from(c.terminators, () => -c.volt)
    const bridgeAt = new Map<number, number>()
    c.decoders.forEach((d, i) => {
      const at = bridgeAt.get(d.node) ?? this.#bridges.push({ node: d.node, members: [] }) - 1
      bridgeAt.set(d.node, at)
      this.#bridges[at]!.members.push(i)
    })
    const special = new Set([
      0,
      ...c.terminators.map((t) => t.node),
      ...this.#bridges.map((b) => b.node),
      ...touching.flatMap((list, node) => (list.length > 3 ? [node] : [])),
    ])
    this.#apart = [...special].map((node) => ({
      node,
      at: this.#at(node) >> 3,
      leak: leak(node),
      branches: Int32Array.from(touching[node]!, (x) => (x.branch * BRANCH.size) >> 3),
      signs: Float64Array.from(touching[node]!, (x) => x.sign),
    }))
    this.#apartVolt = new Float64Array(this.#apart.length)
    this.#apartPeak = new Float64Array(this.#apart.length)
  }

  /** Where a node is, in bytes. */
  #at(node: number): number {
    return this.#branchEnd + node * NODE.size
  }

  /** Voltage of a node now, V. */
  volt(node: number): number {
    this.#workplace.hold(this)
    return this.#workplace.floats[this.#at(node) >> 3]!
  }

  /** The highest voltage of every node so far, V; 0 where it was never positive. */
  peaks(): Float64Array {
    this.#workplace.hold(this)
    const { floats } = this.#workplace
    const all = Float64Array.from(
      this.#circuit.farad,
      (_, node) => floats[(this.#at(node) + NODE.peak) >> 3]!,
    )
    this.#apart.forEach(({ node }, k) => {
      all[node] = this.#apartPeak[k]!
    })
    return all
  }

  advanceTo(step: number): void {
    if (this.step >= step) return
    const workplace = this.#workplace
    workplace.hold(this)
    const v = workplace.floats
    const apart = this.#apart
    const apartVolt = this.#apartVolt
    const apartPeak = this.#apartPeak
    const count = apart.length
    for (; this.step < step; this.step++) {
      for (let k = 0; k < count; k++) apartVolt[k] = v[apart[k]!.at]!
      workplace.step(this.#branchEnd, this.#nodeEnd)
      for (let k = 0; k < count; k++) v[apart[k]!.at] = this.#apartNext(k, v)
      if (this.#bridges.length > 0) this.#settleBridges(v)
      if (this.#rc.length > 0) this.#settleTerminators(v)
      for (let k = 0; k < count; k++) {
        const x = v[apart[k]!.at]!
        if (x > apartPeak[k]!) apartPeak[k] = x
      }
    }
  }

  /** A node that is set aside, before bridges and terminators. */
  #apartNext(k: number, v: Float64Array): number {
    const { node, leak, branches, signs } = this.#apart[k]!
    const before = this.#apartVolt[k]!
    const perFarad = this.#perFarad[node]!
    let into = 0
    for (let b = 0; b < branches.length; b++) into += signs[b]! * v[branches[b]!]!
    if (node > 0) return (before + perFarad * into) * leak
    // The driver's node: stiff, so implicit.
    const c = this.#circuit
    const k0 = perFarad / c.sourceOhm
    return (before + perFarad * into + k0 * driverVolt(c, (this.step + 1) * this.#dt * 1e6)) / (1 + k0)
  }

  #settleBridges(v: Float64Array): void {
    const reservoir = this.#reservoir
    for (const { node, members } of this.#bridges) {
      // All bridges at a node at once, those of lowest reservoir first; one after the other they would never rest.
      if (members.length > 1) members.sort((a, b) => reservoir[a]! - reservoir[b]!)
      const at = this.#at(node) >> 3
      const size = Math.abs(v[at]!)
      const k = this.#perFarad[node]! / BRIDGE.ohm
      let settled = size
      let sum = 0
      for (let m = 0; m < members.length; m++) {
        const least = reservoir[members[m]!]! + BRIDGE.volt
        if (settled <= least) break
        sum += least
        settled = (size + k * sum) / (1 + k * (m + 1))
      }
      if (settled < size) v[at] = Math.sign(v[at]!) * settled
      for (const i of members) {
        const d = this.#circuit.decoders[i]!
        const amp = Math.max(0, settled - reservoir[i]! - BRIDGE.volt) / BRIDGE.ohm
        reservoir[i]! += (this.#dt / d.reservoirFarad) * (amp - d.amp)
      }
    }
  }

  #settleTerminators(v: Float64Array): void {
    const rc = this.#rc
    this.#circuit.terminators.forEach((t, i) => {
      const at = this.#at(t.node) >> 3
      // Implicit in the node, explicit in the capacitor, which is slow.
      const k = this.#perFarad[t.node]! / t.ohm
      v[at] = (v[at]! + k * rc[i]!) / (1 + k)
      rc[i]! += (this.#dt / (t.ohm * t.farad)) * (v[at]! - rc[i]!)
    })
  }
}

/** Ladders take turns in it. */
const shared = new Workplace()

/** The driver's voltage behind its resistance. */
export function driverVolt(c: RingCircuit, timeUs: number): number {
  const share = Math.min(1, Math.max(0, (timeUs - EDGE_AT_US) / c.edgeUs))
  return c.volt * (2 * share - 1)
}
