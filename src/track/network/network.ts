/**
 * The network of conductors: both bus wires, both wires of every feeder, both rails of every track with their
 * joiners, and a source for every power district. Nodes are numbered; an edge has a resistance in three
 * versions, lowest, usual and highest.
 */

import type { DelayRange } from '../../power/index.js'
import type { Verdict } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import { JOINERS, type Range } from '../conductors/conductor.data.js'
import type { Conductor } from '../conductors/conductor.js'
import { DesignConflict } from '../design-conflict.js'
import { jointKeepsRails, type TrackLayout } from '../layout/layout.js'
import { findPhases } from '../layout/phase.js'
import { ConductorBook } from './conductor-book.js'
import { assignDistricts, type SharedRail } from './districts.js'
import { ResistorList } from './resistor-list.js'

/** A power district as the track sees it. */
export interface DistrictSource {
  /** Peak voltage at the station's output without load; lowest, usual and highest. */
  openVolt: Range
  /** Volts lost per ampere in supply and driver, both polarities alike, at the most, > 0. */
  sourceOhm: number
  /** The same with the driver just switched on and its losses at their least; like `sourceOhm` when left out. */
  sourceLeastOhm?: number
  /** It trips at this current for certain, A. */
  tripAmp?: number
  /** Below this it surely does not trip, A; like `tripAmp` when left out. */
  tripLowAmp?: number
  /** What supply and driver surely deliver into a short; without a limit absent. */
  limitAmp?: number
  /** Most they may deliver, where that is more or less well known; without a limit absent. */
  limitHighAmp?: number
  /** What others draw from the same supply or the same channels: each of their amperes takes so many volts here. */
  beside?: readonly { district: string; ohm: number }[]
  /** What a supply that folds back leaves into so many Ohm between it and the short; absent where it does not. */
  foldbackAmp?: (ohm: number, most: boolean) => number
  /** How long its driver survives a steady current, us; `us` absent where that is not known. */
  stands?: (amp: number, favourable?: boolean) => { us?: number; because: string }
  /** Time until a steady current is off, us; infinite when it never trips. */
  tripTimeUs?: (amp: number, favourable?: boolean) => number
  /** Soonest, while a little less than the trip current ran before; like `tripTimeUs` when left out. */
  soonestTripUs?: (amp: number) => number
  /** Whether its driver stands what resistances let through before any limit acts, besides what flows already, A. */
  standsAtFirst?: (amp: { low: number; high: number }, besideAmp: number) => Verdict
  /** What it is made of; without it nothing is known of what districts have in common. */
  wiring?: SourceWiring
  /** How long its driver's edge takes, us, and from which figure; absent where the driver tells none. */
  edge?: { us: number; because: string }
}

export interface SourceWiring {
  supply: string
  driver: string
  channels: readonly number[]
  /** The station's output that it repeats. */
  output?: string
  /** Wires go from the controller to its driver, and with them the ground of all such drivers is one. */
  controlled: boolean
  /** Its inputs are isolated from the controller, so that its ground is its own. */
  isolated?: boolean
  /** Which way round it follows that output, by its inputs; absent where the design does not tell. */
  sense?: 'straight' | 'inverted' | 'unknown'
  part?: DriverPartFigures
}

/** What decides how a driver and another one across a gap get on. */
export interface DriverPartFigures {
  name: string
  /** How late any specimen may follow its input; absent where that is not known. */
  delays?: DelayRange
  /** Bridges of one die or batch are so much apart at the most, us; absent where that is not known. */
  matchedUs?: number
  /** Its own bridges are of one die or batch. */
  matched?: boolean
  /** Which batch it is of, where the design tells. */
  batch?: string
  /** Current that it stands for the length of an edge, A; absent where that is not known. */
  peakAmp?: number
}

export const EDGE = { bus: 0, feeder: 1, rail: 2, joiner: 3, source: 4, reverser: 5 } as const
export type EdgeKind = (typeof EDGE)[keyof typeof EDGE]
/** Which resistances are taken: `high` goes with the lowest supply voltage, `low` with the highest. */
export type Corner = keyof Range

/** Two nodes at one place of the rails, A on the side of bus wire A. */
export interface RailPlace {
  track: number
  atMm: number
  a: number
  b: number
}

