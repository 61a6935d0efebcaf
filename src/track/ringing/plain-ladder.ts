/**
 * A ladder stepped by plain arithmetic, straight from the circuit: coils and capacitors take turns (leapfrog, the scheme of finite
 * differences in time), bridges are solved with their node. It serves where there is no WebAssembly and where several bridges share a
 * node, and is the referee of {@link CompiledLadder}, which does the same in another order of memory, to the last bit.
 */
import type { RingCircuit } from './circuit.js'

/** Forward drop of two bridge diodes and their resistance; common practice, no source. */
export const BRIDGE = { volt: 1.6, ohm: 0.5 } as const
/** When the edge begins in a run, us. */
export const EDGE_AT_US = 1

/** The state of a ladder between two steps. */
export interface Ladder {
  /** What comes next; until shortly before the edge nothing happens. */
  readonly step: number
  advanceTo(step: number): void
  /** Voltage of a node now, V. */
  volt(node: number): number
  /** The highest voltage of every node so far, V; 0 where it was never positive. */
  peaks(): Float64Array
}

/** The driver's voltage behind its resistance. */
export function driverVolt(c: Pick<RingCircuit, 'edgeUs' | 'volt'>, timeUs: number): number {
  const share = Math.min(1, Math.max(0, (timeUs - EDGE_AT_US) / c.edgeUs))
  return c.volt * (2 * share - 1)
}

export function firstStep(dt: number): number {
  return Math.max(0, Math.floor((EDGE_AT_US * 1e-6) / dt) - 2)
}

/** By node, 1/H: of all branches that end there. */
export function reciprocalHenries(c: RingCircuit): Float64Array {
  const inverse = new Float64Array(c.farad.length)
  for (const b of c.branches) {
    inverse[b.from]! += 1 / b.henry
    inverse[b.to]! += 1 / b.henry
  }
  return inverse
}

/** The factors of a ladder stepped by `dt` seconds. */
export function factorsOf(c: RingCircuit, dt: number) {
  const inverse = reciprocalHenries(c)
  // Where shortest pieces would ask for shorter steps still, a picofarad more keeps the scheme stable.
  const perFarad = Float64Array.from(c.farad, (f, i) => dt / Math.max(f, inverse[i]! * (dt / 0.8) ** 2))
  return {
    perFarad,
    leak: Float64Array.from(perFarad, (x, node) => 1 / (1 + x * c.siemens[node]!)),
    perHenry: Float64Array.from(c.branches, (b) => dt / b.henry),
    keep: Float64Array.from(c.branches, (b) => 1 / (1 + (dt * b.ohm) / b.henry)),
    skinOhm: Float64Array.from(c.branches, (b) => b.skin?.ohm ?? 0),
    perSkinHenry: Float64Array.from(c.branches, (b) => (b.skin ? dt / b.skin.henry : 0)),
  }
}

/** By node: its branches in their order, with 1 where the current flows in, −1 where out. */
export function touching(c: RingCircuit): { branch: number; sign: 1 | -1 }[][] {
  const lists: { branch: number; sign: 1 | -1 }[][] = c.farad.map(() => [])
  c.branches.forEach((b, branch) => {
    lists[b.from]!.push({ branch, sign: -1 })
    lists[b.to]!.push({ branch, sign: 1 })
  })
  return lists
}

export class PlainLadder implements Ladder {
  step: number
  readonly #circuit: RingCircuit
  readonly #dt: number
  readonly #factors: ReturnType<typeof factorsOf>
  readonly #touching: ReturnType<typeof touching>
  readonly #volt: Float64Array
  readonly #peak: Float64Array
  readonly #current: Float64Array
  readonly #skin: Float64Array
  readonly #reservoir: Float64Array
  readonly #rc: Float64Array
  readonly #bridges: { node: number; members: number[] }[] = []

