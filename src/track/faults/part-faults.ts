/** One fault after the other in one part of a network: what each does to the part's places. */
import { type Circuit, drawn, type ElectricalLoad } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { CUT_OFF_OHM } from '../network/network.js'
import type { NetworkPart } from '../network/parts.js'
import { type EdgeChange, Update } from '../network/sparse/update.js'

/** The worst of a part; places are counted through it, −1: none. */
export interface Extremes {
  /** The loads find a steady state. */
  solved: boolean
  volt: number
  voltPlace: number
  /** Least short current as a share of the trip current, or A where there is no trip level. */
  short: number
  shortPlace: number
  /** The first place without feed. */
  cutOff: number
}

export interface Tried extends Extremes {
  /** Swapped feeder: current out of a district without any train, as a share of its trip current or in A. */
  idle: number | undefined
}

export interface FaultChange {
  changes: readonly EdgeChange[]
  swapped: boolean
}

export class PartFaults {
  readonly #circuit: Circuit
  readonly #part: NetworkPart
  readonly #loads: readonly ElectricalLoad[]
  readonly #contactOhm: number
  /** By place of the part. */
  readonly #plus: Int32Array
  readonly #minus: Int32Array
  readonly #ohm: Float64Array
  readonly #open: Float64Array
  readonly #trip: Float64Array
  readonly #limit: Float64Array
  /** Nothing can lift a place above what the part's sources in series would give, V. */
  readonly #mostVolt: number
  #network:
    | { loadOhm: Float64Array[]; loadOpen: number[]; injected: Float64Array; solved: Float64Array }
    | undefined
  readonly #scratch: Float64Array[] = []

  constructor(circuit: Circuit, part: NetworkPart, loads: readonly ElectricalLoad[], contactOhm: number) {
    const { net, rowOf } = circuit.layout
    this.#circuit = circuit
    this.#part = part
    this.#loads = loads
    this.#contactOhm = contactOhm
    const places = Array.from(part.places, (p) => net.places[p]!)
    this.#plus = Int32Array.from(places, (p) => rowOf[p.a]!)
    this.#minus = Int32Array.from(places, (p) => rowOf[p.b]!)
    this.#ohm = Float64Array.from(part.places, (p) => circuit.placeOhm[p]!)
    this.#open = Float64Array.from(places, (p) => circuit.across(circuit.open, p.a, p.b))
    const source = (track: number) => net.sources[net.districtOfTrack[track]!]!
    this.#trip = Float64Array.from(places, (p) => source(p.track).tripAmp ?? 1)
    this.#limit = Float64Array.from(places, (p) => source(p.track).limitAmp ?? Number.POSITIVE_INFINITY)
    this.#mostVolt = part.districts.reduce((sum, d) => sum + circuit.openVolt(d), 0) * (1 + 1e-6)
  }

  /** What beside numbers the results depend on. */
  get text(): string {
    return this.#loads.map((l) => l.law).join()
  }

