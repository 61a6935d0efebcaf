/**
 * Wires and rails as the bench sees them: conductances between the spots where something is connected, taken from the
 * factored network of the track; a district without a described track is one resistance between its terminals and the rails.
 */
import {
  Circuit,
  CUT_OFF_OHM,
  EDGE,
  type EdgeChange,
  JOINERS,
  planWithFault,
  solveDense,
  type TrackModel,
  trackName,
  Update,
} from '../../track/index.js'

/** A pair of points, one on either rail or wire, by its number in a {@link RailNetwork}. */
export type Spot = number

interface SpotNodes {
  /** Nodes of the track's network; −1 where the district has none. */
  a: number
  b: number
  district: number
  far: boolean
}

/** What is left of a wire that is broken, Ohm. */
const BROKEN_OHM = 1e6

export class RailNetwork {
  readonly #model: TrackModel | undefined
  readonly #circuit: Circuit | undefined
  readonly #districts: readonly string[]
  readonly #farOhm: readonly number[]
  readonly #spots: SpotNodes[] = []
  readonly #known = new Map<string, Spot>()
  /** Response of the network to one ampere through a spot, by row; made when it is first asked for. */
  readonly #columns = new Map<Spot, Float64Array>()
  readonly #faults = new Set<string>()
  #update: Update | undefined
  /** Changes when the wiring does. */
  version = 0

  /**
   * @param districts names of all districts; those that the track knows are fed there.
   * @param farOhm from the terminals to the rails and back where there is no track, Ohm.
   */
  constructor(districts: readonly string[], farOhm: readonly number[], model?: TrackModel) {
    this.#districts = districts
    this.#farOhm = farOhm
    this.#model = model
    this.#circuit = model && new Circuit(model.worstCase.layout, 'usual')
  }

  /** The outputs of a district's driver. */
  terminals(district: number): Spot {
    const at = this.#model?.net.districts.indexOf(this.#districts[district]!) ?? -1
    if (at < 0) return this.#spot({ a: -1, b: -1, district, far: false })
    return this.#spot({ ...this.#model!.net.terminals[at]!, district, far: false })
  }

  /** The rails of a district that the track does not describe. */
  rails(district: number): Spot {
    return this.#spot({ a: -1, b: -1, district, far: true })
  }

  isDescribed(district: number): boolean {
    return this.#model?.net.districts.includes(this.#districts[district]!) ?? false
  }

  /** A place of the track's network, by its number there. */
  place(place: number): Spot {
    const { a, b, track } = this.#model!.net.places[place]!
    return this.#spot({ a, b, district: this.districtOfTrack(track), far: true })
  }

  /** Where an accessory or a train stands by the design. */
  stand(index: number): Spot {
    const { net, plan } = this.#model!
    const s = plan.stands[index]!
    const district =
      s.track < 0 ? this.#districts.indexOf(plan.runs[s.run]!.district) : this.districtOfTrack(s.track)
    const { a, b } = net.standPlace[index]!
    return this.#spot({ a, b, district, far: true })
  }

  /** The place nearest to a position. */
  placeAt(track: number, mm: number): number {
    const { places, placeStart } = this.#model!.net
    let best = placeStart[track]!
    for (let p = best; p < placeStart[track + 1]!; p++)
      if (Math.abs(places[p]!.atMm - mm) < Math.abs(places[best]!.atMm - mm)) best = p
    return best
  }

  districtOfTrack(track: number): number {
    const { net } = this.#model!
    return this.#districts.indexOf(net.districts[net.districtOfTrack[track]!]!)
  }

  /** District that feeds a spot. */
  districtOf(spot: Spot): number {
    return this.#spots[spot]!.district
  }

  /** The place of a district where a short draws least or most. */
  extreme(district: number, end: 'weakest' | 'strongest'): Spot {
    if (!this.isDescribed(district))
      return end === 'weakest' ? this.rails(district) : this.terminals(district)
    const { net } = this.#model!
    const { placeOhm } = this.#circuit!
    let found = -1
    net.places.forEach((p, i) => {
      if (this.districtOfTrack(p.track) !== district || placeOhm[i]! > CUT_OFF_OHM) return
      const further = found < 0 ? 0 : placeOhm[i]! - placeOhm[found]!
      if (found < 0 || (end === 'weakest' ? further > 0 : further < 0)) found = i
    })
    return found < 0 ? this.terminals(district) : this.place(found)
  }