export interface Network {
  size: number
  from: Int32Array
  to: Int32Array
  ohm: Record<Corner, Float64Array>
  kind: Uint8Array
  /** Bus: run; feeder: feeder; rail: track; joiner: joint; source: district; reverser: run. */
  owner: Int32Array
  /** Which conductor an edge is made of; −1: none. */
  conductorOf: Int16Array
  conductors: Conductor[]
  places: RailPlace[]
  /** Track → its places are `placeStart[t]…placeStart[t + 1]`, in order along it. */
  placeStart: Int32Array
  /** Bus taps by run: distance and nodes. */
  taps: { mm: number; a: number; b: number }[][]
  districts: string[]
  sources: DistrictSource[]
  /** Terminals of each source. */
  terminals: { a: number; b: number }[]
  /** District that feeds a place's two rails; −1 where they differ (one rail shared by districts counts by rail A). */
  districtOfTrack: Int32Array
  /** Joints cut for the calculation because a rail meets its opposite there. */
  cutForPhase: number[]
  phase: Int8Array
  /** Place → the load that stands there, by index of `plan.stands`. */
  standPlace: { a: number; b: number; place: number }[]
  /** Pairs of districts that share one rail, and a joint where they do. */
  commonRails: SharedRail[]
  /** Some wire is broken, so places may be cut off. */
  leaky: boolean
}

/** Spans longer than this get places in between, so that the weakest spot is not missed. */
const SPAN_MM = 1000
/** What is left of a broken wire, Ohm: not quite nothing, so that the network stays solvable. */
const BROKEN: Range = { low: 1e6, usual: 1e6, high: 1e6 }
/** From so much on a place counts as cut off, Ohm: far above any wire, far below a broken one. */
export const CUT_OFF_OHM = 1e4
/** Resistance of a new contact, as a share of the greatest; common practice, no source. */
const NEW_CONTACT = 0.2
/** No source is stiffer; keeps the matrix well conditioned. */
const LEAST_SOURCE_OHM = 1e-4

/**
 * Make the network of a plan.
 * @throws DesignConflict when a rail has no feed, or two districts are joined on both rails.
 */