  /** @param network its {@link numbersOf} */
  dependence(network: readonly number[], faults: readonly FaultChange[]): Float64Array {
    const { layout } = this.#circuit
    const { net, rowOf } = layout
    const own = new Map<number, number>()
    this.#part.nodes.forEach((node, i) => {
      if (rowOf[node]! >= 0) own.set(rowOf[node]!, i)
    })
    const at = (row: number) => (row < 0 ? -1 : own.get(row)!)
    const list = [...network, this.#contactOhm, this.#mostVolt, this.#loads.length, faults.length]
    for (const numbers of [this.#ohm, this.#trip, this.#limit]) for (const x of numbers) list.push(x)
    for (const { a, b, amp, minVolt } of this.#loads) list.push(at(rowOf[a]!), at(rowOf[b]!), amp, minVolt)
    for (const d of this.#part.districts) {
      const { a, b } = net.terminals[d]!
      const { sourceOhm, limitAmp, tripAmp } = net.sources[d]!
      list.push(
        at(rowOf[a]!),
        at(rowOf[b]!),
        sourceOhm,
        limitAmp ?? -1,
        tripAmp ?? -1,
        this.#circuit.openVolt(d),
      )
    }
    for (const { changes, swapped } of faults) {
      list.push(changes.length, swapped ? 1 : 0)
      for (const c of changes) list.push(at(c.from), at(c.to), c.deltaSiemens)
    }
    return Float64Array.from(list)
  }

  /** Without any fault. */
  get sound(): Extremes {
    const x = this.#solvedWith(undefined)
    return this.#extremes(x, undefined, undefined, undefined)
  }

  /** @returns `undefined` where the network cannot be solved with the fault. */
  withFault({ changes, swapped }: FaultChange): Tried | undefined {
    const circuit = this.#circuit
    let update: Update
    try {
      update = new Update(circuit.factor, changes, this.#scratch)
    } catch {
      return undefined
    }
    const x = this.#solvedWith(update)
    const idle = swapped ? update.weights(circuit.open) : undefined
    const extremes = this.#extremes(x, update, x && update.weights(x), idle)
    return { ...extremes, idle: idle && this.#idle(update, idle) }
  }

  #idle(update: Update, weights: Float64Array): number {
    const circuit = this.#circuit
    const { net, rowOf } = circuit.layout
    const seen = new Float64Array(update.rank)
    let most = 0
    for (const d of this.#part.districts) {
      const { a, b } = net.terminals[d]!
      update.seen(rowOf[a]!, rowOf[b]!, seen)
      const source = net.sources[d]!
      const lost = circuit.openVolt(d) - circuit.across(circuit.open, a, b) + dot(weights, seen)
      const amp = Math.min(lost / source.sourceOhm, source.limitAmp ?? Number.POSITIVE_INFINITY)
      most = Math.max(most, amp / (source.tripAmp ?? 1))
    }
    return most
  }

  #extremes(
    x: Float64Array | undefined,
    update: Update | undefined,
    weights: Float64Array | undefined,
    openWeights: Float64Array | undefined,
  ): Extremes {
    const at = (row: number) => (row < 0 ? 0 : x![row]!)
    const seen = new Float64Array(update?.rank ?? 0)
    const found = {
      volt: Number.POSITIVE_INFINITY,
      voltPlace: -1,
      short: Number.POSITIVE_INFINITY,
      shortPlace: -1,
    }
    let cutOff = -1
    let most = 0
    for (let p = 0; p < this.#plus.length; p++) {
      const [plus, minus] = [this.#plus[p]!, this.#minus[p]!]
      let ohm = this.#ohm[p]!
      if (update) {
        update.seen(plus, minus, seen)
        ohm = update.between(seen, ohm)
      }
      if (!(Math.abs(ohm) < CUT_OFF_OHM)) {
        if (cutOff < 0) cutOff = p
        continue
      }
      if (x) {
        const v = Math.abs(at(plus) - at(minus) - (weights ? dot(weights, seen) : 0))
        most = Math.max(most, v)
        if (isLower(p, v, found.voltPlace, found.volt)) {
          found.volt = v
          found.voltPlace = p
        }
      }
      const free = Math.abs(this.#open[p]! - (openWeights ? dot(openWeights, seen) : 0))
      const share = Math.min(free / (ohm + this.#contactOhm + 1e-9), this.#limit[p]!) / this.#trip[p]!
      if (isLower(p, share, found.shortPlace, found.short)) {
        found.short = share
        found.shortPlace = p
      }
    }
    return { ...found, cutOff, solved: x !== undefined && most <= this.#mostVolt }
  }

  /** Voltages by row of the unchanged network with the currents that the loads draw in the changed one. */
  #solvedWith(update: Update | undefined): Float64Array | undefined {
    const circuit = this.#circuit
    const { rowOf, rows } = circuit.layout
    const loads = this.#loads
    if (!this.#network) {
      const columns = loads.map((l) => circuit.unit(l.a, l.b))
      this.#network = {
        loadOhm: loads.map((l) => Float64Array.from(columns, (u) => circuit.across(u, l.a, l.b))),
        loadOpen: loads.map((l) => circuit.across(circuit.open, l.a, l.b)),
        injected: new Float64Array(rows),
        solved: new Float64Array(rows),
      }
    }
    const { loadOhm, loadOpen, injected, solved } = this.#network
    let open: readonly number[] = loadOpen
    let ohm: readonly Float64Array[] = loadOhm
    if (update) {
      const seen = loads.map((l) => update.seen(rowOf[l.a]!, rowOf[l.b]!, new Float64Array(update.rank)))
      const openWeights = update.weights(circuit.open)
      open = loadOpen.map((volt, i) => volt - dot(openWeights, seen[i]!))
      ohm = loadOhm.map((own, i) => {
        const line = update.apply(seen[i]!)
        return own.map((r, j) => r - dot(line, seen[j]!))
      })
    }
    const amp = settle(loads, loadOpen, open, ohm)
    if (!amp) return undefined
    injected.fill(0)
    loads.forEach((l, i) => {
      const [p, q] = [rowOf[l.a]!, rowOf[l.b]!]
      if (p >= 0) injected[p]! -= amp[i]!
      if (q >= 0) injected[q]! += amp[i]!
    })
    circuit.factor.solve(injected, solved)
    for (let k = 0; k < solved.length; k++) solved[k]! += circuit.open[k]!
    return solved
  }
}

function dot(a: ArrayLike<number>, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}

/**
 * Load currents by repeated substitution from no load: v = open − R·i(v). It comes down to the solution of highest
 * voltage; where it swings or creeps, half steps are tried.
 * @returns `undefined` when it does not settle.
 */
function settle(
  loads: readonly ElectricalLoad[],
  reference: readonly number[],
  open: readonly number[],
  ohm: readonly Float64Array[],
): Float64Array | undefined {
  const scale = Math.max(1e-9, ...open.map(Math.abs))
  const amp = new Float64Array(loads.length)
  for (const share of [1, 0.5, 0.1, 0.02]) {
    const volt = Float64Array.from(open)
    for (let round = 0; round < 40 / share; round++) {
      for (let i = 0; i < loads.length; i++) amp[i] = drawn(loads[i]!, volt[i]!, reference[i]!)[0]
      let off = 0
      for (let i = 0; i < loads.length; i++) {
        // A cut-off load floats: it has no voltage and draws nothing.
        const step = ohm[i]![i]! > CUT_OFF_OHM ? -volt[i]! : open[i]! - dot(ohm[i]!, amp) - volt[i]!
        off = Math.max(off, Math.abs(step))
        volt[i]! += ohm[i]![i]! > CUT_OFF_OHM ? step : share * step
      }
      if (off <= 1e-9 * scale) return amp
      if (!Number.isFinite(off)) break
    }
  }
  return undefined
}
