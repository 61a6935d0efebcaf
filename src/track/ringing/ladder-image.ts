/**
 * A ladder's numbers in the order in which `stepping.ts` goes through them. Most branches and nodes go two at a time: two branches
 * whose ends are next to each other, two nodes whose branches are. What has no partner goes by itself.
 */
import type { RingCircuit } from './circuit.js'
import { BRIDGE, factorsOf, touching } from './plain-ladder.js'

/** Where the header, records and their fields are, in bytes. Every record's places are of voltages and currents, in bytes. */
export const HEADER = { dt: 0, edgeUs: 8, volt: 16, push: 24, whole: 32, size: 48 } as const
export const BRANCH_PAIR = {
  skin: 0,
  perHenry: 16,
  skinOhm: 32,
  perSkinHenry: 48,
  keep: 64,
  current: 80,
  from: 84,
  to: 88,
  size: 96,
} as const
export const BRANCH = {
  skin: 0,
  perHenry: 8,
  skinOhm: 16,
  perSkinHenry: 24,
  keep: 32,
  current: 40,
  from: 44,
  to: 48,
  size: 56,
} as const
/** One current in, one or two out. */
export const NODE_PAIR = {
  peak: 0,
  perFarad: 16,
  leak: 32,
  volt: 48,
  branch: [52, 56, 60],
  size: 64,
} as const
export const NODE = {
  peak: 0,
  perFarad: 8,
  leak: 16,
  sign: [24, 32, 40],
  volt: 48,
  branch: [52, 56, 60],
  size: 64,
} as const
/** A node of the driver, of more than three branches, with a bridge or with a terminator; its branches lie elsewhere. */
export const APART = { peak: 0, perFarad: 8, leak: 16, volt: 24, first: 28, end: 32, size: 40 } as const
export const FLOW = { sign: 0, current: 8, size: 16 } as const
export const BRIDGED = { reservoir: 0, k: 8, whole: 16, share: 24, amp: 32, volt: 40, size: 48 } as const
export const TERMINATED = { charge: 0, k: 8, whole: 16, share: 24, volt: 32, size: 40 } as const

/** Where each kind of record ends; each begins where the one before ends. */
export interface Ends {
  branchPairs: number
  branches: number
  linePairs: number
  teePairs: number
  nodes: number
  apart: number
  bridges: number
  terminators: number
}

export interface LadderImage {
  bytes: Uint8Array
  /** Where the records begin. */
  start: number
  ends: Ends
  /** Where a node's voltage is, and by node its peak. */
  voltAt(node: number): number
  peakAt: Int32Array
}

/** Branches by the step from one end to the other, so that those side by side follow each other. */
function inSlots(c: RingCircuit): Int32Array {
  const order = c.branches.map((_, i) => i)
  const step = (i: number) => c.branches[i]!.to - c.branches[i]!.from
  order.sort((a, b) => step(a) - step(b) || c.branches[a]!.from - c.branches[b]!.from || a - b)
  return Int32Array.from(order)
}

/** Places of currents: one in, one or two out, in the order in which they are added up; 0 where there is none. */
type Tee = [number, number, number]

/** @returns whether every number came out one after its partner of `first`, or is missing in both. */
function isBeside(first: Tee, second: Tee, none: number): boolean {
  return first.every((at, k) => (at === none ? second[k] === none : second[k] === at + 8))
}