export function buildNetwork(plan: TrackLayout, districts: ReadonlyMap<string, DistrictSource>): Network {
  const celsius = plan.design.temperature
  const names = [...districts.keys()]
  const { phase, conflicts } = findPhases(plan)
  const cut = new Set(conflicts)
  const { districtOfTrack, commonRails } = assignDistricts(plan, names, phase, cut)

  const edges = new ResistorList(4 * (plan.tracks.length + plan.joints.length + plan.feeders.length) + 256)
  const book = new ConductorBook(celsius)
  const { conductors } = book
  let size = 0
  const edge = (a: number, b: number, r: Range, scale: number, k: EdgeKind, own: number, c: number) => {
    edges.add(a, b, r, scale, k, own, c)
  }
  // Bus runs: a pair of nodes at the start, at every tap and at the end.
  const marks = plan.runs.map((r) => [0, r.design.length])
  for (const r of plan.runs) if (r.parent >= 0) marks[r.parent]!.push(r.atMm)
  for (const f of plan.feeders) if (!f.open) marks[f.run]!.push(f.busMm)
  for (const s of plan.stands) if (s.run >= 0) marks[s.run]!.push(s.atMm)
  const pair = () => {
    size += 2
    return { a: size - 2, b: size - 1 }
  }
  const terminals = names.map(pair)
  const taps: Network['taps'] = plan.runs.map(() => [])
  const tapAt = (run: number, mm: number) => nearestBy(taps[run]!, mm)
  const layRun = (i: number): void => {
    if (taps[i]!.length > 0) return
    const r = plan.runs[i]!
    if (r.parent >= 0) layRun(r.parent)
    const above = r.parent < 0 ? terminals[names.indexOf(r.district)]! : tapAt(r.parent, r.atMm)
    const reverserOhm = (r.design.reverser?.resistance ?? 0) / 2
    const contactOhm = (r.design.connector?.contact ?? 0) + (r.design.switch?.contact ?? 0)
    const ohm = reverserOhm + contactOhm
    // A run starts at the very nodes of what it hangs on, unless a reverser is between them.
    taps[i] = distinct(marks[i]!).map((mm, k) => ({
      mm,
      ...(k === 0 && ohm === 0 ? { a: above.a, b: above.b } : pair()),
    }))
    const list = taps[i]!
    if (ohm > 0) {
      // A new contact has a fraction of what an old one has.
      const link = {
        low: reverserOhm + contactOhm * NEW_CONTACT,
        usual: reverserOhm + contactOhm / 2,
        high: ohm,
      }
      edge(above.a, list[0]!.a, link, 1, EDGE.reverser, i, -1)
      edge(above.b, list[0]!.b, link, 1, EDGE.reverser, i, -1)
    }
    const c = book.wire(r.design.wire, r.design.kind, [...r.path, 'wire'])
    confirmSpacing(r, conductors[c]!)
    const perM = conductors[c]!.ohmPerM
    for (let k = 1; k < list.length; k++) {
      const metres = (list[k]!.mm - list[k - 1]!.mm) / 1000
      edge(list[k - 1]!.a, list[k]!.a, perM, metres, EDGE.bus, i, c)
      edge(list[k - 1]!.b, list[k]!.b, perM, metres, EDGE.bus, i, c)
    }
  }
  for (let i = 0; i < plan.runs.length; i++) layRun(i)
  names.forEach((name, d) => {
    const ohm = Math.max(LEAST_SOURCE_OHM, districts.get(name)!.sourceOhm)
    const low = Math.max(LEAST_SOURCE_OHM, Math.min(ohm, districts.get(name)!.sourceLeastOhm ?? ohm))
    edge(terminals[d]!.a, terminals[d]!.b, { low, usual: ohm, high: ohm }, 1, EDGE.source, d, -1)
  })

  // Tracks: places in order, L and R nodes; ends at one hub share their nodes.
  const marked = new Map<number, number[]>()
  const mark = (track: number, mm: number) => {
    const list = marked.get(track)
    if (list) list.push(mm)
    else marked.set(track, [mm])
  }
  for (const f of plan.feeders) mark(f.track, f.railMm)
  for (const s of plan.stands) if (s.track >= 0) mark(s.track, s.atMm)
  const onTrack = (t: TrackLayout['tracks'][number], track: number): readonly number[] => {
    const inner = t.fromHub < 0 && t.toHub < 0
    const spans = inner ? Math.min(200, Math.max(2, 2 * Math.ceil(t.lengthMm / SPAN_MM / 2))) : 1
    const list: number[] = []
    for (let k = 0; k <= spans; k++) list.push((t.lengthMm * k) / spans)
    const own = marked.get(track)
    return distinct(own ? [...list, ...own] : list)
  }
  const hubNodes: ({ l: number; r: number } | undefined)[] = plan.hubs.map(() => undefined)
  const places: RailPlace[] = []
  const placeStart = new Int32Array(plan.tracks.length + 1)
  for (let i = 0; i < plan.tracks.length; i++) {
    const t = plan.tracks[i]!
    placeStart[i] = places.length
    const c = book.rail(t)
    const perM = conductors[c]!.ohmPerM
    const list = onTrack(t, i)
    const plain = phase[i] === 1
    let lastL = -1
    let lastR = -1
    for (let k = 0; k < list.length; k++) {
      const mm = list[k]!
      const hub = k === 0 ? t.fromHub : k === list.length - 1 ? t.toHub : -1
      const known = hub >= 0 ? hubNodes[hub] : undefined
      const l = known?.l ?? size++
      const r = known?.r ?? size++
      if (hub >= 0 && !known) hubNodes[hub] = { l, r }
      places.push({ track: i, atMm: mm, a: plain ? l : r, b: plain ? r : l })
      if (k > 0) {
        const metres = (mm - list[k - 1]!) / 1000
        edges.add(lastL, l, perM, metres, EDGE.rail, i, c)
        edges.add(lastR, r, perM, metres, EDGE.rail, i, c)
      }
      lastL = l
      lastR = r
    }
  }
  placeStart[plan.tracks.length] = places.length
  const endPlace = (end: number) =>
    (end & 1) === 0 ? placeStart[end >> 1]! : placeStart[(end >> 1) + 1]! - 1
  const side = (p: number, left: boolean) =>
    (phase[places[p]!.track] === 1) === left ? places[p]!.a : places[p]!.b
  const leftOf = (p: number) => side(p, true)
  const rightOf = (p: number) => side(p, false)
  plan.joints.forEach((j, i) => {
    if (cut.has(i)) return
    const [p, q] = [endPlace(j.a), endPlace(j.b)]
    const [lp, rp] = [leftOf(p), rightOf(p)]
    const [lq, rq] = jointKeepsRails(j) ? [leftOf(q), rightOf(q)] : [rightOf(q), leftOf(q)]
    if (!j.gapL) edge(lp, lq, JOINERS[j.bad?.L ? 'bad' : j.joiner].ohm, 1, EDGE.joiner, i, -1)
    if (!j.gapR) edge(rp, rq, JOINERS[j.bad?.R ? 'bad' : j.joiner].ohm, 1, EDGE.joiner, i, -1)
  })
  const placeAt = (track: number, mm: number) => {
    let best = placeStart[track]!
    for (let p = best; p < placeStart[track + 1]!; p++)
      if (Math.abs(places[p]!.atMm - mm) < Math.abs(places[best]!.atMm - mm)) best = p
    return best
  }
  plan.feeders.forEach((f, i) => {
    if (f.open) return
    const c = book.wire(f.wire, 'flexible', [...f.path, 'wire'])
    const perM = conductors[c]!.ohmPerM
    const tap = tapAt(f.run, f.busMm)
    const place = places[placeAt(f.track, f.railMm)]!
    const [a, b] = f.swapped ? [place.b, place.a] : [place.a, place.b]
    const wires = [
      { from: tap.a, to: a, broken: f.broken?.A },
      { from: tap.b, to: b, broken: f.broken?.B },
    ]
    for (const { from, to, broken } of wires) {
      if (broken) edge(from, to, BROKEN, 1, EDGE.feeder, i, -1)
      else edge(from, to, perM, f.lengthMm / 1000, EDGE.feeder, i, c)
    }
  })
  const standPlace = plan.stands.map((s) => {
    if (s.track < 0) return { ...tapAt(s.run, s.atMm), place: -1 }
    const place = placeAt(s.track, s.atMm)
    return { a: places[place]!.a, b: places[place]!.b, place }
  })

  const network: Network = {
    size,
    ...edges.arrays(),
    conductors,
    places,
    placeStart,
    taps,
    districts: names,
    sources: names.map((n) => {
      const s = districts.get(n)!
      return { ...s, sourceOhm: Math.max(LEAST_SOURCE_OHM, s.sourceOhm) }
    }),
    terminals,
    districtOfTrack,
    cutForPhase: conflicts,
    phase,
    standPlace,
    commonRails,
    leaky: plan.feeders.some((f) => f.broken?.A || f.broken?.B),
  }
  return network
}

