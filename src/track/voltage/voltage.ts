/** Voltage at every place of the rails: for the trains where they stand, and for the worst they can stand. */

import { runningAmp, type TrackLayout } from '../layout/layout.js'
import type { Circuit, ElectricalLoad, LoadSolution } from '../network/circuit.js'
import { CUT_OFF_OHM, type Network } from '../network/network.js'
import { type Progressive, runToEnd } from '../progress.js'

export interface TrainVoltage {
  name: string
  train: boolean
  volt: number
  amp: number
  /** Its voltage is below the decoder's minimum. */
  brownOut: boolean
}

export interface VoltageMap {
  /** False: no solution was found; the figures then mean nothing. */
  converged: boolean
  /** By place, V; without a load there too. */
  volt: Float64Array
  stands: TrainVoltage[]
  /** By district, A. */
  districtAmp: Float64Array
}

export function loadsOf(
  plan: TrackLayout,
  net: Network,
  only?: (train: boolean) => boolean,
): ElectricalLoad[] {
  const minVolt = plan.design.limits?.decoder ?? 7
  return plan.stands.flatMap((s, i) => {
    if (only && !only(s.train)) return []
    const { a, b } = net.standPlace[i]!
    return [{ a, b, amp: s.amp, law: s.law, minVolt, ...(s.openVolt ? { openVolt: s.openVolt } : {}) }]
  })
}

/** The voltage map for everything that stands on the track. */
export function mapVoltage(plan: TrackLayout, circuit: Circuit): { map: VoltageMap; solution: LoadSolution } {
  const { net } = circuit.layout
  const loads = loadsOf(plan, net)
  const solution = circuit.withLoads(loads)
  const volt = new Float64Array(net.places.length)
  net.places.forEach((p, i) => {
    // What is cut off has the voltage of its leak as long as nothing draws: that is none.
    const cutOff = net.leaky && circuit.placeOhm[i]! > CUT_OFF_OHM
    volt[i] = cutOff ? 0 : circuit.across(solution.x, p.a, p.b)
  })
  const stands = plan.stands.map((s, i): TrainVoltage => {
    const { a, b } = net.standPlace[i]!
    const v = net.leaky && circuit.between(a, b) > CUT_OFF_OHM ? 0 : solution.volt[i]!
    return {
      name: s.name,
      train: s.train,
      volt: v,
      amp: v === 0 ? 0 : solution.amp[i]!,
      brownOut: s.amp > 0 && Math.abs(v) < loads[i]!.minVolt,
    }
  })
  const districtAmp = Float64Array.from(net.districts, (_, d) => {
    const amp = circuit.sourceAmp(solution.x, d)
    // So little is what arithmetic leaves over, or the leak of what is cut off.
    return Math.abs(amp) < (net.leaky ? 1e-3 : 1e-6) ? 0 : amp
  })
  return { map: { converged: solution.converged, volt, stands, districtAmp }, solution }
}

export interface EnvelopePlace {
  track: number
  /** Place number where the section is weakest. */
  place: number
  /** With the heaviest train here and the others where each costs most, as many on a section as it holds. */
  volt: number
  /** With all that the district carries at the one spot that costs most; constant currents. */
  boundVolt: number
  /** What the district carries then, A. */
  amp: number
}

export interface Envelope {
  converged: boolean
  /** By track; undefined where no trains are given, or where it was not asked for. */
  places: (EnvelopePlace | undefined)[]
  worst: EnvelopePlace | undefined
  /** How the worst was made. */
  arrangement: { train: string; track: number; amp: number }[]
  amp: number
}

/** Which tracks are looked at; a response is solved for each. */
export interface EnvelopeLimit {
  /** These only. */
  tracks?: ReadonlySet<number>
  /** At most so many, those of highest own resistance; when left out 4000, fewer where one response costs much. */
  most?: number
}

/**
 * Worst-case envelope. For constant currents voltages superpose: the drop at p is Σ I·R(p, q) over trains at q, R the
 * transfer resistance from one response per section. The heaviest train stands at p; the others take, heaviest
 * first, the sections and turnouts with the largest R(p, q), as many on each as its length holds, for as long as the district does not trip; what would trip it
 * stays elsewhere. The bound puts all of them at the one place of largest R(p, q). Sections are judged at their
 * place of highest own resistance. The worst place is solved again with each load's own law.
 */