export function imageOf(c: RingCircuit, dt: number): LadderImage {
  const { perFarad, leak, perHenry, keep, skinOhm, perSkinHenry } = factorsOf(c, dt)
  const n = c.farad.length
  const lists = touching(c)
  const voltAt = (node: number) => HEADER.size + 8 * node
  // Two currents that are always nought, for what is missing.
  const none = voltAt(n + (n % 2))
  const slots = inSlots(c)
  const currentAt = new Int32Array(slots.length)
  slots.forEach((branch, slot) => {
    currentAt[branch] = none + 16 + 8 * slot
  })
  /** By slot. */
  const branchPairs: number[] = []
  const branches: number[] = []
  for (let s = 0; s < slots.length; s++) {
    const [a, b] = [c.branches[slots[s]!]!, c.branches[slots[s + 1] ?? -1]]
    if (b && b.from === a.from + 1 && b.to === a.to + 1) branchPairs.push(s++)
    else branches.push(s)
  }

  const apart = new Set([
    0,
    ...c.terminators.map((t) => t.node),
    ...c.decoders.map((d) => d.node),
    ...lists.flatMap((list, node) => (list.length > 3 ? [node] : [])),
  ])
  const tees = lists.map((list, node): Tee | undefined => {
    if (apart.has(node)) return undefined
    const ins = list.filter((x) => x.sign > 0)
    const outs = list.filter((x) => x.sign < 0)
    // A sum of two is the same either way round, and the third comes last.
    if (ins.length > 1 || outs.length > 2 || list[2]?.sign === 1) return undefined
    const at = (x: { branch: number } | undefined) => (x ? currentAt[x.branch]! : none)
    return [at(ins[0]), at(outs[0]), at(outs[1])]
  })
  const linePairs: number[] = []
  const teePairs: number[] = []
  const nodes: number[] = []
  for (let node = 0; node < n; node++) {
    if (apart.has(node)) continue
    const [a, b] = [tees[node], tees[node + 1]]
    if (!a || !b || !isBeside(a, b, none)) nodes.push(node)
    else (a[2] === none ? linePairs : teePairs).push(node++)
  }

  const ends: Partial<Ends> = {}
  const currentsEnd = none + 16 + 8 * (slots.length + (slots.length % 2))
  let size = currentsEnd
  const region = (kind: keyof Ends, count: number, each: number) => {
    size += count * each
    ends[kind] = size
  }
  region('branchPairs', branchPairs.length, BRANCH_PAIR.size)
  region('branches', branches.length, BRANCH.size)
  region('linePairs', linePairs.length, NODE_PAIR.size)
  region('teePairs', teePairs.length, NODE_PAIR.size)
  region('nodes', nodes.length, NODE.size)
  region('apart', apart.size, APART.size)
  region('bridges', c.decoders.length, BRIDGED.size)
  region('terminators', c.terminators.length, TERMINATED.size)
  let flow = size
  for (const node of apart) size += lists[node]!.length * FLOW.size

  const bytes = new Uint8Array(8 * Math.ceil(size / 8))
  const image = new DataView(bytes.buffer)
  const float = (at: number, value: number) => image.setFloat64(at, value, true)
  const place = (at: number, value: number) => image.setInt32(at, value, true)
  const stiff = perFarad[0]! / c.sourceOhm
  float(HEADER.dt, dt)
  float(HEADER.edgeUs, c.edgeUs)
  float(HEADER.volt, c.volt)
  float(HEADER.push, stiff)
  float(HEADER.whole, 1 + stiff)
  // Nothing flows before the edge: everything is at −V.
  for (let node = 0; node < n; node++) float(voltAt(node), -c.volt)
  let at = currentsEnd
  for (const [list, shape, width] of [
    [branchPairs, BRANCH_PAIR, 2],
    [branches, BRANCH, 1],
  ] as const)
    for (const slot of list) {
      for (let k = 0; k < width; k++) {
        const i = slots[slot + k]!
        float(at + shape.perHenry + 8 * k, perHenry[i]!)
        float(at + shape.skinOhm + 8 * k, skinOhm[i]!)
        float(at + shape.perSkinHenry + 8 * k, perSkinHenry[i]!)
        float(at + shape.keep + 8 * k, keep[i]!)
      }
      const i = slots[slot]!
      place(at + shape.current, currentAt[i]!)
      place(at + shape.from, voltAt(c.branches[i]!.from))
      place(at + shape.to, voltAt(c.branches[i]!.to))
      at += shape.size
    }
  const peakAt = new Int32Array(n)
  for (const node of [...linePairs, ...teePairs]) {
    for (const k of [0, 1]) {
      peakAt[node + k] = at + NODE_PAIR.peak + 8 * k
      float(at + NODE_PAIR.perFarad + 8 * k, perFarad[node + k]!)
      float(at + NODE_PAIR.leak + 8 * k, leak[node + k]!)
    }
    place(at + NODE_PAIR.volt, voltAt(node))
    for (const k of [0, 1, 2] as const) place(at + NODE_PAIR.branch[k], tees[node]![k])
    at += NODE_PAIR.size
  }
  for (const node of nodes) {
    peakAt[node] = at + NODE.peak
    float(at + NODE.perFarad, perFarad[node]!)
    float(at + NODE.leak, leak[node]!)
    place(at + NODE.volt, voltAt(node))
    for (const k of [0, 1, 2] as const) {
      const x = lists[node]![k]
      float(at + NODE.sign[k], x?.sign ?? 0)
      place(at + NODE.branch[k], x ? currentAt[x.branch]! : none)
    }
    at += NODE.size
  }
  for (const node of apart) {
    peakAt[node] = at + APART.peak
    float(at + APART.perFarad, perFarad[node]!)
    float(at + APART.leak, node > 0 ? leak[node]! : 1)
    place(at + APART.volt, voltAt(node))
    place(at + APART.first, flow)
    for (const x of lists[node]!) {
      float(flow + FLOW.sign, x.sign)
      place(flow + FLOW.current, currentAt[x.branch]!)
      flow += FLOW.size
    }
    place(at + APART.end, flow)
    at += APART.size
  }
  for (const d of c.decoders) {
    const k = perFarad[d.node]! / BRIDGE.ohm
    float(at + BRIDGED.reservoir, Math.max(0, c.volt - BRIDGE.volt))
    float(at + BRIDGED.k, k)
    float(at + BRIDGED.whole, 1 + k)
    float(at + BRIDGED.share, dt / d.reservoirFarad)
    float(at + BRIDGED.amp, d.amp)
    place(at + BRIDGED.volt, voltAt(d.node))
    at += BRIDGED.size
  }
  for (const t of c.terminators) {
    const k = perFarad[t.node]! / t.ohm
    float(at + TERMINATED.charge, -c.volt)
    float(at + TERMINATED.k, k)
    float(at + TERMINATED.whole, 1 + k)
    float(at + TERMINATED.share, dt / (t.ohm * t.farad))
    place(at + TERMINATED.volt, voltAt(t.node))
    at += TERMINATED.size
  }
  return { bytes, start: currentsEnd, ends: ends as Ends, voltAt, peakAt }
}
