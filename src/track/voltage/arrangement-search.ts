/** Looks for the worst arrangement of trains: one at a place, the others where each costs most. */
import type { TrackLayout } from '../layout/layout.js'
import { limitsOf } from '../limits.js'
import type { Circuit, LoadSolution } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { CUT_OFF_OHM } from '../network/network.js'
import type { EnvelopePlace, WorstArrangement } from './envelope.js'
import { worstJoints } from './joint-corners.js'
import { acrossRows, type Placed, type Response, Seats } from './seats.js'
import { firstWithin, selectionsWithin, stalledTrains, type Train, type Trains, trainsOf } from './trains.js'
import { loadsOf } from './voltage.js'
import { weakestPlaces } from './weak-places.js'

/** Where the others go, and what that takes from the voltage at the place. */
interface Choice {
  placed: Placed[]
  /** Volts lost to the others where they are placed. */
  dropVolt: number
  /** At most, by trains of constant current (or lamps) and by those of constant power. */
  boundVolt: { steady: number; power: number }
  amp: number
}

interface Worst {
  found: Readonly<WorstArrangement>
  converged: boolean
}

interface Known {
  places: Map<number, EnvelopePlace>
  /** By number and how many places may be looked at. */
  districts: Map<string, Worst | undefined>
}

const searches = new WeakMap<Circuit, ArrangementSearch>()

/** More trains than this are not tried in every selection. */
const MOST_SELECTED = 10
/** So many places are looked at one by one. */
const FEW = 8

export class ArrangementSearch {
  readonly plan: TrackLayout
  readonly circuit: Circuit
  /** With what stays where it is. */
  readonly base: LoadSolution
  readonly #fixedAmp: Float64Array
  readonly #fixed: ReturnType<typeof loadsOf>
  readonly running: Trains | undefined
  readonly stalled: Trains | undefined
  /** By track. */
  readonly weakest: Int32Array
  readonly ohm: Float64Array
  readonly #seats: Seats
  readonly #response: Response
  #four: Float64Array | undefined
  /** What was found already, by the trains. */
  readonly #known = new Map<Trains, Known>()

  /**
   * The search on a circuit, one for all who ask: report and proposals look at the same places.
   * @param plan the one that the circuit was made of
   */
  static on(plan: TrackLayout, circuit: Circuit): ArrangementSearch {
    const made = searches.get(circuit)
    if (made?.plan === plan) return made
    const search = new ArrangementSearch(plan, circuit)
    searches.set(circuit, search)
    return search
  }

  constructor(plan: TrackLayout, circuit: Circuit) {
    const { net } = circuit.layout
    this.plan = plan
    this.circuit = circuit
    this.#fixed = loadsOf(plan, net, (train) => !train)
    this.base = circuit.withLoads(this.#fixed)
    this.#fixedAmp = new Float64Array(net.districts.length)
    plan.stands.forEach((s) => {
      if (s.train) return
      const d =
        s.track < 0 ? net.districts.indexOf(plan.runs[s.run]!.district) : net.districtOfTrack[s.track]!
      this.#fixedAmp[d]! += s.amp
    })
    const trains = trainsOf(plan)
    const running = trains.filter((t) => t.amp > 0).sort((a, b) => b.amp - a.amp)
    if (running[0]) this.running = { head: running[0], others: running.slice(1) }
    this.stalled = stalledTrains(trains)
    const { weakest, ohm } = weakestPlaces(circuit)
    this.weakest = weakest
    this.ohm = ohm
    this.#seats = new Seats(plan, circuit, weakest)
    this.#response = { x: new Float64Array(circuit.layout.rows), each: 1, from: 0 }
  }

  /** What may flow in a district continuously, A: it trips beyond. */
  #room(district: number): number {
    return this.circuit.layout.net.sources[district]!.tripAmp ?? Number.POSITIVE_INFINITY
  }

