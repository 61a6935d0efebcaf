/** Which places the search for the worst arrangement of trains looks at. */
import type { Circuit } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'

/** Places that a track is looked at: all of them, or on large railroads both ends and the weakest. */
export function candidatesOf(circuit: Circuit, weakest: Int32Array) {
  const { net, rowOf } = circuit.layout
  const all = net.places.length <= 5000
  const start = new Int32Array(weakest.length + 1)
  const list: number[] = []
  for (let t = 0; t < weakest.length; t++) {
    const [from, to] = [net.placeStart[t]!, net.placeStart[t + 1]!]
    if (all) for (let p = from; p < to; p++) list.push(p)
    else list.push(...new Set([from, weakest[t]!, to - 1]))
    start[t + 1] = list.length
  }
  return {
    start,
    place: Int32Array.from(list),
    a: Int32Array.from(list, (p) => rowOf[net.places[p]!.a]!),
    b: Int32Array.from(list, (p) => rowOf[net.places[p]!.b]!),
  }
}

export function askedTracks(
  ownOhm: Float64Array,
  tracks: ReadonlySet<number> | undefined,
  most: number,
): Uint8Array {
  const asked = new Uint8Array(ownOhm.length)
  const wanted = tracks ? [...tracks] : Array.from(ownOhm, (_, t) => t)
  const list = wanted.length <= most ? wanted : wanted.sort((a, b) => ownOhm[b]! - ownOhm[a]!).slice(0, most)
  for (const t of list) asked[t] = 1
  return asked
}

/** By track, its place of highest own resistance, and that resistance. */
export function weakestPlaces(circuit: Circuit): { weakest: Int32Array; ohm: Float64Array } {
  const { net } = circuit.layout
  const { placeOhm } = circuit
  const weakest = new Int32Array(net.placeStart.length - 1)
  const most = new Float64Array(weakest.length).fill(-1)
  for (let t = 0; t < weakest.length; t++) {
    for (let p = net.placeStart[t]!; p < net.placeStart[t + 1]!; p++) {
      const ohm = placeOhm[p]!
      if (p > net.placeStart[t]! && !isLower(p, -ohm, weakest[t]!, -most[t]!)) continue
      most[t] = ohm
      weakest[t] = p
    }
  }
  return { weakest, ohm: most }
}
