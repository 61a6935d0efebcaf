/**
 * One edge through the ladder, in small steps: coils and capacitors take turns (leapfrog, the scheme of finite
 * differences in time), bridges are solved with their node. Quick enough to search by; SPICE confirms what is kept.
 */
import type { RingCircuit } from './circuit.js'

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
  const { dt, steps } = stepsOf(c, untilUs)
  const every = Math.max(1, Math.floor(steps / 4000))
  const kept = Math.floor(steps / every) + 1
  const volt = new Map(nodes.map((k) => [k, new Float64Array(kept).fill(-c.volt)]))
  const timeUs = Float64Array.from({ length: kept }, (_, k) => k * every * dt * 1e6)
  runEdge(c, untilUs, (s, v) => {
    if (s % every !== 0) return
    for (const [node, list] of volt) list[s / every] = v[node]!
  })
  return { timeUs, volt }
}

/** The highest voltage of every node until then, V. */
export function peaksOfEdge(c: RingCircuit, untilUs: number): Float64Array {
  const peaks = new Float64Array(c.farad.length)
  runEdge(c, untilUs, (_, v) => {
    for (let i = 0; i < peaks.length; i++) if (v[i]! > peaks[i]!) peaks[i] = v[i]!
  })
  return peaks
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
function stepsOf(c: RingCircuit, untilUs: number): { dt: number; steps: number } {
  const inverse = reciprocalHenries(c)
  let step = 5e-9
  for (let i = 0; i < inverse.length; i++)
    if (inverse[i]! > 0) step = Math.min(step, 0.8 * Math.sqrt(c.farad[i]! / inverse[i]!))
  const dt = Math.max(step, (untilUs * 1e-6) / 400_000)
  return { dt, steps: Math.ceil((untilUs * 1e-6) / dt) }
}

function runEdge(c: RingCircuit, untilUs: number, visit: (step: number, v: Float64Array) => void): void {
  const { dt, steps } = stepsOf(c, untilUs)
  const n = c.farad.length
  const inverse = reciprocalHenries(c)
  // Nothing flows before the edge: everything is at −V.
  const v = new Float64Array(n).fill(-c.volt)
  const current = new Float64Array(c.branches.length)
  const skin = new Float64Array(c.branches.length)
  const reservoir = Float64Array.from(c.decoders, () => Math.max(0, c.volt - BRIDGE.volt))
  const rc = Float64Array.from(c.terminators, (t) => v[t.node]!)
  const into = new Float64Array(n)
  const from = Int32Array.from(c.branches, (b) => b.from)
  const to = Int32Array.from(c.branches, (b) => b.to)
  const perHenry = Float64Array.from(c.branches, (b) => dt / b.henry)
  const skinOhm = Float64Array.from(c.branches, (b) => b.skin?.ohm ?? 0)
  const perSkinHenry = Float64Array.from(c.branches, (b) => (b.skin ? dt / b.skin.henry : 0))
  const keep = Float64Array.from(c.branches, (b) => 1 / (1 + (dt * b.ohm) / b.henry))
  // Where shortest pieces would ask for shorter steps still, a picofarad more keeps the scheme stable.
  const perFarad = Float64Array.from(c.farad, (f, i) => dt / Math.max(f, inverse[i]! * (dt / 0.8) ** 2))
  const leak = Float64Array.from(c.siemens, (g, i) => 1 / (1 + perFarad[i]! * g))
  const bridgeAt = new Int32Array(n).fill(-1)
  const bridges: { node: number; members: number[] }[] = []
  c.decoders.forEach((d, i) => {
    if (bridgeAt[d.node]! < 0) bridgeAt[d.node] = bridges.push({ node: d.node, members: [] }) - 1
    bridges[bridgeAt[d.node]!]!.members.push(i)
  })
  const k0 = perFarad[0]! / c.sourceOhm
  const begin = Math.max(0, Math.floor((EDGE_AT_US * 1e-6) / dt) - 2)
  for (let s = begin; s <= steps; s++) {
    visit(s, v)
    for (let b = 0; b < current.length; b++) {
      const lost = skinOhm[b]! * (current[b]! - skin[b]!)
      skin[b]! += perSkinHenry[b]! * lost
      current[b] = (current[b]! + perHenry[b]! * (v[from[b]!]! - v[to[b]!]! - lost)) * keep[b]!
    }
    into.fill(0)
    for (let b = 0; b < current.length; b++) {
      into[from[b]!]! -= current[b]!
      into[to[b]!]! += current[b]!
    }
    for (let i = 1; i < n; i++) v[i] = (v[i]! + perFarad[i]! * into[i]!) * leak[i]!
    // The driver's node: stiff, so implicit.
    v[0] = (v[0]! + perFarad[0]! * into[0]! + k0 * driverVolt(c, (s + 1) * dt * 1e6)) / (1 + k0)
    for (const { node, members } of bridges) {
      // All bridges at a node at once, those of lowest reservoir first; one after the other they would never rest.
      if (members.length > 1) members.sort((a, b) => reservoir[a]! - reservoir[b]!)
      const size = Math.abs(v[node]!)
      const k = perFarad[node]! / BRIDGE.ohm
      let settled = size
      let sum = 0
      for (let m = 0; m < members.length; m++) {
        const least = reservoir[members[m]!]! + BRIDGE.volt
        if (settled <= least) break
        sum += least
        settled = (size + k * sum) / (1 + k * (m + 1))
      }
      if (settled < size) v[node] = Math.sign(v[node]!) * settled
      for (const i of members) {
        const d = c.decoders[i]!
        const amp = Math.max(0, settled - reservoir[i]! - BRIDGE.volt) / BRIDGE.ohm
        reservoir[i]! += (dt / d.reservoirFarad) * (amp - d.amp)
      }
    }
    c.terminators.forEach((t, i) => {
      // Implicit in the node, explicit in the capacitor, which is slow.
      const k = perFarad[t.node]! / t.ohm
      v[t.node] = (v[t.node]! + k * rc[i]!) / (1 + k)
      rc[i]! += (dt / (t.ohm * t.farad)) * (v[t.node]! - rc[i]!)
    })
  }
}

/** The driver's voltage behind its resistance. */
export function driverVolt(c: RingCircuit, timeUs: number): number {
  const share = Math.min(1, Math.max(0, (timeUs - EDGE_AT_US) / c.edgeUs))
  return c.volt * (2 * share - 1)
}
