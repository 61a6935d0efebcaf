/**
 * Which nodes of a network are eliminated one by one, and in which order: always one with the fewest others left beside it, so
 * ends and series pieces first, then stars of three, each of which becomes a triangle. A railroad is chains with few loops, so
 * little or nothing is left over.
 */

/** What depends only on which nodes are joined. */
export interface Elimination {
  size: number
  edgeFrom: Int32Array
  edgeTo: Int32Array
  /** Edge → the link between its nodes, which parallel edges share; −1 where it ends at ground or where it begins. */
  linkOfEdge: Int32Array
  /** The links of the network and those that elimination made. */
  links: number
  /** How many nodes are eliminated, and which, in order. */
  steps: number
  node: Int32Array
  /** What is beside the node of step k, and the links to it: `start[k]…start[k + 1]`. */
  start: Int32Array
  beside: Int32Array
  link: Int32Array
  /** From `pairStart[k]`: the links between every two of them, first and second, first and third and so on. */
  pairStart: Int32Array
  between: Int32Array
  /** Node → its step; −1: it is left over. */
  stepOf: Int32Array
  /** Nodes that are left over, and the links between them: place in `core`, place in `core`, link. */
  core: Int32Array
  coreLinks: Int32Array
  /** Node → the part of the network that it hangs together with without ground. */
  partOf: Int32Array
}

/** More neighbours than this, and a node is left for the sparse factor. */
const MOST = 8

/**
 * @param size nodes, without ground.
 * @param from, to the edges; −1 is ground.
 */
export function planElimination(size: number, from: Int32Array, to: Int32Array): Elimination {
  const graph = new Links(size, from, to)
  const { linkOfEdge, degree } = graph
  const partOf = graph.parts()
  const node = new Int32Array(size)
  const start = new Int32Array(size + 1)
  const pairStart = new Int32Array(size + 1)
  const stepOf = new Int32Array(size).fill(-1)
  const beside = new NumberList(graph.count + size)
  const link = new NumberList(graph.count + size)
  const between = new NumberList(graph.count + size)
  // By degree; whoever lost a neighbour is looked at again at once, so that chains go from their ends.
  const waiting = Array.from({ length: MOST + 1 }, (_, level) => new NumberList(level < 4 ? size : 64))
  for (let v = size - 1; v >= 0; v--) if (degree[v]! <= MOST) waiting[degree[v]!]!.push(v)
  let steps = 0
  for (let level = 0; level <= MOST; ) {
    const list = waiting[level]!
    if (list.length === 0) {
      level++
      continue
    }
    const v = list.pop()
    if (stepOf[v]! >= 0 || degree[v] !== level) continue
    stepOf[v] = steps
    node[steps++] = v
    const first = beside.length
    graph.takeOut(v, beside, link)
    const end = beside.length
    const { numbers } = beside
    for (let i = first; i < end; i++)
      for (let j = i + 1; j < end; j++) between.push(graph.join(numbers[i]!, numbers[j]!))
    start[steps] = end
    pairStart[steps] = between.length
    for (let i = end - 1; i >= first; i--) {
      const now = degree[numbers[i]!]!
      if (now > MOST) continue
      waiting[now]!.push(numbers[i]!)
      if (now < level) level = now
    }
  }
  const core = Int32Array.from(stepOf.keys()).filter((v) => stepOf[v]! < 0)
  return {
    size,
    edgeFrom: from,
    edgeTo: to,
    linkOfEdge,
    links: graph.count,
    steps,
    node,
    start,
    beside: beside.numbers,
    link: link.numbers,
    pairStart,
    between: between.numbers,
    stepOf,
    core,
    coreLinks: graph.left(core),
    partOf,
  }
}

const [FAR, NEXT, BEFORE] = [0, 1, 2] as const

/** Links between nodes that come and go: each in the rings of both its nodes. Ends 2·l and 2·l + 1 belong to link l. */
class Links {
  readonly linkOfEdge: Int32Array
  readonly degree: Int32Array
  count = 0
  readonly #size: number
  readonly #head: Int32Array
  /**
   * Four numbers to an end, next to each other: the node at the other end of the link, the ends after and before it at its own
   * node, and nothing.
   */
  #ends: Int32Array

