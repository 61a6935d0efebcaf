/**
 * What one fault does: an open feeder wire, a bad joiner, a swapped feeder. Each is a change of one to four edges of
 * the factored network (Sherman–Morrison–Woodbury), so none needs a new factorisation. Train currents are held at
 * what they are without the fault.
 */
import type { Circuit, LoadSolution } from './circuit.js'
import { JOINERS } from './conductor.data.js'
import { EDGE } from './network.js'
import type { Path, Plan } from './plan.js'
import { type EdgeChange, Update } from './sparse/update.js'

export interface Fault {
  kind: 'open feeder' | 'bad joiner' | 'swapped feeder'
  /** Feeder or joint, and which wire or rail. */
  name: string
  /** Lowest voltage at any place with the trains where they stand, V, and the place. */
  volt: number
  voltPlace: number
  /** What the fault takes from that place, V. */
  lostVolt: number
  /** Least short current as a share of the trip current, or A where there is no trip level, and its place. */
  short: number
  shortPlace: number
  /** Swapped feeder: current out of its district without any train, as a share of the trip current or in A. */
  idle: number | undefined
  path: Path
}

export interface Faults {
  list: Fault[]
  /** Joints and feeders not tried because there are too many. */
  skipped: number
}

/** Steps of arithmetic for all faults together; what is left out is counted. */
const BUDGET = 2e7
/** What is left of an opened wire, S: not quite nothing, so that a cut-off part still has a voltage: nought. */
const LEAK = 1e-6

