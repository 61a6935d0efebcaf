/**
 * Rails and wires with faults in them: what a meter shows, from the railroad's own network. A fault is a change of a few
 * edges of the factored network. Everything is linear: trains are off, and the test load is a resistor.
 */
import {
  type Circuit,
  CUT_OFF_OHM,
  type DistrictSource,
  EDGE,
  type EdgeChange,
  modelPlan,
  type Network,
  type TrackInput,
  type TrackLayout,
  Update,
} from '../../track/index.js'

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

export interface JointRail {
  edge: number
  joint: number
  name: string
  side: 'left' | 'right'
}

/** What is left of an opened wire, S. */
const LEAK = 1e-6
const ends = ['low', 'high'] as const
type End = (typeof ends)[number]

export class Wiring {
  readonly plan: TrackLayout
  readonly net: Network
  readonly joints: readonly JointRail[]
  /** By feeder: the edges of its wires A and B; absent where the design leaves it open. */
  readonly feeders: ReadonlyMap<number, { A: number; B: number }>
  /** Place in the middle of each track. */
  readonly placeOf: readonly number[]
  readonly #circuit: Record<End, Circuit>
  readonly #columns: Record<End, Map<string, Float64Array>> = { low: new Map(), high: new Map() }

  /** @param plan of the model without faults */
  constructor(plan: TrackLayout, sources: TrackInput['sources']) {
    const flat = new Map(
      [...sources].map(([name, s]): [string, DistrictSource] => {
        const { usual } = s.openVolt
        // The supply's own tolerance is weighed apart, as all readings share it.
        return [name, { ...s, openVolt: { low: usual, usual, high: usual }, beside: [] }]
      }),
    )
    const model = modelPlan(plan, flat)
    this.plan = model.plan
    this.net = model.net
    this.#circuit = { low: model.bestCase, high: model.worstCase }
    const { net } = this
    const joints: JointRail[] = []
    const feeders = new Map<number, { A: number; B: number }>()
    for (let e = 0; e < net.from.length; e++) {
      const own = net.owner[e]!
      if (net.kind[e] === EDGE.feeder) {
        const had = feeders.get(own)
        if (had) had.B = e
        else feeders.set(own, { A: e, B: e })
      } else if (net.kind[e] === EDGE.joiner) {
        const joint = plan.joints[own]!
        const second = joints.at(-1)?.joint === own
        joints.push({
          edge: e,
          joint: own,
          name: joint.name,
          side: joint.gapL || second ? 'right' : 'left',
        })
      }
    }
    this.joints = joints
    this.feeders = feeders
    this.placeOf = plan.tracks.map((_, t) => (net.placeStart[t]! + net.placeStart[t + 1]! - 1) >> 1)
  }

  /** Usual voltage of a district without load, V. */
  openVolt(district: number): number {
    return this.#circuit.low.openVolt(district)
  }

  /** @throws RangeError where the change cuts a part off for good. */
  with(edits: readonly WiringEdit[]): FaultyWiring {
    return new FaultyWiring(this, edits, this.#circuit, (end, a, b) => {
      const key = `${a},${b}`
      const had = this.#columns[end].get(key)
      if (had) return had
      const made = this.#circuit[end].unit(a, b)
      this.#columns[end].set(key, made)
      return made
    })
  }
}

interface Pair {
  a: number
  b: number
}

/** One corner of the network with its changes. */
interface Side {
  circuit: Circuit
  update: Update
  open: Float64Array
  /** By changed edge: its new conductance, S. */
  siemens: Map<number, number>
}

export class FaultyWiring {
  readonly #wiring: Wiring
  readonly #sides: Record<End, Side>
  readonly #column: (end: End, a: number, b: number) => Float64Array
  readonly #seen: Record<End, Map<number, Float64Array>> = { low: new Map(), high: new Map() }
  readonly #reported = new Map<number, { volt: Span; ohm: Span; amp: Span }>()

