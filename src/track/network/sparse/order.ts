/**
 * Elimination order for sparse symmetric matrices: minimum degree (Tinney and Walker 1967, scheme 2) on an explicit
 * elimination graph. Railroads are chains with few loops, so most nodes have degree 1 or 2 when they go and
 * the graph never fills up; for dense graphs an approximate-degree method would be the better choice.
 */

/** A symmetric pattern: both directions of every edge, no diagonal, columns `start[j]…start[j + 1]`. */
export interface Pattern {
  size: number
  start: Int32Array
  row: Int32Array
}

/** The pattern of an undirected graph; repeated edges and self-loops are dropped. */
export function patternOf(size: number, from: ArrayLike<number>, to: ArrayLike<number>): Pattern {
  const count = new Int32Array(size + 1)
  const edges = from.length
  for (let e = 0; e < edges; e++) {
    if (from[e] === to[e]) continue
    count[from[e]! + 1]!++
    count[to[e]! + 1]!++
  }
  for (let j = 0; j < size; j++) count[j + 1]! += count[j]!
  const row = new Int32Array(count[size]!)
  const next = count.slice(0, size)
  for (let e = 0; e < edges; e++) {
    const a = from[e]!
    const b = to[e]!
    if (a === b) continue
    row[next[a]!++] = b
    row[next[b]!++] = a
  }
  const start = new Int32Array(size + 1)
  const seen = new Int32Array(size).fill(-1)
  let put = 0
  for (let j = 0; j < size; j++) {
    start[j] = put
    for (let p = count[j]!; p < count[j + 1]!; p++) {
      const i = row[p]!
      if (seen[i] === j) continue
      seen[i] = j
      row[put++] = i
    }
  }
  start[size] = put
  return { size, start, row: row.subarray(0, put) }
}

/** @returns the nodes in the order in which to eliminate them. */
export function minimumDegree(pattern: Pattern): Int32Array {
  const n = pattern.size
  // Adjacency lists live in one pool; a list that outgrows its room moves to the end of it.
  let pool = new Int32Array(2 * pattern.row.length + 4 * n + 64)
  pool.set(pattern.row)
  let free = pattern.row.length
  const at = pattern.start.slice(0, n)
  const length = new Int32Array(n)
  const room = new Int32Array(n)
  for (let j = 0; j < n; j++) {
    const own = pattern.start[j + 1]! - pattern.start[j]!
    length[j] = own
    room[j] = own
  }
  const queue = new DegreeQueue(n)
  for (let j = n - 1; j >= 0; j--) queue.insert(j, length[j]!)
  const order = new Int32Array(n)
  const mark = new Int32Array(n).fill(-1)
  for (let k = 0; k < n; k++) {
    const v = queue.takeSmallest()
    order[k] = v
    const from = at[v]!
    const degree = length[v]!
    for (let a = from; a < from + degree; a++) {
      const u = pool[a]!
      const base = at[u]!
      let size = length[u]!
      // Out goes v; in come v's other neighbours that u did not have.
      for (let p = base; p < base + size; p++) {
        if (pool[p] === v) {
          pool[p] = pool[base + size - 1]!
          size--
          break
        }
      }
      if (degree > 1) {
        let list = base
        mark[u] = u
        for (let p = list; p < list + size; p++) mark[pool[p]!] = u
        for (let b = from; b < from + degree; b++) {
          const w = pool[b]!
          if (mark[w] === u) continue
          if (size === room[u]) {
            const wider = 2 * size + degree
            if (free + wider > pool.length) {
              const larger = new Int32Array(2 * pool.length + wider)
              larger.set(pool.subarray(0, free))
              pool = larger
            }
            pool.copyWithin(free, list, list + size)
            list = free
            at[u] = list
            room[u] = wider
            free += wider
          }
          pool[list + size++] = w
        }
      }
      length[u] = size
      queue.move(u, size)
    }
  }
  return order
}

/** Nodes in buckets by degree, as doubly linked lists. */
class DegreeQueue {
  readonly #head: Int32Array
  readonly #next: Int32Array
  readonly #before: Int32Array
  readonly #degree: Int32Array
  #smallest = 0

  constructor(size: number) {
    this.#head = new Int32Array(size + 1).fill(-1)
    this.#next = new Int32Array(size).fill(-1)
    this.#before = new Int32Array(size).fill(-1)
    this.#degree = new Int32Array(size)
  }

  insert(node: number, degree: number): void {
    const first = this.#head[degree]!
    this.#next[node] = first
    this.#before[node] = -1
    if (first >= 0) this.#before[first] = node
    this.#head[degree] = node
    this.#degree[node] = degree
    if (degree < this.#smallest) this.#smallest = degree
  }

  #remove(node: number): void {
    const before = this.#before[node]!
    const next = this.#next[node]!
    if (before >= 0) this.#next[before] = next
    else this.#head[this.#degree[node]!] = next
    if (next >= 0) this.#before[next] = before
  }

  move(node: number, degree: number): void {
    if (this.#degree[node] === degree) return
    this.#remove(node)
    this.insert(node, degree)
  }

  takeSmallest(): number {
    while (this.#head[this.#smallest]! < 0) this.#smallest++
    const node = this.#head[this.#smallest]!
    this.#remove(node)
    return node
  }
}