export function tryFaults(plan: Plan, circuit: Circuit, solution: LoadSolution, contactOhm: number): Faults {
  const { net, rowOf } = circuit.layout
  const places = net.places
  const n = places.length
  const plus = Int32Array.from(places, (p) => rowOf[p.a]!)
  const minus = Int32Array.from(places, (p) => rowOf[p.b]!)
  const own = Float64Array.from(places, (p) => circuit.between(p.a, p.b))
  const at = (x: Float64Array, row: number) => (row < 0 ? 0 : x[row]!)
  const before = Float64Array.from(places, (_, i) => at(solution.x, plus[i]!) - at(solution.x, minus[i]!))
  const open = Float64Array.from(places, (_, i) => at(circuit.open, plus[i]!) - at(circuit.open, minus[i]!))
  const trip = Float64Array.from(places, (p) => net.sources[net.districtOfTrack[p.track]!]!.tripAmp ?? 1)
  const limit = Float64Array.from(
    places,
    (p) => net.sources[net.districtOfTrack[p.track]!]!.limitAmp ?? Number.POSITIVE_INFINITY,
  )

  const scratch: Float64Array[] = []
  const judge = (kind: Fault['kind'], name: string, path: Path, changes: EdgeChange[]): Fault | undefined => {
    let update: Update
    try {
      update = new Update(circuit.factor, changes, scratch)
    } catch {
      return undefined
    }
    const weights = update.weights(solution.x)
    const idleWeights = kind === 'swapped feeder' ? update.weights(circuit.open) : undefined
    const seen = new Float64Array(update.rank)
    const less = (w: Float64Array) => {
      let sum = 0
      for (let i = 0; i < w.length; i++) sum += w[i]! * seen[i]!
      return sum
    }
    let volt = Number.POSITIVE_INFINITY
    let voltPlace = 0
    let short = Number.POSITIVE_INFINITY
    let shortPlace = 0
    for (let p = 0; p < n; p++) {
      update.seen(plus[p]!, minus[p]!, seen)
      const v = Math.abs(before[p]! - less(weights))
      if (v < volt) {
        volt = v
        voltPlace = p
      }
      const ohm = update.between(seen, own[p]!)
      const free = Math.abs(open[p]! - (idleWeights ? less(idleWeights) : 0))
      const share = Math.min(free / (ohm + contactOhm + 1e-9), limit[p]!) / trip[p]!
      if (share < short) {
        short = share
        shortPlace = p
      }
    }
    let idle: number | undefined
    if (idleWeights) {
      idle = 0
      net.terminals.forEach((t, d) => {
        update.seen(rowOf[t.a]!, rowOf[t.b]!, seen)
        const source = net.sources[d]!
        const lost = circuit.openVolt(d) - circuit.across(circuit.open, t.a, t.b) + less(idleWeights)
        const amp = Math.min(lost / source.sourceOhm, source.limitAmp ?? Number.POSITIVE_INFINITY)
        idle = Math.max(idle!, amp / (source.tripAmp ?? 1))
      })
    }
    const lostVolt = Math.abs(before[voltPlace]!) - volt
    return { kind, name, volt, voltPlace, lostVolt, short, shortPlace, idle, path }
  }

  const bad = JOINERS.bad.ohm.high
  const list: Fault[] = []
  let skipped = 0
  const edgesOf = new Map<number, number[]>()
  for (const [e, chosen] of candidates(circuit, solution, BUDGET / (n + circuit.layout.rows))) {
    const kind = net.kind[e]!
    if (kind === EDGE.feeder) {
      const pair = edgesOf.get(net.owner[e]!)
      if (pair) pair.push(e)
      else edgesOf.set(net.owner[e]!, [e])
    }
    if (!chosen) {
      skipped++
      continue
    }
    const [from, to] = [rowOf[net.from[e]!]!, rowOf[net.to[e]!]!]
    const g = circuit.siemens[e]!
    if (kind === EDGE.feeder) {
      const feeder = plan.feeders[net.owner[e]!]!
      const wire = edgesOf.get(net.owner[e]!)![0] === e ? 'wire A' : 'wire B'
      const one = judge('open feeder', `${feeder.name}, ${wire}`, feeder.path, [
        { from, to, deltaSiemens: -g * (1 - LEAK / Math.max(g, LEAK)) },
      ])
      if (one) list.push(one)
    } else {
      const joint = plan.joints[net.owner[e]!]!
      if (1 / g >= bad) continue
      const one = judge('bad joiner', `${joint.name}, ${railWord(e, net)}`, joint.path, [
        { from, to, deltaSiemens: 1 / bad - g },
      ])
      if (one) list.push(one)
    }
  }
  let swaps = 0
  for (const [f, pair] of edgesOf) {
    if (4 * swaps++ > BUDGET / (n + circuit.layout.rows)) {
      skipped++
      continue
    }
    const [ea, eb] = [pair[0]!, pair[1]!]
    const feeder = plan.feeders[f]!
    const row = (node: number) => rowOf[node]!
    const [ga, gb] = [circuit.siemens[ea]!, circuit.siemens[eb]!]
    const [busA, railA, busB, railB] = [net.from[ea]!, net.to[ea]!, net.from[eb]!, net.to[eb]!].map(row) as [
      number,
      number,
      number,
      number,
    ]
    const one = judge('swapped feeder', feeder.name, feeder.path, [
      { from: busA, to: railA, deltaSiemens: -ga * (1 - LEAK / ga) },
      { from: busB, to: railB, deltaSiemens: -gb * (1 - LEAK / gb) },
      { from: busA, to: railB, deltaSiemens: ga },
      { from: busB, to: railA, deltaSiemens: gb },
    ])
    if (one) list.push(one)
  }
  return { list, skipped }
}

/** Every wire of a feeder and rail of a joint; chosen are the first `most` by the current they carry. */
function candidates(circuit: Circuit, solution: LoadSolution, most: number): [number, boolean][] {
  const { net } = circuit.layout
  const edges: number[] = []
  for (let e = 0; e < net.from.length; e++)
    if (net.kind[e] === EDGE.feeder || net.kind[e] === EDGE.joiner) edges.push(e)
  if (edges.length <= most) return edges.map((e) => [e, true])
  const amp = (e: number) =>
    Math.abs(circuit.across(solution.x, net.from[e]!, net.to[e]!)) * circuit.siemens[e]!
  const chosen = new Set([...edges].sort((a, b) => amp(b) - amp(a)).slice(0, Math.floor(most)))
  return edges.map((e) => [e, chosen.has(e)])
}

/** The two rails of a joint come one after the other. */
function railWord(edge: number, net: { kind: Uint8Array; owner: Int32Array }): string {
  const second = edge > 0 && net.kind[edge - 1] === EDGE.joiner && net.owner[edge - 1] === net.owner[edge]
  return second ? 'right rail' : 'left rail'
}
