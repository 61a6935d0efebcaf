/**
 * Volts and amperes of the whole railroad over time. Only a change starts a new calculation; it runs ahead in steps that
 * grow as things settle, and between two of its points currents and voltages are straight lines.
 */

import { Modes, type Port, type State, type Topology } from './equations.js'
import type { RailNetwork, Spot } from './network.js'
import type { Bridge, DriverOutput, RailLoad, Short, SourcePlan, SupplyPlan } from './parts.js'
import { type Step, step } from './transient.js'

/** An instant of the calculation. */
export interface Instant {
  timeUs: number
  state: State
  /** Out of each source, A. */
  sourceAmp: Float64Array
  supplyAmp: Float64Array
  /** By port, V. */
  portVolt: Float64Array
  /** No consistent state of all limits and rectifiers was found. */
  doubtful?: true
}

export interface SupplyNow {
  plan: SupplyPlan
  /** What it gives without load now, V. */
  volt: number
  on: boolean
}

const FIRST_STEP_US = 0.5
/** Where no current jumps, because capacitors hold what they have; the check of each step shortens it where that is too long. */
const FIRST_STEP_AFTER_LOAD_US = 20
/** Less is no jump, A. */
const JUMPS_AMP = 1e-3
const LONGEST_STEP_US = 20e3
/** What a step may be wrong by: of a current, A, and as a share of it. */
const WRONG_AMP = 2e-3
const WRONG_SHARE = 1e-3
/** Of a capacitor's voltage, V. */
const WRONG_VOLT = 0.02
/** Within a step so short, us, nothing that bends is looked for. */
const BENT_US = 5
/** Nothing moves any more when no current changes by as much, A. */
const SETTLED_AMP = 2e-4
const MOST_POINTS = 4000
/** Arrangements of trains whose conductances are kept. */
const MOST_KEPT = 500

export class Rails {
  readonly network: RailNetwork
  readonly supplies: SupplyNow[]
  readonly sources: { plan: SourcePlan; output: DriverOutput }[]
  readonly loads: RailLoad[] = []
  readonly shorts = new Map<string, Short>()
  readonly bridges = new Map<string, Bridge>()
  /** Told of every stretch of time that is over, in order, each with its two ends. */
  onPassed: ((from: Instant, to: Instant) => void) | undefined
  #points: Instant[] = []
  #spots: Spot[] = []
  #topology: Topology | undefined
  #modes: Modes | undefined
  #settled = true
  /** Up to here time has been passed on. */
  #passed = 0
  #nextStepUs = FIRST_STEP_US
  #state: State
  /** Instants at which no consistent state of all limits and rectifiers was found. */
  doubtful = 0
  /** First of those that time has passed, us. */
  #doubtedUs = Number.POSITIVE_INFINITY
  readonly #conductances = new Map<string, readonly Float64Array[]>()

