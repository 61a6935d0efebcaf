/** A fault of the wiring as a change of a few edges of the network. */
import type { Circuit, EdgeChange, Network } from '../../track/index.js'

export interface Span {
  low: number
  high: number
}

export type WiringEdit =
  | { what: 'open feeder'; feeder: number; wire: 'A' | 'B' }
  | { what: 'thin feeder'; feeder: number; times: Span }
  | { what: 'swapped feeder'; feeder: number }
  | { what: 'joiner'; edge: number; ohm: Span }
  | { what: 'rails joined'; track: number; ohm: Span }

/** The better and the worse corner of what a fault may be. */
export type End = 'low' | 'high'

interface Wires {
  net: Network
  /** By feeder: the edges of its wires A and B. */
  feeders: ReadonlyMap<number, { A: number; B: number }>
  /** Place in the middle of each track. */
  placeOf: readonly number[]
}

/** What is left of an opened wire, S. */
const LEAK = 1e-6

/** The nodes whose edges a change concerns. */
export function nodesOf({ net, feeders, placeOf }: Wires, edit: WiringEdit): number[] {
  const edge = (e: number) => [net.from[e]!, net.to[e]!]
  switch (edit.what) {
    case 'joiner':
      return edge(edit.edge)
    case 'rails joined': {
      const { a, b } = net.places[placeOf[edit.track]!]!
      return [a, b]
    }
    default: {
      const { A, B } = feeders.get(edit.feeder)!
      return [...edge(A), ...edge(B)]
    }
  }
}

/** What a change makes of the edges it concerns. @param siemens takes the new conductance of each, S. */
export function changesOf(
  { net, feeders, placeOf }: Wires,
  circuit: Circuit,
  edit: WiringEdit,
  end: End,
  siemens: Map<number, number>,
): EdgeChange[] {
  const { rowOf } = circuit.layout
  const row = (node: number) => rowOf[node]!
  const set = (edge: number, to: number): EdgeChange => {
    siemens.set(edge, to)
    return {
      from: row(net.from[edge]!),
      to: row(net.to[edge]!),
      deltaSiemens: to - circuit.siemens[edge]!,
    }
  }
  switch (edit.what) {
    case 'open feeder':
      return [set(feeders.get(edit.feeder)![edit.wire], LEAK)]
    case 'thin feeder': {
      const { A, B } = feeders.get(edit.feeder)!
      return [A, B].map((e) => set(e, circuit.siemens[e]! / edit.times[end]))
    }
    case 'joiner':
      return [set(edit.edge, 1 / edit.ohm[end])]
    case 'rails joined': {
      const { a, b } = net.places[placeOf[edit.track]!]!
      return [{ from: row(a), to: row(b), deltaSiemens: 1 / edit.ohm[end] }]
    }
    case 'swapped feeder': {
      const { A, B } = feeders.get(edit.feeder)!
      const crossed = (e: number, to: number): EdgeChange => ({
        from: row(net.from[e]!),
        to: row(to),
        deltaSiemens: circuit.siemens[e]!,
      })
      return [set(A, LEAK), set(B, LEAK), crossed(A, net.to[B]!), crossed(B, net.to[A]!)]
    }
  }
}