  /**
   * Switch a fault of the wiring in or out.
   * @throws InputError for a name that leads nowhere
   */
  fault(id: string, on: boolean): void {
    planWithFault(this.#model!.plan, id)
    if (on) this.#faults.add(id)
    else this.#faults.delete(id)
    const { rowOf } = this.#circuit!.layout
    const row = (node: number) => rowOf[node]!
    const changes = [...this.#faults]
      .flatMap((f) => this.#changes(f))
      .map((c) => ({ ...c, from: row(c.from), to: row(c.to) }))
    this.#update = changes.length > 0 ? new Update(this.#circuit!.factor, changes) : undefined
    this.#columns.clear()
    this.version++
  }

  /** What a fault changes, between nodes. */
  #changes(id: string): EdgeChange[] {
    const { plan, net } = this.#model!
    const faulty = planWithFault(plan, id).plan
    const changes: EdgeChange[] = []
    const edges = (kind: number, owner: number) => {
      const list: number[] = []
      net.kind.forEach((k, e) => {
        if (k === kind && net.owner[e] === owner) list.push(e)
      })
      return list
    }
    const change = (e: number, ohm: number) => {
      const was = 1 / net.ohm.usual[e]!
      changes.push({ from: net.from[e]!, to: net.to[e]!, deltaSiemens: 1 / ohm - was })
    }
    faulty.feeders.forEach((f, i) => {
      if (f === plan.feeders[i]) return
      const [wireA, wireB] = edges(EDGE.feeder, i) as [number, number]
      if (f.broken?.A) change(wireA, BROKEN_OHM)
      if (f.broken?.B) change(wireB, BROKEN_OHM)
      if (f.swapped === plan.feeders[i]!.swapped) return
      // Each wire goes to the other rail.
      for (const [e, other] of [
        [wireA, wireB],
        [wireB, wireA],
      ] as const) {
        change(e, BROKEN_OHM)
        changes.push({ from: net.from[e]!, to: net.to[other]!, deltaSiemens: 1 / net.ohm.usual[e]! })
      }
    })
    faulty.joints.forEach((j, i) => {
      if (j === plan.joints[i]) return
      const list = edges(EDGE.joiner, i)
      const rails = [...(j.gapL ? [] : [j.bad?.L]), ...(j.gapR ? [] : [j.bad?.R])]
      rails.forEach((bad, k) => {
        if (bad) change(list[k]!, JOINERS.bad.ohm.usual)
      })
    })
    return changes
  }

  #spot(nodes: SpotNodes): Spot {
    const key =
      nodes.a < 0
        ? `${nodes.district} ${nodes.far && this.#farOhm[nodes.district]! > 0}`
        : `${nodes.a},${nodes.b}`
    const had = this.#known.get(key)
    if (had !== undefined) return had
    const spot = this.#spots.push(nodes) - 1
    this.#known.set(key, spot)
    return spot
  }

  #column(spot: Spot): Float64Array {
    let column = this.#columns.get(spot)
    if (!column) {
      const { a, b } = this.#spots[spot]!
      column = this.#circuit!.unit(a, b)
      if (this.#update) this.#update.correct(column)
      this.#columns.set(spot, column)
    }
    return column
  }

  /** Volts across one spot per ampere through another, with every source at its own resistance, Ohm. */
  #ohm(of: Spot, through: Spot): number {
    const { a, b } = this.#spots[of]!
    return this.#circuit!.across(this.#column(through), a, b)
  }

  /**
   * Conductances between spots, S, as of a circuit that has nothing but wires and rails: no sources.
   * @returns G with i = G·v, i into the network
   */
  conductances(spots: readonly Spot[]): Float64Array[] {
    const n = spots.length
    const g = Array.from({ length: n }, () => new Float64Array(n))
    const tracked = spots.flatMap((s, i) => (this.#spots[s]!.a < 0 ? [] : [i]))
    const ohm = tracked.map((i) => Float64Array.from(tracked, (j) => this.#ohm(spots[i]!, spots[j]!)))
    // Columns of the inverse.
    tracked.forEach((j, k) => {
      const unit = new Float64Array(tracked.length)
      unit[k] = 1
      const column = solveDense(
        ohm.map((line) => line.slice()),
        unit,
      )
      if (!column) throw new RangeError('two spots of the railroad are one')
      tracked.forEach((i, m) => {
        g[i]![j] = column[m]!
      })
    })
    if (this.#circuit) {
      const { net } = this.#circuit.layout
      this.#districts.forEach((name, d) => {
        const at = net.districts.indexOf(name)
        const i = at < 0 ? -1 : spots.indexOf(this.terminals(d))
        if (i >= 0) g[i]![i]! -= 1 / this.#circuit!.sourceOhm(at)
      })
    }
    spots.forEach((s, i) => {
      const { a, far, district } = this.#spots[s]!
      if (a >= 0 || !far) return
      const j = spots.indexOf(this.terminals(district))
      if (j < 0 || i === j) return
      const siemens = 1 / this.#farOhm[district]!
      g[i]![i]! += siemens
      g[j]![j]! += siemens
      g[i]![j]! -= siemens
      g[j]![i]! -= siemens
    })
    return g
  }

  /** Position of a named section or leg, its middle where none is given. */
  named(section: string, atMm?: number): { track: number; mm: number } | undefined {
    const tracks = this.#model?.plan.tracks ?? []
    const track = tracks.findIndex((t) => trackName(t) === section)
    if (track < 0) return undefined
    const { lengthMm } = tracks[track]!
    return { track, mm: Math.min(lengthMm, atMm ?? lengthMm / 2) }
  }

  /** Where on the track a spot is; undefined for terminals, buses and what the design does not describe. */
  positionOf(spot: Spot): { track: number; mm: number } | undefined {
    const { a, b } = this.#spots[spot]!
    const place = a < 0 ? undefined : this.#model!.net.places.find((p) => p.a === a && p.b === b)
    return place && { track: place.track, mm: place.atMm }
  }

  get model(): TrackModel | undefined {
    return this.#model
  }
}
