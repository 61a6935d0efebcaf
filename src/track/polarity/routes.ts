/**
 * Polarity: every route along rails that joins a rail to its opposite. Routes are found on rails, two nodes per
 * track (L and R), joined as the joints join them; such a route leads from one rail of a track to the other
 * rail of the same track.
 */

import { jointKeepsRails, type Path, type TrackLayout } from '../layout/layout.js'
import { findPhases, ParityUnion } from '../layout/phase.js'
import { behindReverser } from './opposed-gaps.js'

export interface PolarityRoute {
  kind: 'loop' | 'turntable'
  /** Names of sections, turnouts and so on, in order; the last leads back to the first. */
  names: string[]
  tracks: number[]
  lengthMm: number
  /** Joints in the route. */
  joints: number[]
  /** Two joints where both rails must be cut; between them a whole train must fit. */
  gaps: [string, string] | undefined
  /** Length between the two gaps, and whether the longest train fits. */
  isolatedMm: number
  trainFits: boolean
  path: Path
}

export interface ReverserCheck {
  run: string
  district: string
  /** It trips at less current and sooner than its district and those beyond its gaps may take. */
  ok: boolean
  /** Sooner than they trip at the soonest, too. */
  sure: boolean
  reverserAmp: number
  districtAmp: number | undefined
  reverserTimeUs: number
  districtTimeUs: number | undefined
  because: string
  path: Path
}

const MOST_ROUTES = 50

/** All routes found, shortest first. With more than 50 reversing joints the rest are only counted. */
export function findPolarity(plan: TrackLayout): { routes: PolarityRoute[]; uncounted: number } {
  const { conflicts } = findPhases(plan)
  const routes: PolarityRoute[] = []
  const seen = new Set<string>()
  const graph = railGraph(plan)
  const longest = Math.max(0, ...Object.values(plan.rollingStock).map((t) => t.length))
  for (const j of conflicts.slice(0, MOST_ROUTES)) {
    // Where each rail is cut somewhere, no rail leads round; the feeders on either side of the joint still close the circuit.
    const route = shortestThrough(plan, graph, j) ?? shortestThrough(plan, railGraph(plan, true), j)
    if (!route) continue
    const key = [...route.joints].sort((a, b) => a - b).join()
    if (seen.has(key)) continue
    seen.add(key)
    routes.push(describe(plan, route, longest))
  }
  for (const [name, t] of Object.entries(plan.design.turntables ?? {})) {
    if (t.turns !== 'fixed' || behindReverser(plan, name)) continue
    routes.push({
      kind: 'turntable',
      names: [`${name}, turned by half`],
      tracks: [],
      lengthMm: t.length,
      joints: [],
      gaps: undefined,
      isolatedMm: t.length,
      trainFits: true,
      path: ['track', 'turntables', name],
    })
  }
  routes.sort((a, b) => a.lengthMm - b.lengthMm)
  return { routes, uncounted: Math.max(0, conflicts.length - MOST_ROUTES) }
}

interface RailLink {
  to: number
  /** Joint crossed; −1 inside a track or hub. */
  joint: number
}

/** Node 4·t + 2·(at the `to` end) + (rail R). @param past gaps in one rail too. */
function railGraph(plan: TrackLayout, past = false): RailLink[][] {
  const links: RailLink[][] = Array.from({ length: 4 * plan.tracks.length }, () => [])
  const link = (a: number, b: number, joint: number) => {
    links[a]!.push({ to: b, joint })
    links[b]!.push({ to: a, joint })
  }
  plan.tracks.forEach((_, t) => {
    link(4 * t, 4 * t + 2, -1)
    link(4 * t + 1, 4 * t + 3, -1)
  })
  for (const hub of plan.hubs)
    for (const end of hub.slice(1)) for (const rail of [0, 1]) link(2 * hub[0]! + rail, 2 * end + rail, -1)
  plan.joints.forEach((j, i) => {
    const flip = jointKeepsRails(j) ? 0 : 1
    if (past ? !(j.gapL && j.gapR) : !j.gapL) link(2 * j.a, 2 * j.b + flip, i)
    if (past ? !(j.gapL && j.gapR) : !j.gapR) link(2 * j.a + 1, 2 * j.b + (1 - flip), i)
  })
  return links
}

interface Found {
  tracks: number[]
  joints: number[]
  lengthMm: number
}

/** Shortest way, by length of track, from one rail at a joint round to the other rail at the same joint. */
function shortestThrough(plan: TrackLayout, graph: RailLink[][], joint: number): Found | undefined {
  const j = plan.joints[joint]!
  const start = 2 * j.b
  const goal = 2 * j.b + 1
  const distance = new Float64Array(graph.length).fill(Number.POSITIVE_INFINITY)
  const back = new Int32Array(graph.length).fill(-1)
  const backJoint = new Int32Array(graph.length).fill(-1)
  distance[start] = 0
  const heap = new Heap()
  heap.push(start, 0)
  for (;;) {
    const node = heap.pop(distance)
    if (node < 0) return undefined
    if (node === goal) break
    const here = distance[node]!
    for (const { to, joint: crossed } of graph[node]!) {
      const same = node >> 2 === to >> 2 && crossed < 0 && node >> 1 !== to >> 1
      const d = here + (same ? plan.tracks[node >> 2]!.lengthMm : 0)
      if (d < distance[to]! - 1e-9) {
        distance[to] = d
        back[to] = node
        backJoint[to] = crossed
        heap.push(to, d)
      }
    }
  }
  const tracks: number[] = []
  const joints: number[] = []
  for (let node = goal; node !== start; node = back[node]!) {
    const t = node >> 2
    if (backJoint[node]! >= 0) joints.push(backJoint[node]!)
    if (tracks.at(-1) !== t) tracks.push(t)
  }
  const last = start >> 2
  if (tracks.at(-1) !== last) tracks.push(last)
  return { tracks: tracks.reverse(), joints: joints.reverse(), lengthMm: distance[goal]! }
}