  constructor(
    wiring: Wiring,
    edits: readonly WiringEdit[],
    circuits: Record<End, Circuit>,
    column: (end: End, a: number, b: number) => Float64Array,
  ) {
    this.#wiring = wiring
    this.#column = column
    const side = (end: End): Side => {
      const circuit = circuits[end]
      const siemens = new Map<number, number>()
      const changes = edits.flatMap((edit) => changesOf(wiring, circuit, edit, end, siemens))
      const update = new Update(circuit.factor, changes)
      return { circuit, update, open: update.weights(circuit.open), siemens }
    }
    this.#sides = { low: side('low'), high: side('high') }
  }

  /** Between the terminals of a district's source: voltage without load, resistance, current out of the source. */
  terminals(district: number): { volt: Span; ohm: Span; amp: Span } {
    const had = this.#reported.get(district)
    if (had) return had
    const pair = this.#wiring.net.terminals[district]!
    const both = (f: (end: End) => number) => ({ low: f('low'), high: f('high') })
    const volt = both((end) => this.#openVolt(end, pair))
    const made = {
      volt,
      ohm: both((end) => this.#ohm(end, pair)),
      amp: both((end) => {
        const { circuit } = this.#sides[end]
        return Math.max(0, (circuit.openVolt(district) - volt[end]) / circuit.sourceOhm(district))
      }),
    }
    this.#reported.set(district, made)
    return made
  }

  /** In the middle of a track: voltage without load and resistance; `cutOff` where nothing feeds it any more. */
  track(track: number): { volt: Span; ohm: Span; cutOff: boolean } {
    const pair = this.#wiring.net.places[this.#wiring.placeOf[track]!]!
    const ohm = { low: this.#ohm('low', pair), high: this.#ohm('high', pair) }
    return {
      volt: { low: Math.abs(this.#openVolt('low', pair)), high: Math.abs(this.#openVolt('high', pair)) },
      ohm,
      cutOff: !(ohm.low < CUT_OFF_OHM && ohm.high < CUT_OFF_OHM),
    }
  }

  /** Current through an edge with a resistor across the rails of a track, A, and the voltage along it, V. */
  along(edge: number, track: number, loadOhm: number): { amp: Span; volt: Span } {
    const { net, placeOf } = this.#wiring
    const place = net.places[placeOf[track]!]!
    const pair = { a: net.from[edge]!, b: net.to[edge]! }
    const one = (end: End) => {
      const { circuit, siemens, update } = this.#sides[end]
      const load = this.#openVolt(end, place) / (loadOhm + this.#ohm(end, place))
      const base = circuit.across(this.#column(end, place.a, place.b), pair.a, pair.b)
      const lost = dot(update.apply(this.#see(end, place)), this.#see(end, pair))
      const volt = Math.abs(this.#openVolt(end, pair) - load * (base - lost))
      return { volt, amp: volt * (siemens.get(edge) ?? circuit.siemens[edge]!) }
    }
    const [low, high] = [one('low'), one('high')]
    return { amp: { low: low.amp, high: high.amp }, volt: { low: low.volt, high: high.volt } }
  }

  #openVolt(end: End, pair: Pair): number {
    const { circuit, open } = this.#sides[end]
    return circuit.across(circuit.open, pair.a, pair.b) - dot(open, this.#see(end, pair))
  }

  #ohm(end: End, pair: Pair): number {
    const { circuit, update } = this.#sides[end]
    const base = circuit.across(this.#column(end, pair.a, pair.b), pair.a, pair.b)
    return Math.abs(update.between(this.#see(end, pair), base))
  }

  #see(end: End, { a, b }: Pair): Float64Array {
    const key = a * this.#wiring.net.size + b
    const had = this.#seen[end].get(key)
    if (had) return had
    const { circuit, update } = this.#sides[end]
    const { rowOf } = circuit.layout
    const made = update.seen(rowOf[a]!, rowOf[b]!, new Float64Array(update.rank))
    this.#seen[end].set(key, made)
    return made
  }
}

function changesOf(
  { net, feeders, placeOf }: Wiring,
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

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}