export function findEnvelope(plan: TrackLayout, circuit: Circuit, limit: EnvelopeLimit = {}): Envelope {
  return runToEnd(envelopeSteps(plan, circuit, limit))
}

/** {@link findEnvelope} in steps. */
export function* envelopeSteps(
  plan: TrackLayout,
  circuit: Circuit,
  limit: EnvelopeLimit = {},
): Progressive<Envelope> {
  const { net, rowOf } = circuit.layout
  const trains = Object.entries(plan.rollingStock)
    .flatMap(([name, t]) =>
      Array.from({ length: t.count }, () => ({ name, amp: runningAmp(t), law: t.load, lengthMm: t.length })),
    )
    .filter((t) => t.amp > 0)
    .sort((a, b) => b.amp - a.amp)
  const fixed = loadsOf(plan, net, (train) => !train)
  const base = circuit.withLoads(fixed)
  const empty: Envelope = { converged: base.converged, places: [], worst: undefined, arrangement: [], amp: 0 }
  if (trains.length === 0) return empty
  const { weakest, ohm: ownOhm } = weakestPlaces(circuit)
  const affordable = Math.min(4000, Math.max(50, Math.floor(1e8 / circuit.layout.rows)))
  const asked = askedTracks(ownOhm, limit.tracks, limit.most ?? affordable)
  // A turnout is one place for one train, however many legs it has.
  const seat = plan.tracks.map((t, i) => (t.fromHub >= 0 ? -1 - t.fromHub : t.toHub >= 0 ? -1 - t.toHub : i))
  const heaviest = trains[0]!
  const rowA = Int32Array.from(weakest, (p) => rowOf[net.places[p]!.a]!)
  const rowB = Int32Array.from(weakest, (p) => rowOf[net.places[p]!.b]!)
  const column = new Float64Array(circuit.layout.rows)
  let dearest: number[] = []
  const known = new Uint8Array(weakest.length)
  const choose = (p: number, column: Float64Array) => {
    const district = net.districtOfTrack[net.places[p]!.track]!
    const room = net.sources[district]!.tripAmp ?? Number.POSITIVE_INFINITY
    // Others never bring in more than the district carries; the heaviest is there in any case.
    let amp = heaviest.amp + fixed.reduce((sum, l) => sum + l.amp, 0)
    const others: typeof trains = []
    for (const t of trains.slice(1)) {
      if (amp + t.amp > room) continue
      amp += t.amp
      others.push(t)
    }
    // The places that cost most, as many as there are trains.
    const top: { track: number; ohm: number }[] = []
    let most = 0
    const mine = seat[net.places[p]!.track]!
    let enough = others.length > 0 ? -1 : Number.POSITIVE_INFINITY
    const offer = (t: number, ohm: number) => {
      if (seat[t] === mine) return
      const twin = seat[t]! < 0 ? top.findIndex((x) => seat[x.track] === seat[t]) : -1
      if (twin >= 0) {
        if (top[twin]!.ohm >= ohm) return
        top.splice(twin, 1)
      }
      let at = top.length
      while (at > 0 && top[at - 1]!.ohm < ohm) at--
      top.splice(at, 0, { track: t, ohm })
      if (top.length > others.length) top.pop()
      enough = top.length < others.length ? -1 : top.at(-1)!.ohm
    }
    const ohmAt = (t: number) => {
      const ra = rowA[t]!
      const rb = rowB[t]!
      return Math.abs((ra < 0 ? 0 : column[ra]!) - (rb < 0 ? 0 : column[rb]!))
    }
    // What cost most for the place before costs much here too: with that first, few others are looked at twice.
    for (const t of dearest) {
      const ohm = ohmAt(t)
      if (ohm > enough) offer(t, ohm)
    }
    for (const t of dearest) known[t] = 1
    for (let t = 0; t < weakest.length; t++) {
      const ohm = ohmAt(t)
      if (ohm > most) most = ohm
      if (ohm > enough && known[t] === 0) offer(t, ohm)
    }
    for (const t of dearest) known[t] = 0
    dearest = top.map((x) => x.track)
    // Each place takes as many trains as its length holds, heaviest first; one in any case.
    const placed: typeof top = []
    const length = (track: number) => (seat[track]! < 0 ? 0 : plan.tracks[track]!.lengthMm)
    const own = worstFirst(
      {
        track: net.places[p]!.track,
        ohm: Math.abs(circuit.across(column, net.places[p]!.a, net.places[p]!.b)),
      },
      top,
    )
    let at = 0
    let free = length(own[0]?.track ?? 0)
    let empty = true
    if (own[0]?.track === net.places[p]!.track) {
      free -= heaviest.lengthMm
      empty = false
    }
    for (const t of others) {
      while (at < own.length && !(empty || free >= t.lengthMm)) {
        at++
        free = at < own.length ? length(own[at]!.track) : 0
        empty = true
        if (own[at]?.track === net.places[p]!.track) {
          free -= heaviest.lengthMm
          empty = false
        }
      }
      if (at >= own.length) break
      placed.push(own[at]!)
      free -= t.lengthMm
      empty = false
    }
    return { others, top: placed, most, amp }
  }
  const judge = (p: number, track: number): EnvelopePlace => {
    const at = net.places[p]!
    circuit.unit(at.a, at.b, column)
    const self = circuit.across(column, at.a, at.b)
    const { others, top, most, amp } = choose(p, column)
    let drop = heaviest.amp * self
    let bound = drop
    others.forEach((t, i) => {
      drop += t.amp * (top[i]?.ohm ?? 0)
      bound += t.amp * Math.max(most, self)
    })
    const free = Math.abs(circuit.across(base.x, at.a, at.b))
    return {
      track,
      place: p,
      volt: Math.max(0, free - drop),
      boundVolt: Math.max(0, free - bound),
      amp,
    }
  }
  const places: (EnvelopePlace | undefined)[] = []
  for (let track = 0; track < weakest.length; track++) {
    places.push(asked[track] ? judge(weakest[track]!, track) : undefined)
    if (track % 32 === 31) yield { what: 'where trains hurt most', share: track / weakest.length }
  }
  const worst = places.reduce<EnvelopePlace | undefined>(
    (low, p) => (p && (!low || p.volt < low.volt) ? p : low),
    undefined,
  )
  if (!worst) return empty
  const at = net.places[worst.place]!
  circuit.unit(at.a, at.b, column)
  const { others, top } = choose(worst.place, column)
  const arrangement = [
    { train: heaviest.name, track: worst.track, amp: heaviest.amp, law: heaviest.law },
    ...others.flatMap((t, i) =>
      top[i] ? [{ train: t.name, track: top[i].track, amp: t.amp, law: t.law }] : [],
    ),
  ]
  const minVolt = plan.design.limits?.decoder ?? 7
  const exact = circuit.withLoads([
    ...fixed,
    ...arrangement.map((t) => {
      const q = net.places[weakest[t.track]!]!
      return { a: q.a, b: q.b, amp: t.amp, law: t.law, minVolt }
    }),
  ])
  // Decoders that switch off would spare the others; what counts is what they all need to run. Constant power takes more.
  const solved = Math.min(worst.volt, Math.abs(circuit.across(exact.x, at.a, at.b)))
  const lowest = { ...worst, volt: solved, boundVolt: Math.min(worst.boundVolt, solved) }
  places[worst.track] = lowest
  return {
    converged: base.converged && exact.converged,
    places,
    worst: lowest,
    arrangement: arrangement.map(({ train, track, amp }) => ({ train, track, amp })),
    amp: arrangement.reduce((sum, t) => sum + t.amp, 0),
  }
}

/** The heaviest train's own place among the others', by what a train there costs. */
function worstFirst<T extends { ohm: number }>(own: T, others: readonly T[]): T[] {
  return [own, ...others].sort((a, b) => b.ohm - a.ohm)
}

function askedTracks(
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
      if (ohm > most[t]!) {
        most[t] = ohm
        weakest[t] = p
      }
    }
  }
  return { weakest, ohm: most }
}