  /** A track's places of highest resistance; where several have it, others around them may make the difference. */
  #weakestOf(track: number): number[] {
    const { net } = this.circuit.layout
    const { placeOhm } = this.circuit
    const first = this.weakest[track]!
    const list = [first]
    for (let p = first + 1; p < net.placeStart[track + 1]!; p++)
      if (!(placeOhm[p]! < placeOhm[first]! * (1 - 1e-9))) list.push(p)
    return list
  }

  /** Look at all that {@link onTrack} will ask of these tracks. */
  lookOn(tracks: readonly number[], trains: Trains): void {
    this.#lookAt(
      tracks.flatMap((track) => this.#weakestOf(track)),
      trains,
    )
  }

  /** The worst of a track's places of highest resistance. */
  onTrack(track: number, trains: Trains): EnvelopePlace {
    const [first, ...others] = this.#weakestOf(track)
    const found = { ...this.at(first!, trains) }
    for (const p of others) {
      const other = this.at(p, trains)
      if (isLower(p, other.volt, found.place, found.volt))
        Object.assign(found, { ...other, boundVolt: found.boundVolt })
      found.boundVolt = Math.min(found.boundVolt, other.boundVolt)
    }
    return found
  }

  #knownOf(trains: Trains): Known {
    let known = this.#known.get(trains)
    if (!known) {
      known = { places: new Map(), districts: new Map() }
      this.#known.set(trains, known)
    }
    return known
  }

  at(p: number, trains: Trains): Readonly<EnvelopePlace> {
    const { places } = this.#knownOf(trains)
    let found = places.get(p)
    if (!found) {
      found = this.#at(p, trains)
      places.set(p, found)
    }
    return found
  }

  /** Places whose turn comes: four responses are solved in little more than the time of one. */
  #lookAt(list: readonly number[], trains: Trains): void {
    const { places } = this.#knownOf(trains)
    const fresh = list.filter((p) => !places.has(p))
    for (let i = 0; i + 4 <= fresh.length; i += 4) {
      const four = fresh.slice(i, i + 4)
      this.#four ??= new Float64Array(4 * this.circuit.layout.rows)
      this.circuit.units(four, this.#four)
      this.#seats.hear(this.#four, 4)
      for (const [from, p] of four.entries())
        places.set(p, this.#at(p, trains, { x: this.#four, each: 4, from }))
    }
  }

  /** The response to one ampere at a place. */
  #respond(p: number): Response {
    const { a, b } = this.circuit.layout.net.places[p]!
    this.circuit.unit(a, b, this.#response.x)
    this.#seats.hear(this.#response.x, 1)
    return this.#response
  }

  /** Resistance that a place shares with the one that responds, Ohm; its sign as the response has it. */
  #shared(response: Response, p: number): number {
    const { net, rowOf } = this.circuit.layout
    return acrossRows(response, rowOf[net.places[p]!.a]!, rowOf[net.places[p]!.b]!)
  }

  #at(p: number, trains: Trains, response = this.#respond(p)): EnvelopePlace {
    const { net } = this.circuit.layout
    const place = net.places[p]!
    const self = this.#shared(response, p)
    const { dropVolt, boundVolt, amp } = this.#choose(p, response, trains)
    const free = Math.abs(this.circuit.across(this.base.x, place.a, place.b))
    const own = this.#headAmp(p, trains) * self
    const power = trains.head.law === 'power' ? own : 0
    return {
      track: place.track,
      place: p,
      volt: Math.max(0, free - own - dropVolt),
      boundVolt: loadedVolt(free, boundVolt.steady + own - power, boundVolt.power + power),
      amp,
    }
  }

  /** The worst place of a district; `undefined` where it has none. */
  worst(district: number, trains: Trains, most: number): Worst | undefined {
    const { districts } = this.#knownOf(trains)
    const key = `${district} ${most}`
    if (!districts.has(key)) districts.set(key, this.#worst(district, trains, most))
    return districts.get(key)
  }

  #worst(district: number, trains: Trains, most: number): Worst | undefined {
    const { net } = this.circuit.layout
    const { placeOhm } = this.circuit
    const sum = trains.others.reduce((total, t) => total + t.amp, trains.head.amp)
    const amp = Math.min(sum, Math.max(trains.head.amp, this.#room(district)))
    const list: { p: number; least: number }[] = []
    for (let p = 0; p < net.places.length; p++) {
      const { track, a, b } = net.places[p]!
      if (net.districtOfTrack[track] !== district) continue
      // A broken wire's far side has no voltage in any arrangement; the map of the trains as they stand says so.
      if (net.leaky && placeOhm[p]! > CUT_OFF_OHM) continue
      const free = Math.abs(this.circuit.across(this.base.x, a, b))
      // R(p, q) is never above R(p, p).
      list.push({ p, least: free - amp * placeOhm[p]! })
    }
    list.sort((x, y) => x.least - y.least)
    const next = (n: number, end: number) => list.slice(n, Math.min(n + 4, end)).map((x) => x.p)
    let best: Readonly<EnvelopePlace> | undefined
    let bound = Number.POSITIVE_INFINITY
    for (const [n, { p, least }] of list.entries()) {
      // No voltage is below nought.
      if (best && Math.max(0, least) > best.volt * (1 + 1e-9)) break
      if (best?.volt === 0 && least <= 0) break
      if (n >= most) {
        bound = Math.min(bound, Math.max(0, least))
        break
      }
      // Few places are looked at as a rule: only where it goes on, those that come next are solved along with it.
      if (n >= FEW && n % 4 === 0) this.#lookAt(next(n, most), trains)
      const here = this.at(p, trains)
      bound = Math.min(bound, here.boundVolt)
      if (!best || isLower(p, here.volt, best.place, best.volt)) best = here
    }
    return best && this.#solve(best, bound, trains)
  }

  /** The worst place again, with every load's own law. */
  #solve(best: EnvelopePlace, bound: number, trains: Trains): Worst {
    const { circuit } = this
    const { net } = circuit.layout
    const at = net.places[best.place]!
    const response = this.#respond(best.place)
    const headAmp = this.#headAmp(best.place, trains)
    const { placed } = this.#choose(best.place, response, trains, true)
    const minVolt = limitsOf(this.plan.design).decoderVolt
    const load = (place: number, train: Train, amp: number) => {
      const { a, b } = net.places[place]!
      return { a, b, amp, law: train.law, minVolt }
    }
    const loads = [
      ...this.#fixed,
      load(best.place, trains.head, headAmp),
      ...placed.map(({ train, place }) => load(place, train, train.amp)),
    ]
    const exact = circuit.withLoads(loads)
    // Decoders that switch off would spare the others; what counts is what they all need to run. Constant power takes more.
    const linear = placed.reduce(
      (volt, { train, place }) => volt - train.amp * Math.abs(this.#shared(response, place)),
      Math.abs(circuit.across(this.base.x, at.a, at.b)) - headAmp * this.#shared(response, best.place),
    )
    const solved = Math.max(0, Math.min(linear, Math.abs(circuit.across(exact.x, at.a, at.b))))
    // Joiners and contacts that differ from each other may take more than all of them at their worst.
    const joints = circuit.corner === 'high' ? worstJoints(circuit, loads, at.a, at.b, exact.x) : undefined
    const lost = joints ? Math.max(0, Math.abs(circuit.across(exact.x, at.a, at.b)) - joints.volt) : 0
    const volt = Math.min(best.volt, solved)
    return {
      converged: exact.converged,
      found: {
        ...best,
        volt,
        boundVolt: Math.min(bound, volt),
        jointVolt: lost,
        tripLimited: headAmp < trains.head.amp,
        arrangement: [
          { train: trains.head.name, track: best.track, amp: headAmp },
          ...placed.map(({ train, track }) => ({ train: train.name, track, amp: train.amp })),
        ],
        ...(trains.stalled ? { stalled: trains.stalled } : {}),
      },
    }
  }

  /** A train that draws more than trips its district never draws more than that for long. */
  #headAmp(p: number, { head, stalled }: Trains): number {
    if (!stalled) return head.amp
    const { net } = this.circuit.layout
    return Math.min(head.amp, this.#room(net.districtOfTrack[net.places[p]!.track]!))
  }

  #choose(p: number, response: Response, trains: Trains, thorough = false): Choice {
    const { net } = this.circuit.layout
    const track = net.places[p]!.track
    const district = net.districtOfTrack[track]!
    const headAmp = this.#headAmp(p, trains)
    const room = this.#room(district) - headAmp - this.#fixedAmp[district]!
    const { others } = trains
    const self = Math.abs(this.#shared(response, p))
    const seats = this.#seats.dearest(p, response.from, others.length, self)
    const selections =
      thorough && others.length <= MOST_SELECTED
        ? selectionsWithin(others, room)
        : [firstWithin(others, room)]
    let best: Choice['placed'] = []
    let dropVolt = -1
    for (const selection of selections) {
      const placed = this.#seats.place(track, trains.head.lengthMm, selection, seats)
      const drop = placed.reduce((sum, x) => sum + x.train.amp * x.ohm, 0)
      if (drop > dropVolt) [best, dropVolt] = [placed, drop]
    }
    return {
      placed: best,
      dropVolt: Math.max(0, dropVolt),
      boundVolt: this.#seats.bound(track, others, room, seats),
      amp:
        headAmp +
        this.#fixedAmp[district]! +
        best.reduce((sum, x) => (net.districtOfTrack[x.track] === district ? sum + x.train.amp : sum), 0),
    }
  }
}

/** Voltage that is left when trains of constant power take more the less there is: V = free − steady − power·free / V. */
function loadedVolt(free: number, steady: number, power: number): number {
  if (power === 0) return Math.max(0, free - steady)
  const b = free - steady
  const root = b * b - 4 * power * free
  return b > 0 && root >= 0 ? (b + Math.sqrt(root)) / 2 : 0
}