  constructor(c: RingCircuit, dt: number) {
    this.#circuit = c
    this.#dt = dt
    this.step = firstStep(dt)
    this.#factors = factorsOf(c, dt)
    this.#touching = touching(c)
    // Nothing flows before the edge: everything is at −V.
    this.#volt = new Float64Array(c.farad.length).fill(-c.volt)
    this.#peak = new Float64Array(c.farad.length)
    this.#current = new Float64Array(c.branches.length)
    this.#skin = new Float64Array(c.branches.length)
    this.#reservoir = Float64Array.from(c.decoders, () => Math.max(0, c.volt - BRIDGE.volt))
    this.#rc = Float64Array.from(c.terminators, () => -c.volt)
    const bridgeAt = new Map<number, number>()
    c.decoders.forEach((d, i) => {
      const at = bridgeAt.get(d.node) ?? this.#bridges.push({ node: d.node, members: [] }) - 1
      bridgeAt.set(d.node, at)
      this.#bridges[at]!.members.push(i)
    })
  }

  volt(node: number): number {
    return this.#volt[node]!
  }

  peaks(): Float64Array {
    return this.#peak.slice()
  }

  advanceTo(step: number): void {
    for (; this.step < step; this.step++) {
      this.#stepBranches()
      this.#stepNodes()
      this.#settleBridges()
      this.#settleTerminators()
      for (let node = 0; node < this.#volt.length; node++)
        if (this.#volt[node]! > this.#peak[node]!) this.#peak[node] = this.#volt[node]!
    }
  }

  #stepBranches(): void {
    const { perHenry, keep, skinOhm, perSkinHenry } = this.#factors
    this.#circuit.branches.forEach(({ from, to }, i) => {
      const lost = skinOhm[i]! * (this.#current[i]! - this.#skin[i]!)
      this.#skin[i]! += perSkinHenry[i]! * lost
      const across = this.#volt[from]! - this.#volt[to]! - lost
      this.#current[i] = (this.#current[i]! + perHenry[i]! * across) * keep[i]!
    })
  }

  #stepNodes(): void {
    const { perFarad, leak } = this.#factors
    for (let node = 0; node < this.#volt.length; node++) {
      let into = 0
      for (const { branch, sign } of this.#touching[node]!) into += sign * this.#current[branch]!
      const free = this.#volt[node]! + perFarad[node]! * into
      if (node > 0) {
        this.#volt[node] = free * leak[node]!
        continue
      }
      // The driver's node: stiff, so implicit.
      const k = perFarad[node]! / this.#circuit.sourceOhm
      const driver = driverVolt(this.#circuit, (this.step + 1) * this.#dt * 1e6)
      this.#volt[node] = (free + k * driver) / (1 + k)
    }
  }

  #settleBridges(): void {
    const reservoir = this.#reservoir
    for (const { node, members } of this.#bridges) {
      // All bridges at a node at once, those of lowest reservoir first; one after the other they would never rest.
      if (members.length > 1) members.sort((a, b) => reservoir[a]! - reservoir[b]!)
      const volt = this.#volt[node]!
      const size = Math.abs(volt)
      const k = this.#factors.perFarad[node]! / BRIDGE.ohm
      let settled = size
      let sum = 0
      for (let m = 0; m < members.length; m++) {
        const least = reservoir[members[m]!]! + BRIDGE.volt
        if (settled <= least) break
        sum += least
        settled = (size + k * sum) / (1 + k * (m + 1))
      }
      if (settled < size) this.#volt[node] = Math.sign(volt) * settled
      for (const i of members) {
        const d = this.#circuit.decoders[i]!
        const amp = Math.max(0, settled - reservoir[i]! - BRIDGE.volt) / BRIDGE.ohm
        reservoir[i]! += (this.#dt / d.reservoirFarad) * (amp - d.amp)
      }
    }
  }

  #settleTerminators(): void {
    const rc = this.#rc
    this.#circuit.terminators.forEach((t, i) => {
      // Implicit in the node, explicit in the capacitor, which is slow.
      const k = this.#factors.perFarad[t.node]! / t.ohm
      this.#volt[t.node] = (this.#volt[t.node]! + k * rc[i]!) / (1 + k)
      rc[i]! += (this.#dt / (t.ohm * t.farad)) * (this.#volt[t.node]! - rc[i]!)
    })
  }
}