/**
 * What would keep {@link buildNetwork} from making the network, without making it.
 * @throws DesignConflict as that does.
 */
export function checkNetwork(plan: TrackLayout, districts: readonly string[]): void {
  const book = new ConductorBook(plan.design.temperature)
  for (const r of plan.runs)
    confirmSpacing(r, book.conductors[book.wire(r.design.wire, r.design.kind, [...r.path, 'wire'])]!)
  for (const t of plan.tracks) book.rail(t)
  for (const f of plan.feeders) if (!f.open) book.wire(f.wire, 'flexible', [...f.path, 'wire'])
  const { phase, conflicts } = findPhases(plan)
  assignDistricts(plan, districts, phase, new Set(conflicts))
}

/** @throws DesignConflict where two wires apart from each other would be one in the other. */
function confirmSpacing({ design, path }: TrackLayout['runs'][number], { diameterMm }: Conductor): void {
  if (design.geometry !== 'spaced' || design.spacing === undefined || design.spacing > diameterMm) return
  throw new DesignConflict(
    [...path, 'spacing'],
    `the middles of two wires of ${formatNumber(diameterMm, 3)} mm cannot be ${formatNumber(design.spacing, 3)} mm apart; expected more than ${formatNumber(diameterMm, 3)} mm`,
  )
}

function distinct(list: readonly number[]): readonly number[] {
  let rising = true
  for (let i = 1; i < list.length && rising; i++) rising = list[i]! - list[i - 1]! > 0.1
  if (rising) return list
  const sorted = [...list].sort((x, y) => x - y)
  // Places within a tenth of a millimetre are one.
  return sorted.filter((v, i) => i === 0 || v - sorted[i - 1]! > 0.1)
}

function nearestBy<T extends { mm: number }>(list: readonly T[], mm: number): T {
  let [low, high] = [0, list.length - 1]
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if (list[middle]!.mm <= mm) low = middle
    else high = middle
  }
  const [a, b] = [list[low]!, list[high]!]
  return Math.abs(a.mm - mm) <= Math.abs(b.mm - mm) ? a : b
}
