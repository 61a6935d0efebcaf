/**
 * What one fault does: an open feeder wire, a bad joiner, a swapped feeder. Each is a change of one to four edges of
 * the factored network (Sherman–Morrison–Woodbury), so none needs a new factorisation. The loads are solved again with each
 * fault; where no steady state is found there is no figure.
 */

import { Remembered } from '../../units/index.js'
import { JOINERS } from '../conductors/conductor.data.js'
import type { Joint, Path, TrackLayout } from '../layout/layout.js'
import type { Circuit, LoadSolution } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { EDGE } from '../network/network.js'
import { numbersOf, partsOf } from '../network/parts.js'
import type { EdgeChange } from '../network/sparse/update.js'
import { type Progressive, runToEnd } from '../progress.js'
import { loadsOf } from '../voltage/voltage.js'
import { type FaultKind, faultId } from './fault-id.js'
import { type Extremes, type FaultChange, PartFaults, type Tried } from './part-faults.js'

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

/** A fault before it is tried. */
interface Candidate extends Pick<Fault, 'id' | 'kind' | 'name' | 'path'> {
  edge: number
  changes: EdgeChange[]
}

/** Parts of networks whose faults were tried last. */
const lastTried = new Remembered<{ sound: Extremes; faults: (Tried | undefined)[] }>(24)

/**
 * {@link tryFaults} in steps. A fault changes the part of the network that it is in, and no other: each part's faults are tried
 * within it, and what is worst elsewhere stays as it is.
 */
export function* faultSteps(
  plan: TrackLayout,
  circuit: Circuit,
  solution: LoadSolution,
  contactOhm: number,
): Progressive<Faults> {
  const { layout } = circuit
  const { net } = layout
  const { places } = net
  const loads = loadsOf(plan, net).filter((l) => l.amp > 0)
  // Every fault costs a solution, and some rounds over all pairs of loads.
  const affordable = BUDGET / (places.length + layout.rows + 4 * loads.length ** 2)
  const { list: candidates, skipped } = candidatesOf(plan, circuit, solution, affordable)
  const parts = partsOf(layout)
  const partOf = new Map(
    parts.flatMap((part, i) => part.districts.map((d) => [layout.partOf[net.terminals[d]!.a]!, i])),
  )
  const inPart = (node: number) => partOf.get(layout.partOf[node]!)!
  const own = parts.map((): Candidate[] => [])
  for (const c of candidates) own[inPart(net.from[c.edge]!)]!.push(c)

  const tried: { sound: Extremes; faults: (Tried | undefined)[] }[] = []
  let share = 0
  for (const [i, part] of parts.entries()) {
    const here = new PartFaults(
      circuit,
      part,
      loads.filter((l) => inPart(l.a) === i),
      contactOhm,
    )
    const changes = own[i]!.map(
      ({ kind, changes }): FaultChange => ({ changes, swapped: kind === 'swapped feeder' }),
    )
    const numbers = numbersOf(circuit, part)
    const on = numbers && { text: here.text, numbers: here.dependence(numbers, changes) }
    let found = on && lastTried.find(on)
    if (!found) {
      const faults: (Tried | undefined)[] = []
      for (const change of changes) {
        if (share++ % 16 === 15) yield { what: 'one fault each', share: share / candidates.length }
        faults.push(here.withFault(change))
      }
      found = { sound: here.sound, faults }
      if (on) lastTried.keep(on, found)
    } else share += changes.length
    tried.push(found)
  }

  const before = (place: number) => Math.abs(circuit.across(solution.x, places[place]!.a, places[place]!.b))
  const results = new Map<Candidate, Fault>()
  for (const i of parts.keys()) {
    /** Extremes with places counted through the whole network. */
    const everywhere = (part: number, e: Extremes): Extremes => {
      const of = parts[part]!.places
      const at = (p: number) => (p < 0 ? -1 : of[p]!)
      return { ...e, voltPlace: at(e.voltPlace), shortPlace: at(e.shortPlace), cutOff: at(e.cutOff) }
    }
    const elsewhere = parts.reduce<Extremes | undefined>((worst, _, other) => {
      if (other === i) return worst
      const sound = everywhere(other, tried[other]!.sound)
      return worst ? worseOf(worst, sound) : sound
    }, undefined)
    own[i]!.forEach((c, n) => {
      const inside = tried[i]!.faults[n]
      if (!inside) return
      const here = everywhere(i, inside)
      const worst = elsewhere ? worseOf(elsewhere, here) : here
      results.set(c, faultOf(c, worst, inside.idle, before))
    })
  }
  return { list: candidates.flatMap((c) => results.get(c) ?? []), skipped }
}

