/**
 * The parts of a network that hang together. Districts behind gaps in both rails are apart: what one draws moves nothing in another, so
 * that figures are worked out part by part, and those of a part that is as it was are remembered.
 */
import type { Circuit, MatrixLayout } from './circuit.js'

export interface NetworkPart {
  districts: number[]
  /** Nodes, edges, places and steps of elimination, each in the network's order. */
  nodes: Int32Array
  edges: Int32Array
  places: Int32Array
  steps: Int32Array
}

/** In the order of their first districts. */
export function partsOf(layout: MatrixLayout): NetworkPart[] {
  const { net, rowOf, partOf, elimination } = layout
  const numbers = new Map<number, number>()
  for (const { a } of net.terminals) if (!numbers.has(partOf[a]!)) numbers.set(partOf[a]!, numbers.size)
  const nodeOfRow = new Int32Array(layout.rows)
  rowOf.forEach((row, node) => {
    if (row >= 0) nodeOfRow[row] = node
  })
  const part = (node: number) => numbers.get(partOf[node]!)!
  const split = (count: number, nodeOf: (i: number) => number): Int32Array[] => {
    const lists: number[][] = Array.from({ length: numbers.size }, () => [])
    for (let i = 0; i < count; i++) lists[part(nodeOf(i))]?.push(i)
    return lists.map((list) => Int32Array.from(list))
  }
  const nodes = split(net.size, (n) => n)
  const edges = split(net.from.length, (e) => net.from[e]!)
  const places = split(net.places.length, (p) => net.places[p]!.a)
  const steps = split(elimination.steps, (k) => nodeOfRow[elimination.node[k]!]!)
  return nodes.map((own, i) => ({
    districts: net.terminals.flatMap(({ a }, d) => (part(a) === i ? [d] : [])),
    nodes: own,
    edges: edges[i]!,
    places: places[i]!,
    steps: steps[i]!,
  }))
}

/**
 * All that solutions of one part depend on, its nodes counted from nought: what is joined, conductances, the order in which nodes are
 * eliminated (which rounding depends on), voltages without load, the rails of its places.
 * @returns `undefined` where the parts are solved together, in an order of all.
 */
export function numbersOf(circuit: Circuit, part: NetworkPart): number[] | undefined {
  const { net, rowOf, elimination } = circuit.layout
  if (elimination.core.length > 0) return undefined
  const own = new Map<number, number>()
  const list: number[] = [part.nodes.length, part.edges.length, part.places.length]
  part.nodes.forEach((node, i) => {
    const row = rowOf[node]!
    if (row >= 0) own.set(row, i)
    list.push(row < 0 ? 0 : circuit.open[row]!)
  })
  const at = (row: number) => (row < 0 ? -1 : own.get(row)!)
  for (const e of part.edges) list.push(at(rowOf[net.from[e]!]!), at(rowOf[net.to[e]!]!), circuit.siemens[e]!)
  const { node, start, beside } = elimination
  for (const k of part.steps) {
    list.push(at(node[k]!), start[k + 1]! - start[k]!)
    for (let i = start[k]!; i < start[k + 1]!; i++) list.push(at(beside[i]!))
  }
  for (const p of part.places) list.push(at(rowOf[net.places[p]!.a]!), at(rowOf[net.places[p]!.b]!))
  return list
}
