/**
 * One step in time of supplies, drivers, rails, decoders' capacitors and shorts: backward Euler, so that nothing rings
 * that is not there. What conducts and what limits is found by trying: each part is linear in either state.
 */

import { descend } from './descend.js'
import {
  fill,
  LEAK,
  LEAST_OHM,
  type Modes,
  Scratch,
  type SourceMode,
  type State,
  type SupplyMode,
  type Topology,
} from './equations.js'

export interface Step {
  state: State
  /** Out of each source into the wires, A. */
  sourceAmp: Float64Array
  supplyAmp: Float64Array
  portVolt: Float64Array
  /** No state of all parts was found that is consistent. */
  doubtful?: true
}

/** Most circuits settle before; what goes to and fro after so many is led downhill. */
const DESCENDING_TRIES = 12
const MOST_TRIES = 60
/** What still changes after so many tries is what cannot be decided. */
const SETTLED_TRIES = 30
/** After so many, foldback supplies are tried out of their limit. */
const RELEASED_TRIES = 25
/** Rails as good as dead: which of them is the higher one drives no current that counts, V. */
const DEAD_VOLT = 0.05
/** A rectifier so near to its edge carries next to nothing either way, V. */
const EDGE_VOLT = 1e-3

const folds = (t: Topology) => t.supplies.some((s) => s.plan.limit === 'foldback')

/** @param h length of the step, s */
export function step(t: Topology, from: State, modes: Modes, h: number): Step {
  t.scratch ??= new Scratch(t.ports.length + t.supplies.length, t.loadCount)
  const { scratch } = t
  let matters = false
  // What changes without mattering for a current need not be led anywhere.
  let goesDownhill = false
  for (let tries = 0; ; tries++) {
    for (const { loads } of t.ports)
      for (const { load, index } of loads)
        scratch.companion(load, index, from.volt[index]!, from.stay[index]!, modes.gives[index] === 1, h)
    if (goesDownhill) descend(t, scratch, from, modes, h)
    fill(t, scratch, from, modes, h)
    if (!scratch.solve(scratch.x.length)) scratch.x.fill(0)
    const found = read(t, scratch, from, modes, h)
    const changed = revise(t, modes, found, scratch.x, tries)
    if (changed === NOTHING) return found
    goesDownhill = changed === MATTERS && (folds(t) ? tries === RELEASED_TRIES : tries >= DESCENDING_TRIES)
    if (tries >= SETTLED_TRIES && changed === MATTERS) matters = true
    if (tries >= MOST_TRIES) return matters ? { ...found, doubtful: true } : found
  }
}

function read(t: Topology, scratch: Scratch, from: State, modes: Modes, h: number): Step {
  const n = t.ports.length
  const { x } = scratch
  const state: State = {
    volt: new Float64Array(t.loadCount),
    stay: new Float64Array(t.loadCount),
    supply: x.slice(n),
  }
  t.ports.forEach(({ loads }, p) => {
    for (const { load, index } of loads) {
      const amp = modes.conducts[index] ? scratch.siemens[index]! * Math.abs(x[p]!) - scratch.amp[index]! : 0
      const volt = (scratch.k[index]! + amp) / scratch.a[index]!
      state.volt[index] = Math.max(0, volt)
      if (load.stay)
        state.stay[index] =
          from.stay[index]! + (h * scratch.staySiemens[index]! * (volt - from.stay[index]!)) / load.stay.farad
    }
  })
  const sourceAmp = new Float64Array(t.sources.length)
  for (let d = 0; d < sourceAmp.length; d++) {
    const { plan, port, supply, output } = t.sources[d]!
    const s = 1 / Math.max(LEAST_OHM, plan.ohm)
    if (output === 'braking') sourceAmp[d] = -s * x[port]!
    else if (output === 'driving')
      sourceAmp[d] =
        modes.source[d] === 'held' ? plan.holdsAmp : s * (x[n + supply]! - plan.dropVolt - x[port]!)
  }
  const supplyAmp = new Float64Array(t.supplies.length)
  for (let k = 0; k < supplyAmp.length; k++) {
    const { plan, volt, on } = t.supplies[k]!
    if (!on || modes.supply[k] === 'blocked') continue
    if (modes.supply[k] === 'free') supplyAmp[k] = (volt - x[n + k]!) / Math.max(LEAST_OHM, plan.ohm)
    else if (plan.limit !== 'foldback') supplyAmp[k] = plan.limitAmp
    else {
      const short = plan.shortAmp ?? 0
      supplyAmp[k] = short + ((plan.limitAmp - short) * x[n + k]!) / plan.volt
    }
  }
  return { state, sourceAmp, supplyAmp, portVolt: x.slice(0, n) }
}

