/**
 * Finds what conducts and what limits where trying goes to and fro: several sources at the limit of one supply, each with
 * rectifiers behind it. No part but a foldback supply gives more current the higher the voltage against it, so the currents
 * into the ports are the slope of one convex function, and going downhill ends at the one state that all parts agree on.
 *
 * A foldback supply in its limit gives less the lower its output is, so a current that its drivers hold below its limit fits
 * two outputs: one far down, which does not last, and the full one. It comes to the full one as soon as they hold it: here it
 * is out of its limit, which is right where that gives less than the limit.
 */
import { fill, LEAST_OHM, type Modes, type Scratch, type State, type Topology } from './equations.js'

const MOST_STEPS = 40
/** Of a step downhill: where along it no current pulls any further, to this share of what pulled at its beginning. */
const LEVEL = 1e-6
const MOST_BISECTIONS = 50

/** Puts the parts into the states of the solution. */
export function descend(t: Topology, scratch: Scratch, from: State, modes: Modes, h: number): void {
  const n = t.ports.length
  const size = scratch.x.length
  const x = new Float64Array(size)
  x.set(from.supply, n)
  const at = new Float64Array(size)
  const towards = new Float64Array(size)
  /** How strongly the currents at x + share · towards still pull that way, W. */
  const pull = (share: number) => {
    for (let i = 0; i < size; i++) at[i] = x[i]! + share * towards[i]!
    statesAt(t, scratch, modes, at)
    fill(t, scratch, from, modes, h)
    let sum = 0
    for (let i = 0; i < size; i++) {
      let amp = scratch.x[i]!
      for (let j = 0; j < size; j++) amp -= scratch.matrix[i * size + j]! * at[j]!
      sum += amp * towards[i]!
    }
    return sum
  }
  for (let k = 0; k < MOST_STEPS; k++) {
    statesAt(t, scratch, modes, x)
    fill(t, scratch, from, modes, h)
    if (!scratch.solve(size)) return
    for (let i = 0; i < size; i++) towards[i] = scratch.x[i]! - x[i]!
    const first = pull(0)
    if (!(first > 0)) break
    let share = 1
    if (pull(1) < -LEVEL * first) {
      let [low, high] = [0, 1]
      for (let b = 0; b < MOST_BISECTIONS; b++) {
        share = (low + high) / 2
        const left = pull(share)
        if (Math.abs(left) <= LEVEL * first) break
        if (left > 0) low = share
        else high = share
      }
    }
    for (let i = 0; i < size; i++) x[i]! += share * towards[i]!
    // The whole way in one piece: the solution of the states that it ends in.
    if (share === 1 && Math.abs(pull(1)) <= LEVEL * first) break
  }
  statesAt(t, scratch, modes, x)
}

/** The state of each part at given voltages; stay-alives keep theirs. */
function statesAt(t: Topology, scratch: Scratch, modes: Modes, x: Float64Array): void {
  const n = t.ports.length
  t.ports.forEach(({ loads }, p) => {
    modes.sign[p] = x[p]! < 0 ? -1 : 1
    for (const { index } of loads)
      modes.conducts[index] = scratch.siemens[index]! * Math.abs(x[p]!) >= scratch.amp[index]! ? 1 : 0
  })
  t.supplies.forEach(({ plan, volt, on }, k) => {
    if (!on) return
    const free = (volt - x[n + k]!) / Math.max(LEAST_OHM, plan.ohm)
    const holds = plan.limit !== 'none' && plan.limit !== 'foldback'
    const most = holds ? plan.limitAmp : Number.POSITIVE_INFINITY
    modes.supply[k] = free < 0 ? 'blocked' : free > most ? 'limited' : 'free'
  })
  t.sources.forEach(({ plan, port, supply, output }, d) => {
    if (output !== 'driving') return
    const free = (x[n + supply]! - plan.dropVolt - x[port]!) / Math.max(LEAST_OHM, plan.ohm)
    modes.source[d] = free > plan.holdsAmp ? 'held' : 'free'
  })
}
