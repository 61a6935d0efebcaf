/**
 * What one fault does: an open feeder wire, a bad joiner, a swapped feeder. Each is a change of one to four edges of
 * the factored network (Sherman–Morrison–Woodbury), so none needs a new factorisation. The loads are solved again with each
 * fault; where no steady state is found there is no figure.
 */

import { JOINERS } from '../conductors/conductor.data.js'
import type { Joint, Path, TrackLayout } from '../layout/layout.js'
import { type Circuit, drawn, type ElectricalLoad, type LoadSolution } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { CUT_OFF_OHM, EDGE } from '../network/network.js'
import { type EdgeChange, Update } from '../network/sparse/update.js'
import { type Progressive, runToEnd } from '../progress.js'
import { loadsOf } from '../voltage/voltage.js'
import { type FaultKind, faultId } from './fault-id.js'

export interface Fault {
  /** For `reportFault`. */
  id: string
  kind: FaultKind
  /** Feeder or joint, and which wire or rail. */
  name: string
  /** No feed: a part of the rails is cut off from its source. No solution: the loads find no steady state with it. */
  state: 'solved' | 'no feed' | 'no solution'
  /** Lowest voltage at any place with the trains where they stand, V, and the place; undefined unless solved. */
  volt: number | undefined
  voltPlace: number
  /** What the fault takes from that place, V. */
  lostVolt: number | undefined
  /** Least short current as a share of the trip current, or A where there is no trip level, and its place; undefined without feed. */
  short: number | undefined
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
/** What is left of an opened wire, S: not quite nothing, so that the network stays solvable. */
const LEAK = 1e-6
/** What a swapped feeder leaves of its old way, as a share: negligible beside the new one. */
const LEFT = 1e-7

export function tryFaults(
  plan: TrackLayout,
  circuit: Circuit,
  solution: LoadSolution,
  contactOhm: number,
): Faults {
  return runToEnd(faultSteps(plan, circuit, solution, contactOhm))
}

/** {@link tryFaults} in steps. */
export function* faultSteps(
  plan: TrackLayout,
  circuit: Circuit,
  solution: LoadSolution,
  contactOhm: number,
): Progressive<Faults> {
  const { net, rowOf } = circuit.layout
  const places = net.places
  const n = places.length
  const plus = Int32Array.from(places, (p) => rowOf[p.a]!)
  const minus = Int32Array.from(places, (p) => rowOf[p.b]!)
  const own = circuit.placeOhm
  const at = (x: Float64Array, row: number) => (row < 0 ? 0 : x[row]!)
  const before = Float64Array.from(places, (_, i) => at(solution.x, plus[i]!) - at(solution.x, minus[i]!))
  const open = Float64Array.from(places, (_, i) => at(circuit.open, plus[i]!) - at(circuit.open, minus[i]!))
  const trip = Float64Array.from(places, (p) => net.sources[net.districtOfTrack[p.track]!]!.tripAmp ?? 1)
  const limit = Float64Array.from(
    places,
    (p) => net.sources[net.districtOfTrack[p.track]!]!.limitAmp ?? Number.POSITIVE_INFINITY,
  )

  const loads = loadsOf(plan, net).filter((l) => l.amp > 0)
  const columns = loads.map((l) => circuit.unit(l.a, l.b))
  const loadOhm = loads.map((l) => Float64Array.from(columns, (u) => circuit.across(u, l.a, l.b)))
  const loadOpen = loads.map((l) => circuit.across(circuit.open, l.a, l.b))
  // Nothing can lift a place above what all sources in series would give.
  const mostVolt = net.districts.reduce((sum, _, d) => sum + circuit.openVolt(d), 0) * (1 + 1e-6)
  const injected = new Float64Array(circuit.layout.rows)
  const solved = new Float64Array(circuit.layout.rows)

  /** Voltages by row of the unchanged network with the currents that the loads draw in the changed one. */
  const withFault = (update: Update): Float64Array | undefined => {
    const seen = loads.map((l) => update.seen(rowOf[l.a]!, rowOf[l.b]!, new Float64Array(update.rank)))
    const openWeights = update.weights(circuit.open)
    const open = loads.map((_, i) => loadOpen[i]! - dot(openWeights, seen[i]!))
    const ohm = loads.map((_, i) => {
      const line = update.apply(seen[i]!)
      return Float64Array.from(loads, (_, j) => loadOhm[i]![j]! - dot(line, seen[j]!))
    })
    const amp = settle(loads, loadOpen, open, ohm)
    if (!amp) return undefined
    injected.fill(0)
    loads.forEach((l, i) => {
      const [p, q] = [rowOf[l.a]!, rowOf[l.b]!]
      if (p >= 0) injected[p]! -= amp[i]!
      if (q >= 0) injected[q]! += amp[i]!
    })
    circuit.factor.solve(injected, solved)
    for (let k = 0; k < solved.length; k++) solved[k]! += circuit.open[k]!
    return solved
  }

  const scratch: Float64Array[] = []
  const judge = (
    kind: Fault['kind'],
    id: string,
    name: string,
    path: Path,
    changes: EdgeChange[],
  ): Fault | undefined => {
    let update: Update
    try {
      update = new Update(circuit.factor, changes, scratch)
    } catch {
      return undefined
    }
    const x = withFault(update)
    const weights = x && update.weights(x)
    const idleWeights = kind === 'swapped feeder' ? update.weights(circuit.open) : undefined
    const seen = new Float64Array(update.rank)
    const less = (w: Float64Array) => dot(w, seen)
    let volt = Number.POSITIVE_INFINITY
    let voltPlace = 0
    let short = Number.POSITIVE_INFINITY
    let shortPlace = 0
    let cutOff = -1
    let most = 0
    for (let p = 0; p < n; p++) {
      update.seen(plus[p]!, minus[p]!, seen)
      const ohm = update.between(seen, own[p]!)
      if (!(Math.abs(ohm) < CUT_OFF_OHM)) {
        if (cutOff < 0) cutOff = p
        continue
      }
      if (x && weights) {
        const v = Math.abs(at(x, plus[p]!) - at(x, minus[p]!) - less(weights))
        most = Math.max(most, v)
        if (isLower(p, v, volt === Number.POSITIVE_INFINITY ? -1 : voltPlace, volt)) {
          volt = v
          voltPlace = p
        }
      }
      const free = Math.abs(open[p]! - (idleWeights ? less(idleWeights) : 0))
      const share = Math.min(free / (ohm + contactOhm + 1e-9), limit[p]!) / trip[p]!
      if (isLower(p, share, short === Number.POSITIVE_INFINITY ? -1 : shortPlace, short)) {
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
    const none = { volt: undefined, lostVolt: undefined }
    if (cutOff >= 0) {
      const cut = { voltPlace: cutOff, short: undefined, shortPlace: cutOff }
      return { id, kind, name, state: 'no feed', ...none, ...cut, idle, path }
    }
    const figures = { id, kind, name, voltPlace, short, shortPlace, idle, path }
    if (!x || !(most <= mostVolt)) return { ...figures, state: 'no solution', ...none }
    return { ...figures, state: 'solved', volt, lostVolt: Math.abs(before[voltPlace]!) - volt }
  }

  const bad = JOINERS.bad.ohm.high
  const list: Fault[] = []
  let skipped = 0
  const edgesOf = new Map<number, number[]>()
  // Every fault costs a solution, and some rounds over all pairs of loads.
  const affordable = BUDGET / (n + circuit.layout.rows + 4 * loads.length ** 2)
  const all = candidates(circuit, solution, affordable)
  for (const [n, [e, chosen]] of all.entries()) {
    if (n % 16 === 15) yield { what: 'one fault each', share: n / all.length }
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
      const wire = edgesOf.get(net.owner[e]!)![0] === e ? 'A' : 'B'
      const id = faultId('open feeder', feeder.name, wire)
      const one = judge('open feeder', id, `${feeder.name}, wire ${wire}`, feeder.path, [
        { from, to, deltaSiemens: -g * (1 - LEAK / Math.max(g, LEAK)) },
      ])
      if (one) list.push(one)
    } else {
      const joint = plan.joints[net.owner[e]!]!
      if (1 / g >= bad) continue
      const rail = railOf(e, joint, net)
      const id = faultId('bad joiner', joint.name, rail)
      const one = judge('bad joiner', id, `${joint.name}, ${rail} rail`, joint.path, [
        { from, to, deltaSiemens: 1 / bad - g },
      ])
      if (one) list.push(one)
    }
  }
  let swaps = 0
  for (const [f, pair] of edgesOf) {
    yield { what: 'one feeder swapped each', share: swaps / edgesOf.size }
    if (4 * swaps++ > affordable) {
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
    const one = judge('swapped feeder', faultId('swapped feeder', feeder.name), feeder.name, feeder.path, [
      { from: busA, to: railA, deltaSiemens: -ga * (1 - LEFT) },
      { from: busB, to: railB, deltaSiemens: -gb * (1 - LEFT) },
      { from: busA, to: railB, deltaSiemens: ga },
      { from: busB, to: railA, deltaSiemens: gb },
    ])
    if (one) list.push(one)
  }
  return { list, skipped }
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

/**
 * Load currents by repeated substitution from no load: v = open − R·i(v). It comes down to the solution of highest
 * voltage; where it swings or creeps, half steps are tried.
 * @returns `undefined` when it does not settle.
 */
function settle(
  loads: readonly ElectricalLoad[],
  reference: readonly number[],
  open: readonly number[],
  ohm: readonly Float64Array[],
): Float64Array | undefined {
  const scale = Math.max(1e-9, ...open.map(Math.abs))
  const amp = new Float64Array(loads.length)
  for (const share of [1, 0.5, 0.1, 0.02]) {
    const volt = Float64Array.from(open)
    for (let round = 0; round < 40 / share; round++) {
      for (let i = 0; i < loads.length; i++) amp[i] = drawn(loads[i]!, volt[i]!, reference[i]!)[0]
      let off = 0
      for (let i = 0; i < loads.length; i++) {
        // A cut-off load floats: it has no voltage and draws nothing.
        const step = ohm[i]![i]! > CUT_OFF_OHM ? -volt[i]! : open[i]! - dot(ohm[i]!, amp) - volt[i]!
        off = Math.max(off, Math.abs(step))
        volt[i]! += ohm[i]![i]! > CUT_OFF_OHM ? step : share * step
      }
      if (off <= 1e-9 * scale) return amp
      if (!Number.isFinite(off)) break
    }
  }
  return undefined
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

/** The two rails of a joint come one after the other; where one is cut there is the other only. */
function railOf(edge: number, joint: Joint, net: { kind: Uint8Array; owner: Int32Array }): 'left' | 'right' {
  if (joint.gapL) return 'right'
  return edge > 0 && net.kind[edge - 1] === EDGE.joiner && net.owner[edge - 1] === net.owner[edge]
    ? 'right'
    : 'left'
}