const NOTHING = 0
const TRIFLE = 1
const MATTERS = 2

/** Parts that cannot be in the state that was tried change it. @returns whether any did that matters for a current */
function revise(t: Topology, modes: Modes, found: Step, x: Float64Array, tries: number): 0 | 1 | 2 {
  const n = t.ports.length
  let changed: 0 | 1 | 2 = NOTHING
  // After a while one part at a time, so that two cannot chase each other.
  const may = () => changed === NOTHING || tries < 20
  const change = (isTrifle: boolean) => {
    if (!isTrifle) changed = MATTERS
    else if (changed === NOTHING) changed = TRIFLE
  }
  t.ports.forEach(({ loads }, p) => {
    const rail = Math.abs(x[p]!)
    if (modes.sign[p]! * x[p]! < -1e-6 && may()) {
      modes.sign[p] = -modes.sign[p]!
      change(rail < DEAD_VOLT || !isFed(t, p))
    }
    for (const { load, index } of loads) {
      const conducts = rail >= found.state.volt[index]! ? 1 : 0
      if (conducts !== modes.conducts[index] && may()) {
        modes.conducts[index] = conducts
        change(Math.abs(rail - found.state.volt[index]!) < EDGE_VOLT || !isFed(t, p))
      }
      if (!load.stay) continue
      const gives = found.state.stay[index]! > found.state.volt[index]! ? 1 : 0
      if (gives !== modes.gives[index] && may()) {
        modes.gives[index] = gives
        change(Math.abs(found.state.stay[index]! - found.state.volt[index]!) < EDGE_VOLT)
      }
    }
  })
  let bySupply = false
  t.supplies.forEach(({ plan, volt, on }, k) => {
    if (!on) return
    const out = x[n + k]!
    const free = (volt - out) / Math.max(LEAST_OHM, plan.ohm)
    const most = plan.limit === 'none' ? Number.POSITIVE_INFINITY : plan.limitAmp
    const held: SupplyMode = free < -1e-9 ? 'blocked' : free > most * (1 + 1e-9) ? 'limited' : 'free'
    // Out of either limit it is free first: at once into the other one would go to and fro for ever.
    const wanted = modes.supply[k] === 'free' || held === modes.supply[k] ? held : 'free'
    if (wanted !== modes.supply[k] && may()) {
      modes.supply[k] = wanted
      change(false)
      bySupply = true
      // What its sources hold was found with another voltage.
      if (wanted === 'limited')
        t.sources.forEach((source, d) => {
          if (source.supply === k) modes.source[d] = 'free'
        })
    }
  })
  if (bySupply) return MATTERS
  t.sources.forEach(({ plan, port, supply, output }, d) => {
    if (output !== 'driving' || plan.holdsAmp === Number.POSITIVE_INFINITY) return
    const free = (x[n + supply]! - plan.dropVolt - x[port]!) / Math.max(LEAST_OHM, plan.ohm)
    const wanted: SourceMode = free > plan.holdsAmp * (1 + 1e-9) ? 'held' : 'free'
    if (wanted !== modes.source[d] && may()) {
      modes.source[d] = wanted
      change(false)
    }
  })
  return changed
}

/** Whether a driving source reaches a port: on rails that none does, no choice of polarity changes what a source gives. */
function isFed(t: Topology, port: number): boolean {
  if (t.fed) return t.fed[port] === 1
  const fed = new Uint8Array(t.ports.length)
  const next = t.sources.flatMap((s) => (s.output === 'driving' ? [s.port] : []))
  for (let p = next.pop(); p !== undefined; p = next.pop()) {
    if (fed[p]) continue
    fed[p] = 1
    t.siemens[p]!.forEach((s, q) => {
      // What rounding leaves between separate rails is no wire.
      if (Math.abs(s) > LEAK) next.push(q)
    })
    for (const { from, to } of t.bridges)
      if (from === p) next.push(to)
      else if (to === p) next.push(from)
  }
  t.fed = fed
  return fed[port] === 1
}
