/**
 * Rails and wires with faults in them: what a meter shows, from the railroad's own network. A fault is a change of a few
 * edges of the factored network. Everything is linear: trains are off, and the test load is a resistor.
 */
import {
  type Circuit,
  CUT_OFF_OHM,
  type DistrictSource,
  EDGE,
  Groups,
  jointKeepsRails,
  modelPlan,
  type Network,
  type TrackInput,
  type TrackLayout,
  Update,
} from '../../track/index.js'
import { changesOf, type End, nodesOf, type Span, type WiringEdit } from './wiring-edit.js'

export interface JointRail {
  edge: number
  joint: number
  name: string
  side: 'left' | 'right'
}

export class Wiring {
  readonly plan: TrackLayout
  readonly net: Network
  readonly joints: readonly JointRail[]
  /** Where both rails are cut: numbers of the joint and of the tracks on either side, and whether the polarity that each is fed with meets its like. */
  readonly gaps: readonly { joint: number; name: string; a: number; b: number; isMatched: boolean }[]
  /** By feeder: the edges of its wires A and B; absent where the design leaves it open. */
  readonly feeders: ReadonlyMap<number, { A: number; B: number }>
  /** Place in the middle of each track. */
  readonly placeOf: readonly number[]
  /** By edge of a joiner: both rails beside it, on its first side; absent where only one of them is joined. */
  readonly #beside: ReadonlyMap<number, Pair>
  /** By node: the number of the part of the network that hangs together. */
  readonly #partOf: readonly number[]
  readonly #circuit: Record<End, Circuit>
  readonly #columns: Record<End, Map<number, Float64Array>> = { low: new Map(), high: new Map() }

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
    const beside = new Map<number, Pair>()
    joints.forEach((left, i) => {
      const right = joints[i + 1]
      if (right?.joint !== left.joint) return
      const pair = { a: net.from[left.edge]!, b: net.from[right.edge]! }
      beside.set(left.edge, pair).set(right.edge, pair)
    })
    this.#beside = beside
    this.gaps = plan.joints.flatMap((j, joint) => {
      if (!(j.gapL && j.gapR)) return []
      const [a, b] = [j.a >> 1, j.b >> 1]
      const isMatched = (net.phase[a] === net.phase[b]) === jointKeepsRails(j)
      return [{ joint, name: j.name, a, b, isMatched }]
    })
    this.feeders = feeders
    this.placeOf = plan.tracks.map((_, t) => (net.placeStart[t]! + net.placeStart[t + 1]! - 1) >> 1)
    const parts = new Groups(net.size)
    for (let e = 0; e < net.from.length; e++) parts.join(net.from[e]!, net.to[e]!)
    this.#partOf = Array.from({ length: net.size }, (_, n) => parts.find(n))
  }

  /** Which parts of the network a place, the terminals of a district or a change belong to. */
  partsOf(at: { track: number } | { district: number } | { edit: WiringEdit }): number[] {
    const nodes =
      'edit' in at
        ? nodesOf(this, at.edit)
        : Object.values(
            'track' in at ? this.net.places[this.placeOf[at.track]!]! : this.net.terminals[at.district]!,
          )
    return [...new Set(nodes.map((n) => this.#partOf[n]!))]
  }

  /** Where the test resistor is for a reading along an edge: beside a joint, or in the middle of a track. */
  loadedAt(edge: number, track: number): Pair {
    return this.#beside.get(edge) ?? this.net.places[this.placeOf[track]!]!
  }

  /** Usual voltage of a district without load, V. */
  openVolt(district: number): number {
    return this.#circuit.low.openVolt(district)
  }

  /**
   * @param scratch to use again for the next one, where this one is then done with
   * @throws RangeError where the change cuts a part off for good.
   */
  with(edits: readonly WiringEdit[], scratch: Scratch = { low: [], high: [] }): FaultyWiring {
    return new FaultyWiring(this, edits, this.#circuit, scratch, (end, { a, b }) => {
      const key = a * this.net.size + b
      const had = this.#columns[end].get(key)
      if (had) return had
      const made = this.#circuit[end].unit(a, b)
      this.#columns[end].set(key, made)
      return made
    })
  }
}

/** Vectors as long as the network has rows. */
export type Scratch = Record<End, Float64Array[]>

interface Pair {
  a: number
  b: number
}

/** One corner of the network with its changes. */
interface Side {
  circuit: Circuit
  update: Update
  /** What each changed edge takes from the voltages without load. */
  open: Float64Array
  /** By changed edge: its new conductance, S. */
  siemens: Map<number, number>
  /** By wire that ends elsewhere now: the node. */
  movedTo: Map<number, number>
  /** What its changes make at a pair of nodes: used again for each. */
  seen: Float64Array
}

/** A pair of nodes in one corner. */
interface Seen {
  /** Response, by row, of the network without changes to one ampere. */
  column: Float64Array
  /** That of each changed edge, through the changes; made where something beside the pair is asked for. */
  applied?: readonly number[]
  volt: number
  ohm: number
}

interface SeenAtTrack {
  low: Seen
  high: Seen
  shown?: ShownAtTrack
}

interface ShownAtTrack {
  volt: Span
  ohm: Span
  cutOff: boolean
}

export class FaultyWiring {
  readonly #wiring: Wiring
  readonly #sides: Record<End, Side>
  readonly #column: (end: End, pair: Pair) => Float64Array
  readonly #terminals: { volt: Span; ohm: Span; amp: Span }[] = []
  readonly #tracks: SeenAtTrack[] = []
  /** By the first node of the pair. */
  readonly #joints = new Map<number, { low: Seen; high: Seen }>()

  constructor(
    wiring: Wiring,
    edits: readonly WiringEdit[],
    circuits: Record<End, Circuit>,
    scratch: Scratch,
    column: (end: End, pair: Pair) => Float64Array,
  ) {
    this.#wiring = wiring
    this.#column = column
    const side = (end: End): Side => {
      const circuit = circuits[end]
      const siemens = new Map<number, number>()
      const movedTo = new Map<number, number>()
      for (const edit of edits)
        if (edit.what === 'swapped feeder') {
          const { A, B } = wiring.feeders.get(edit.feeder)!
          movedTo.set(A, wiring.net.to[B]!).set(B, wiring.net.to[A]!)
        }
      const changes = edits.flatMap((edit) => changesOf(wiring, circuit, edit, end, siemens))
      const update = new Update(circuit.factor, changes, scratch[end])
      const seen = new Float64Array(update.rank)
      return { circuit, update, open: update.weights(circuit.open), siemens, movedTo, seen }
    }
    this.#sides = { low: side('low'), high: side('high') }
  }

  /** Between the terminals of a district's source: voltage without load, resistance, current out of the source. */
  terminals(district: number): { volt: Span; ohm: Span; amp: Span } {
    const had = this.#terminals[district]
    if (had) return had
    const pair = this.#wiring.net.terminals[district]!
    const seen = { low: this.#look('low', pair), high: this.#look('high', pair) }
    const amp = (end: End) => {
      const { circuit } = this.#sides[end]
      return Math.max(0, (circuit.openVolt(district) - seen[end].volt) / circuit.sourceOhm(district))
    }
    const made = {
      volt: { low: seen.low.volt, high: seen.high.volt },
      ohm: { low: seen.low.ohm, high: seen.high.ohm },
      amp: { low: amp('low'), high: amp('high') },
    }
    this.#terminals[district] = made
    return made
  }

  /** In the middle of a track: voltage without load and resistance; `cutOff` where nothing feeds it any more. */
  track(track: number): ShownAtTrack {
    const seen = this.#track(track)
    const { low, high } = seen
    seen.shown ??= {
      volt: { low: Math.abs(low.volt), high: Math.abs(high.volt) },
      ohm: { low: low.ohm, high: high.ohm },
      cutOff: !(low.ohm < CUT_OFF_OHM && high.ohm < CUT_OFF_OHM),
    }
    return seen.shown
  }

  /** In the middle of a track, left rail against right, without load, V. */
  signedVolt(track: number): Span {
    const { low, high } = this.#track(track)
    return { low: low.volt, high: high.volt }
  }

  /** Whether a meter in the middle of a track could show anything else than with those other changes. */
  isLike(other: FaultyWiring, track: number): boolean {
    const own = this.#track(track)
    const its = other.#track(track)
    return isAlike(own.low, its.low) && isAlike(own.high, its.high)
  }

  /** Current through an edge with a resistor across the rails beside it, A, and the voltage along it, V. */
  along(edge: number, track: number, loadOhm: number): { amp: Span; volt: Span } {
    const volt = this.#voltsAlong(edge, track, loadOhm)
    const amp = (end: End) => {
      const { siemens, circuit, movedTo } = this.#sides[end]
      const own = circuit.siemens[edge]!
      return volt[end] * (movedTo.has(edge) ? own : (siemens.get(edge) ?? own))
    }
    return { amp: { low: amp('low'), high: amp('high') }, volt }
  }

  /** The same for {@link along}. */
  isLikeAlong(other: FaultyWiring, edge: number, track: number, loadOhm: number): boolean {
    const { low, high } = this.#sides
    if (low.siemens.has(edge) || high.siemens.has(edge)) return false
    // Where nothing changes on either side of a joint, nothing changes along it.
    const { net, plan } = this.#wiring
    if (net.kind[edge] === EDGE.joiner) {
      const { a, b } = plan.joints[net.owner[edge]!]!
      if (this.isLike(other, a >> 1) && this.isLike(other, b >> 1)) return true
    }
    const own = this.#voltsAlong(edge, track, loadOhm)
    const its = other.#voltsAlong(edge, track, loadOhm)
    return isNear(own.low, its.low) && isNear(own.high, its.high)
  }

  /** By edge: the voltage along it, kept as it is asked for again at once, and of the network without changes for each fault. */
  readonly #along = new Map<number, { track: number; loadOhm: number; volt: Span }>()

  #voltsAlong(edge: number, track: number, loadOhm: number): Span {
    const had = this.#along.get(edge)
    if (had?.track === track && had.loadOhm === loadOhm) return had.volt
    const volt = {
      low: this.#voltAlong('low', edge, track, loadOhm),
      high: this.#voltAlong('high', edge, track, loadOhm),
    }
    this.#along.set(edge, { track, loadOhm, volt })
    return volt
  }

  #voltAlong(end: End, edge: number, track: number, loadOhm: number): number {
    const { net } = this.#wiring
    const { circuit, update, open, seen, movedTo } = this.#sides[end]
    const a = net.from[edge]!
    const b = movedTo.get(edge) ?? net.to[edge]!
    const { rowOf } = circuit.layout
    const at = this.#loadedAt(edge, track)
    const own = this.#loaded(edge, track, at)[end]
    const load = own.volt / (loadOhm + own.ohm)
    own.applied ??= update.apply(update.seen(rowOf[at.a]!, rowOf[at.b]!, seen))
    const changes = update.seen(rowOf[a]!, rowOf[b]!, seen)
    const base = circuit.across(own.column, a, b)
    const alone = circuit.across(circuit.open, a, b) - dot(open, changes)
    let lost = 0
    for (let i = 0; i < changes.length; i++) lost += own.applied[i]! * changes[i]!
    return Math.abs(alone - load * (base - lost))
  }

  #loadedAt(edge: number, track: number): Pair {
    const { net, placeOf } = this.#wiring
    return net.kind[edge] === EDGE.joiner ? this.#wiring.loadedAt(edge, track) : net.places[placeOf[track]!]!
  }

  #loaded(edge: number, track: number, pair: Pair): { low: Seen; high: Seen } {
    if (this.#wiring.net.kind[edge] !== EDGE.joiner) return this.#track(track)
    const had = this.#joints.get(pair.a)
    if (had) return had
    const made = { low: this.#look('low', pair), high: this.#look('high', pair) }
    this.#joints.set(pair.a, made)
    return made
  }

  #track(track: number): SeenAtTrack {
    const had = this.#tracks[track]
    if (had) return had
    const { net, placeOf } = this.#wiring
    const pair = net.places[placeOf[track]!]!
    const made = { low: this.#look('low', pair), high: this.#look('high', pair) }
    this.#tracks[track] = made
    return made
  }

  #look(end: End, pair: Pair): Seen {
    const { circuit, update, open, seen } = this.#sides[end]
    const column = this.#column(end, pair)
    const { rowOf } = circuit.layout
    const changes = update.seen(rowOf[pair.a]!, rowOf[pair.b]!, seen)
    return {
      column,
      volt: circuit.across(circuit.open, pair.a, pair.b) - dot(open, changes),
      ohm: Math.abs(update.between(changes, circuit.across(column, pair.a, pair.b))),
    }
  }
}

function isAlike(a: Seen, b: Seen): boolean {
  return isNear(a.volt, b.volt) && isNear(a.ohm, b.ohm)
}

/** Far less than any meter shows. */
function isNear(a: number, b: number): boolean {
  return Math.abs(a - b) <= 5e-6 * Math.abs(b)
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}