/** Names in order, and where gaps must go: at both ends of the longest part between turnouts that closes the loop. */
function describe(plan: TrackLayout, found: Found, longestTrainMm: number): PolarityRoute {
  // The stem is walked out and back; what is walked once is the loop itself.
  const visits = new Map<number, number>()
  for (const t of found.tracks) visits.set(t, (visits.get(t) ?? 0) + 1)
  const crossings = new Map<number, number>()
  for (const i of found.joints) crossings.set(i, (crossings.get(i) ?? 0) + 1)
  const loopJoints = found.joints.filter((i) => crossings.get(i) === 1)
  const loop = loopJoints.length > 0 ? loopJoints : found.joints
  const gaps = placeGaps(plan, loop)
  const names: string[] = []
  for (const t of found.tracks) {
    const name = plan.tracks[t]!.name
    if (names.at(-1) !== name) names.push(name)
  }
  return {
    kind: 'loop',
    names,
    tracks: found.tracks,
    lengthMm: found.lengthMm,
    joints: found.joints,
    gaps: gaps && [plan.joints[gaps.one]!.name, plan.joints[gaps.two]!.name],
    isolatedMm: gaps?.lengthMm ?? 0,
    trainFits: gaps !== undefined && gaps.lengthMm >= longestTrainMm,
    path: plan.joints[loop.at(-1)!]!.path,
  }
}

/**
 * Two joints of the loop such that cutting both rails there leaves no conflict among the tracks of the loop and makes an
 * isolated part as long as can be: of neighbouring pairs in the ring, those that enclose only plain sections.
 */
function placeGaps(
  plan: TrackLayout,
  loop: number[],
): { one: number; two: number; lengthMm: number } | undefined {
  const ring = [...new Set(loop)]
  const isPlain = (t: number) => plan.tracks[t]!.kind === 'section'
  let best: { one: number; two: number; lengthMm: number } | undefined
  for (let i = 0; i < ring.length; i++) {
    // Walk from joint i along plain sections as far as they go.
    let lengthMm = 0
    for (let k = 1; k < ring.length + 1; k++) {
      const [before, here] = [ring[(i + k - 1) % ring.length]!, ring[(i + k) % ring.length]!]
      const shared = sharedTrack(plan, before, here)
      if (shared < 0 || !isPlain(shared)) break
      lengthMm += plan.tracks[shared]!.lengthMm
      if (here === ring[i]) break
      if (!best || lengthMm > best.lengthMm) best = { one: ring[i]!, two: here, lengthMm }
    }
  }
  return best
}

function sharedTrack(plan: TrackLayout, one: number, two: number): number {
  const [p, q] = [plan.joints[one]!, plan.joints[two]!]
  for (const x of [p.a >> 1, p.b >> 1]) for (const y of [q.a >> 1, q.b >> 1]) if (x === y) return x
  return -1
}

/** Would cutting both rails at these joints leave no conflict? */
export function curesConflict(plan: TrackLayout, joints: readonly string[]): boolean {
  const cut = new Set(joints)
  const union = new ParityUnion(plan.tracks.length)
  for (const hub of plan.hubs) for (const end of hub) union.join(hub[0]! >> 1, end >> 1, 0)
  return plan.joints.every(
    (j) =>
      (j.gapL && j.gapR) || cut.has(j.name) || union.join(j.a >> 1, j.b >> 1, jointKeepsRails(j) ? 0 : 1),
  )
}

/** Binary heap of nodes by distance; stale entries are skipped when they come up. */
class Heap {
  readonly #node: number[] = []
  readonly #key: number[] = []

  push(node: number, key: number): void {
    let i = this.#node.push(node) - 1
    this.#key.push(key)
    while (i > 0) {
      const up = (i - 1) >> 1
      if (this.#key[up]! <= this.#key[i]!) break
      this.#swap(i, up)
      i = up
    }
  }

  pop(distance: Float64Array): number {
    while (this.#node.length > 0) {
      const [node, key] = [this.#node[0]!, this.#key[0]!]
      const [lastNode, lastKey] = [this.#node.pop()!, this.#key.pop()!]
      if (this.#node.length > 0) {
        this.#node[0] = lastNode
        this.#key[0] = lastKey
        this.#sink()
      }
      if (key <= distance[node]!) return node
    }
    return -1
  }

  #sink(): void {
    for (let i = 0; ; ) {
      let least = i
      for (const k of [2 * i + 1, 2 * i + 2])
        if (k < this.#node.length && this.#key[k]! < this.#key[least]!) least = k
      if (least === i) return
      this.#swap(i, least)
      i = least
    }
  }

  #swap(i: number, k: number): void {
    ;[this.#node[i], this.#node[k]] = [this.#node[k]!, this.#node[i]!]
    ;[this.#key[i], this.#key[k]] = [this.#key[k]!, this.#key[i]!]
  }
}