  constructor(network: RailNetwork, supplies: readonly SupplyPlan[], sources: readonly SourcePlan[]) {
    this.network = network
    this.supplies = supplies.map((plan) => ({ plan, volt: plan.volt, on: true }))
    this.sources = sources.map((plan) => ({ plan, output: 'open' }))
    this.#state = {
      volt: new Float64Array(0),
      stay: new Float64Array(0),
      supply: Float64Array.from(supplies, (s) => s.volt),
    }
  }

  /** Change something at an instant; nothing may be asked of before it afterwards. */
  change(timeUs: number, apply?: () => void): void {
    const now = this.at(timeUs)
    this.#pass(timeUs, now)
    for (const [i, load] of this.loads.entries()) {
      load.volt = now.state.volt[i]!
      if (load.stay) load.stay.volt = now.state.stay[i]!
    }
    apply?.()
    this.#state = {
      volt: Float64Array.from(this.loads, (l) => l.volt),
      stay: Float64Array.from(this.loads, (l) => l.stay?.volt ?? 0),
      supply: now.state.supply,
    }
    this.#topology = undefined
    this.#settled = false
    this.#nextStepUs = FIRST_STEP_US
    this.#points = []
    this.#start(timeUs)
    if (farthest(this.#points[0]!.sourceAmp, now.sourceAmp) < JUMPS_AMP)
      this.#nextStepUs = FIRST_STEP_AFTER_LOAD_US
  }

  /** The first instant after a change. */
  #start(timeUs: number): void {
    const t = this.#build()
    this.#modes = new Modes(t)
    // The capacitors hold what they have; currents jump.
    const first = step(t, this.#state, this.#modes, 1e-12)
    if (first.doubtful) this.doubtful++
    this.#points.push({ timeUs, ...first, state: this.#state })
  }

  #build(): Topology {
    const { network } = this
    const spots: Spot[] = []
    const portOf = (spot: Spot) => {
      const at = spots.indexOf(spot)
      return at >= 0 ? at : spots.push(spot) - 1
    }
    const terminals = this.sources.map((_, d) => portOf(network.terminals(d)))
    const touching = this.loads.map((l) => (l.contact ? portOf(l.spot) : -1))
    const shorts = [...this.shorts.values()].map((s) => ({ port: portOf(s.spot), ohm: s.ohm }))
    const bridges = [...this.bridges.values()].map((b) => ({
      ...b,
      from: portOf(b.from),
      to: portOf(b.to),
    }))
    this.#spots = spots
    // What touches nothing has a port of its own, without any rail.
    const off = spots.length
    const apart = touching.some((p) => p < 0)
    const n = off + (apart ? 1 : 0)
    const key = `${network.version} ${spots.join()}`
    let inner = this.#conductances.get(key)
    if (!inner) {
      if (this.#conductances.size > MOST_KEPT) this.#conductances.clear()
      inner = network.conductances(spots)
      this.#conductances.set(key, inner)
    }
    const siemens = Array.from({ length: n }, (_, i) => {
      const line = new Float64Array(n)
      if (i < off) line.set(inner![i]!)
      return line
    })
    const ports = Array.from({ length: n }, (): Port => ({ loads: [], shortSiemens: 0 }))
    for (const [index, load] of this.loads.entries()) {
      const p = touching[index]!
      ports[p < 0 ? off : p]!.loads.push({ load, index })
    }
    for (const { port, ohm } of shorts) ports[port]!.shortSiemens += 1 / Math.max(1e-4, ohm)
    this.#topology = {
      ports,
      siemens,
      bridges,
      loadCount: this.loads.length,
      supplies: this.supplies,
      sources: this.sources.map(({ plan, output }, d) => ({
        plan,
        output,
        port: terminals[d]!,
        supply: this.supplies.findIndex((s) => s.plan.name === plan.supply),
      })),
    }
    return this.#topology
  }

  /** Calculate up to a time at least. */
  ahead(untilUs: number): void {
    if (this.#points.length === 0) this.#start(0)
    const topology = this.#topology!
    for (;;) {
      const last = this.#points.at(-1)!
      if (last.timeUs >= untilUs) return
      if (this.#settled || this.#points.length > MOST_POINTS) {
        this.#points.push({ ...last, timeUs: untilUs })
        return
      }
      this.#points.push(this.#advance(topology, last))
    }
  }

  /** One step whose error is small: a whole one against two halves. */
  #advance(topology: Topology, last: Instant): Instant {
    const modes = this.#modes!
    for (;;) {
      const us = this.#nextStepUs
      const whole = step(topology, last.state, modes, us * 1e-6)
      const half = step(topology, last.state, modes, us * 0.5e-6)
      const two = step(topology, half.state, modes, us * 0.5e-6)
      const wrong = Math.max(this.#wrong(whole, two), us > BENT_US ? this.#bend(last, half, two) : 0)
      if (wrong > 1 && us > 0.01) {
        this.#nextStepUs = us * Math.max(0.2, 0.8 / Math.sqrt(wrong))
        continue
      }
      this.#nextStepUs = Math.min(LONGEST_STEP_US, us * Math.min(3, 0.9 / Math.sqrt(Math.max(wrong, 0.05))))
      if (two.doubtful) this.doubtful++
      const better = refine(topology, whole, two)
      const moved = farthest(better.sourceAmp, last.sourceAmp)
      const charge =
        farthest(better.state.volt, last.state.volt) + farthest(better.state.stay, last.state.stay)
      if (us >= 1000 && moved < SETTLED_AMP && charge < 1e-3) this.#settled = true
      return { timeUs: last.timeUs + us, ...better, ...(two.doubtful ? { doubtful: true } : {}) }
    }
  }

  #wrong(whole: Step, two: Step): number {
    let most = 0
    for (let i = 0; i < two.sourceAmp.length; i++) {
      const allowed = WRONG_AMP + WRONG_SHARE * Math.abs(two.sourceAmp[i]!)
      most = Math.max(most, Math.abs(two.sourceAmp[i]! - whole.sourceAmp[i]!) / allowed)
    }
    for (let i = 0; i < two.state.volt.length; i++)
      most = Math.max(most, Math.abs(two.state.volt[i]! - whole.state.volt[i]!) / WRONG_VOLT)
    // A supply's output follows its currents at once, unless it has capacitors.
    for (let i = 0; i < this.supplies.length; i++)
      if (this.supplies[i]!.plan.farad)
        most = Math.max(most, Math.abs(two.state.supply[i]! - whole.state.supply[i]!) / WRONG_VOLT)
    return most
  }

  /**
   * How far the middle of a step lies off the straight line that stands for the step. Both ends of it may be right while in
   * between a capacitor is drained and its rectifier begins to conduct.
   */
  #bend(from: Instant, middle: Step, to: Step): number {
    let most = 0
    for (let i = 0; i < to.sourceAmp.length; i++) {
      const off = middle.sourceAmp[i]! - (from.sourceAmp[i]! + to.sourceAmp[i]!) / 2
      most = Math.max(most, Math.abs(off) / (WRONG_AMP + WRONG_SHARE * Math.abs(to.sourceAmp[i]!)))
    }
    for (let i = 0; i < to.state.volt.length; i++) {
      const off = middle.state.volt[i]! - (from.state.volt[i]! + to.state.volt[i]!) / 2
      most = Math.max(most, Math.abs(off) / WRONG_VOLT)
    }
    return most
  }

  /** The state at a time not before the latest change. */
  at(timeUs: number): Instant {
    this.ahead(timeUs)
    const i = this.#after(timeUs)
    const [a, b] = [this.#points[Math.max(0, i - 1)]!, this.#points[i]!]
    if (b.timeUs <= timeUs || a === b) return b.timeUs === timeUs ? b : { ...b, timeUs }
    return between(a, b, timeUs)
  }

  /** Number of the first point at or after a time. */
  #after(timeUs: number): number {
    let i = this.#points.length - 1
    while (i > 0 && this.#points[i - 1]!.timeUs >= timeUs) i--
    return i
  }

  /** Current out of a source, A. */
  sourceAmp(source: number, timeUs: number): number {
    this.ahead(timeUs)
    const i = this.#after(timeUs)
    const [a, b] = [this.#points[Math.max(0, i - 1)]!, this.#points[i]!]
    const share =
      b.timeUs > a.timeUs ? Math.min(1, Math.max(0, (timeUs - a.timeUs) / (b.timeUs - a.timeUs))) : 1
    return a.sourceAmp[source]! + share * (b.sourceAmp[source]! - a.sourceAmp[source]!)
  }

  /** The points from the latest change on, in the order of time. */
  get points(): readonly Instant[] {
    return this.#points
  }

  /** Voltage across the rails at a spot where something is connected, V; 0 where nothing is. */
  voltAt(spot: Spot, timeUs: number): number {
    const port = this.#spots.indexOf(spot)
    return port < 0 ? 0 : Math.abs(this.at(timeUs).portVolt[port]!)
  }

  /** First instant until a time whose currents are doubtful, us; Infinity where none is. */
  doubtedUntil(timeUs: number): number {
    for (const p of this.#points)
      if (p.doubtful && p.timeUs <= timeUs) this.#doubtedUs = Math.min(this.#doubtedUs, p.timeUs)
    return this.#doubtedUs
  }

  #pass(timeUs: number, now: Instant): void {
    this.doubtedUntil(timeUs)
    let before: Instant | undefined
    for (const point of this.#points) {
      if (point.timeUs >= timeUs) break
      if (before && point.timeUs > this.#passed) this.onPassed?.(before, point)
      before = point
    }
    if (before && timeUs > before.timeUs) this.onPassed?.(before, now)
    this.#passed = timeUs
  }

  /** Let go of what is over; more of it will not be asked. */
  forget(timeUs: number): void {
    if (this.#points.length < 2) return
    const now = this.at(timeUs)
    this.#pass(timeUs, now)
    const kept = this.#points.filter((p) => p.timeUs > timeUs)
    this.#points = [now, ...kept]
  }
}

/**
 * Richardson: the error of backward Euler falls with the length of the step. The result takes the place of `two`. What is
 * extrapolated past the instant at which a limit takes hold stays within that limit.
 */
function refine(t: Topology, whole: Step, two: Step): Step {
  better(whole.state.volt, two.state.volt, 0)
  better(whole.state.stay, two.state.stay, 0)
  better(whole.state.supply, two.state.supply)
  better(whole.sourceAmp, two.sourceAmp, NONE, (d) => t.sources[d]!.plan.holdsAmp)
  better(whole.supplyAmp, two.supplyAmp, NONE, (k) => {
    const { limit, limitAmp } = t.supplies[k]!.plan
    return limit === 'none' ? Number.POSITIVE_INFINITY : limitAmp
  })
  better(whole.portVolt, two.portVolt)
  return two
}

const NONE = Number.NEGATIVE_INFINITY

function better(a: Float64Array, b: Float64Array, least = NONE, most?: (i: number) => number): void {
  for (let i = 0; i < b.length; i++) {
    const found = b[i]!
    const extrapolated = Math.max(least, 2 * found - a[i]!)
    b[i] = most ? Math.min(extrapolated, Math.max(found, most(i))) : extrapolated
  }
}

function farthest(a: Float64Array, b: Float64Array): number {
  let most = 0
  for (let i = 0; i < a.length; i++) most = Math.max(most, Math.abs(a[i]! - b[i]!))
  return most
}

function between(a: Instant, b: Instant, timeUs: number): Instant {
  const share = (timeUs - a.timeUs) / (b.timeUs - a.timeUs)
  return {
    timeUs,
    state: {
      volt: mix(a.state.volt, b.state.volt, share),
      stay: mix(a.state.stay, b.state.stay, share),
      supply: mix(a.state.supply, b.state.supply, share),
    },
    sourceAmp: mix(a.sourceAmp, b.sourceAmp, share),
    supplyAmp: mix(a.supplyAmp, b.supplyAmp, share),
    portVolt: mix(a.portVolt, b.portVolt, share),
  }
}

function mix(x: Float64Array, y: Float64Array, share: number): Float64Array {
  const mixed = new Float64Array(x.length)
  for (let i = 0; i < x.length; i++) mixed[i] = x[i]! + share * (y[i]! - x[i]!)
  return mixed
}