/** The worse of two parts' extremes. */
function worseOf(a: Extremes, b: Extremes): Extremes {
  const volt = b.voltPlace >= 0 && isLower(b.voltPlace, b.volt, a.voltPlace, a.volt) ? b : a
  const short = b.shortPlace >= 0 && isLower(b.shortPlace, b.short, a.shortPlace, a.short) ? b : a
  return {
    solved: a.solved && b.solved,
    volt: volt.volt,
    voltPlace: volt.voltPlace,
    short: short.short,
    shortPlace: short.shortPlace,
    cutOff: a.cutOff < 0 || b.cutOff < 0 ? Math.max(a.cutOff, b.cutOff) : Math.min(a.cutOff, b.cutOff),
  }
}

function faultOf(
  { id, kind, name, path }: Candidate,
  worst: Extremes,
  idle: number | undefined,
  before: (place: number) => number,
): Fault {
  const { cutOff, solved, volt } = worst
  const fed = cutOff < 0
  const voltPlace = fed ? Math.max(0, worst.voltPlace) : cutOff
  return {
    id,
    kind,
    name,
    state: !fed ? 'no feed' : solved ? 'solved' : 'no solution',
    volt: fed && solved ? volt : undefined,
    voltPlace,
    lostVolt: fed && solved ? before(voltPlace) - volt : undefined,
    short: fed ? worst.short : undefined,
    shortPlace: fed ? Math.max(0, worst.shortPlace) : cutOff,
    idle,
    path,
  }
}

/** Faults of feeders and joints in the network's order, then swapped feeders; how many are left out as too many. */
function candidatesOf(
  plan: TrackLayout,
  circuit: Circuit,
  solution: LoadSolution,
  affordable: number,
): { list: Candidate[]; skipped: number } {
  const { net, rowOf } = circuit.layout
  const bad = JOINERS.bad.ohm.high
  const list: Candidate[] = []
  let skipped = 0
  const edgesOf = new Map<number, number[]>()
  for (const [edge, chosen] of chosenEdges(circuit, solution, affordable)) {
    const kind = net.kind[edge]!
    if (kind === EDGE.feeder) {
      const pair = edgesOf.get(net.owner[edge]!)
      if (pair) pair.push(edge)
      else edgesOf.set(net.owner[edge]!, [edge])
    }
    if (!chosen) {
      skipped++
      continue
    }
    const [from, to] = [rowOf[net.from[edge]!]!, rowOf[net.to[edge]!]!]
    const g = circuit.siemens[edge]!
    if (kind === EDGE.feeder) {
      const { name, path } = plan.feeders[net.owner[edge]!]!
      const wire = edgesOf.get(net.owner[edge]!)![0] === edge ? 'A' : 'B'
      list.push({
        id: faultId('open feeder', name, wire),
        kind: 'open feeder',
        name: `${name}, wire ${wire}`,
        path,
        edge,
        changes: [{ from, to, deltaSiemens: -g * (1 - LEAK / Math.max(g, LEAK)) }],
      })
    } else {
      const joint = plan.joints[net.owner[edge]!]!
      if (1 / g >= bad) continue
      const rail = railOf(edge, joint, net)
      list.push({
        id: faultId('bad joiner', joint.name, rail),
        kind: 'bad joiner',
        name: `${joint.name}, ${rail} rail`,
        path: joint.path,
        edge,
        changes: [{ from, to, deltaSiemens: 1 / bad - g }],
      })
    }
  }
  let swaps = 0
  for (const [f, pair] of edgesOf) {
    if (4 * swaps++ > affordable) {
      skipped++
      continue
    }
    const [ea, eb] = [pair[0]!, pair[1]!]
    const { name, path } = plan.feeders[f]!
    const row = (node: number) => rowOf[node]!
    const [ga, gb] = [circuit.siemens[ea]!, circuit.siemens[eb]!]
    const [busA, railA, busB, railB] = [net.from[ea]!, net.to[ea]!, net.from[eb]!, net.to[eb]!].map(row) as [
      number,
      number,
      number,
      number,
    ]
    list.push({
      id: faultId('swapped feeder', name),
      kind: 'swapped feeder',
      name,
      path,
      edge: ea,
      changes: [
        { from: busA, to: railA, deltaSiemens: -ga * (1 - LEFT) },
        { from: busB, to: railB, deltaSiemens: -gb * (1 - LEFT) },
        { from: busA, to: railB, deltaSiemens: ga },
        { from: busB, to: railA, deltaSiemens: gb },
      ],
    })
  }
  return { list, skipped }
}

/** Every wire of a feeder and rail of a joint; chosen are the first `most` by the current they carry. */
function chosenEdges(circuit: Circuit, solution: LoadSolution, most: number): [number, boolean][] {
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
