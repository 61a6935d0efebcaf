/**
 * The voltage at a place over the resistances of joiners and contacts, each a quantity of its own. For one short, or on a
 * tree, most resistance everywhere is worst. With several loads on a looped network it is not: dU/dR of an edge is the
 * product of its current with the loads and its current for one ampere at the place (Tellegen), and where both run the
 * same way more resistance keeps the loads off and helps. U is monotone in each resistance alone, so that its least lies
 * at ends of them; going down by that sign until nothing changes finds such ends, and proves no bound.
 */
import { Circuit, type ElectricalLoad } from '../network/circuit.js'
import { EDGE } from '../network/network.js'

/** Rounds of the descent at most; two or three are usual. */
const MOST_ROUNDS = 12
/** So much of the greatest effect of one resistance is no effect. */
const NO_EFFECT = 1e-9

export interface JointCorner {
  /** Lowest voltage found, V, and how many joiners and contacts are at their least for it. */
  volt: number
  atLeast: number
  /** Resistance of every edge then, Ohm. */
  ohm: Float64Array
}

/**
 * @param circuit with all resistances at their greatest
 * @param loads where they are, the one at the place among them
 * @param solved with these loads in that circuit, where it is known
 */
export function worstJoints(
  circuit: Circuit,
  loads: readonly ElectricalLoad[],
  a: number,
  b: number,
  solved?: Float64Array,
): JointCorner {
  const { net } = circuit.layout
  const { low, high } = net.ohm
  const own: number[] = []
  for (let e = 0; e < net.from.length; e++)
    if ((net.kind[e] === EDGE.joiner || net.kind[e] === EDGE.reverser) && high[e]! > low[e]!) own.push(e)
  let at = circuit
  let ohm = net.ohm[circuit.corner]
  let x = solved ?? at.withLoads(loads).x
  let volt = Math.abs(at.across(x, a, b))
  if (own.length === 0) return { volt, atLeast: 0, ohm }
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const sign = at.across(x, a, b) < 0 ? -1 : 1
    const u = at.unit(a, b)
    const effect = own.map((e) => {
      const [from, to] = [net.from[e]!, net.to[e]!]
      return sign * at.siemens[e]! ** 2 * at.across(u, from, to) * at.across(x, from, to)
    })
    const most = effect.reduce((m, d) => Math.max(m, Math.abs(d)), 0)
    const next = ohm.slice()
    let changed = false
    own.forEach((e, i) => {
      if (Math.abs(effect[i]!) <= NO_EFFECT * most) return
      const wanted = effect[i]! > 0 ? low[e]! : high[e]!
      if (wanted !== next[e]) changed = true
      next[e] = wanted
    })
    if (!changed) break
    const tried = new Circuit(circuit.layout, circuit.corner, undefined, next)
    const there = tried.withLoads(loads).x
    const now = Math.abs(tried.across(there, a, b))
    if (!(now < volt)) break
    ;[at, ohm, x, volt] = [tried, next, there, now]
  }
  return { volt, atLeast: own.filter((e) => ohm[e] === low[e]).length, ohm }
}