  constructor(size: number, from: Int32Array, to: Int32Array) {
    const edges = from.length
    this.#size = size
    this.degree = new Int32Array(size)
    this.linkOfEdge = new Int32Array(edges).fill(-1)
    this.#head = new Int32Array(size).fill(-1)
    this.#ends = new Int32Array(8 * (edges + size))
    // By the lower of its nodes every edge once, so that parallel ones meet.
    const start = new Int32Array(size + 1)
    const low = (e: number) => Math.min(from[e]!, to[e]!)
    for (let e = 0; e < edges; e++) if (low(e) >= 0 && from[e] !== to[e]) start[low(e) + 1]!++
    for (let v = 0; v < size; v++) start[v + 1]! += start[v]!
    const list = new Int32Array(start[size]!)
    const put = start.slice(0, size)
    for (let e = 0; e < edges; e++) if (low(e) >= 0 && from[e] !== to[e]) list[put[low(e)]!++] = e
    const seen = new Int32Array(size).fill(-1)
    const known = new Int32Array(size)
    for (let v = 0; v < size; v++)
      for (let p = start[v]!; p < start[v + 1]!; p++) {
        const e = list[p]!
        const w = from[e] === v ? to[e]! : from[e]!
        if (seen[w] !== v) {
          seen[w] = v
          known[w] = this.#add(v, w)
        }
        this.linkOfEdge[e] = known[w]!
      }
  }

  #add(a: number, b: number): number {
    const l = this.count++
    if (8 * l + 8 > this.#ends.length) {
      const wider = new Int32Array(2 * this.#ends.length + 64)
      wider.set(this.#ends)
      this.#ends = wider
    }
    this.#attach(a, 2 * l, b)
    this.#attach(b, 2 * l + 1, a)
    return l
  }

  #attach(at: number, end: number, far: number): void {
    const ends = this.#ends
    const first = this.#head[at]!
    ends[4 * end + FAR] = far
    ends[4 * end + NEXT] = first
    ends[4 * end + BEFORE] = -1
    if (first >= 0) ends[4 * first + BEFORE] = end
    this.#head[at] = end
    this.degree[at]!++
  }

  /** Take a node's links away from its neighbours; both are noted. */
  takeOut(v: number, beside: NumberList, link: NumberList): void {
    const ends = this.#ends
    for (let end = this.#head[v]!; end >= 0; end = ends[4 * end + NEXT]!) {
      const w = ends[4 * end + FAR]!
      beside.push(w)
      link.push(end >> 1)
      const other = 4 * (end ^ 1)
      const [next, before] = [ends[other + NEXT]!, ends[other + BEFORE]!]
      if (before >= 0) ends[4 * before + NEXT] = next
      else this.#head[w] = next
      if (next >= 0) ends[4 * next + BEFORE] = before
      this.degree[w]!--
    }
  }

  /** The link between two nodes, made where there is none. */
  join(a: number, b: number): number {
    const ends = this.#ends
    const [few, other] = this.degree[a]! <= this.degree[b]! ? [a, b] : [b, a]
    for (let end = this.#head[few]!; end >= 0; end = ends[4 * end + NEXT]!)
      if (ends[4 * end + FAR] === other) return end >> 1
    return this.#add(a, b)
  }

  /** Which nodes hang together. */
  parts(): Int32Array {
    const part = new Int32Array(this.#size).fill(-1)
    const stack = new Int32Array(this.#size)
    let parts = 0
    for (let v = 0; v < this.#size; v++) {
      if (part[v]! >= 0) continue
      let top = 0
      stack[top++] = v
      part[v] = parts
      while (top > 0)
        for (let end = this.#head[stack[--top]!]!; end >= 0; end = this.#ends[4 * end + NEXT]!) {
          const w = this.#ends[4 * end + FAR]!
          if (part[w]! >= 0) continue
          part[w] = parts
          stack[top++] = w
        }
      parts++
    }
    return part
  }

  /** What is left between the nodes that are left. */
  left(core: Int32Array): Int32Array {
    const place = new Map([...core].map((v, i) => [v, i]))
    const list: number[] = []
    for (const v of core)
      for (let end = this.#head[v]!; end >= 0; end = this.#ends[4 * end + NEXT]!) {
        const w = this.#ends[4 * end + FAR]!
        if (w > v) list.push(place.get(v)!, place.get(w)!, end >> 1)
      }
    return Int32Array.from(list)
  }
}

/** Whole numbers that are put at the end, and taken from there. */
class NumberList {
  length = 0
  numbers: Int32Array

  constructor(room: number) {
    this.numbers = new Int32Array(room + 16)
  }

  push(value: number): void {
    if (this.length === this.numbers.length) {
      const wider = new Int32Array(2 * this.length)
      wider.set(this.numbers)
      this.numbers = wider
    }
    this.numbers[this.length++] = value
  }

  /** There must be one. */
  pop(): number {
    return this.numbers[--this.length]!
  }
}
