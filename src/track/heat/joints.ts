/**
 * Joiners and connectors at the greatest current that can flow continuously. A joiner's heat, I²·R, goes along both rails, which
 * are cooling fins without end (W/K of one: √(h·P·k·A)), and through its own surface.
 */
import { railConductor } from '../conductors/conductor.js'
import type { Joint } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import type { Circuit } from '../network/circuit.js'
import { EDGE } from '../network/network.js'
import { neighbourShares, ownAtLeast } from './conductors.js'
import { lostWattPerM } from './steady.js'
import { EMISSIVITY, JOINER_MM, RAIL_W_PER_M_K } from './surface.data.js'
import { sustainedAmp } from './sustained.js'

export interface HotJoint {
  district: string
  kind: 'joiner' | 'connector'
  /** Name of the joint, or of the bus run. */
  name: string
  /** Share of what it may warm by, or of its rating: favourable and unfavourable corner. */
  lowShare: number
  highShare: number
  /** Through it continuously, at the most, A. */
  amp: number
  /** Resistance that heats it most, Ohm. */
  ohm: number
  /** Rating of a connector whose contacts are worse than those that it is rated for, A. */
  ratedAmp?: number
  /** What it warms by, K; undefined for a connector. */
  riseK: number | undefined
  /** With which it warms, from the quickest to the slowest it may be, us. */
  tauUs: { low: number; high: number }
  /** Current of the district with which it reaches its limit continuously, A. */
  limitAmp: number
}

/** Density and specific heat of rail, J/(mm³·K): 8.4 g/cm³ of copper alloy at 0.38 J/(g·K); handbook values, from memory. */
const RAIL_J_PER_MM3_K = 8.4e-3 * 0.38
/** The sleeve and the rails next to it warm with the rail inside: up to so many times its heat; assumed, no source. */
const BESIDE_IT = 3
/**
 * Most that a clean contact has, Ohm: makers give 20 to 30 mOhm for small ones and 10 for those of 10 A, from memory. No more than
 * 0.1 V are lost in it at its rating.
 */
const CLEAN = { leastOhm: 0.01, mostOhm: 0.03, volt: 0.1 }

function cleanOhm(ratingAmp: number): number {
  return Math.min(CLEAN.mostOhm, Math.max(CLEAN.leastOhm, CLEAN.volt / ratingAmp))
}
/** Contacts of a connector; assumed, no source. */
const CONNECTOR_TAU_US = { low: 1e6, high: 10e6 }

/** How long a joint survives a current of its district, for the time-current chart. */
export function jointLimit({ kind, name, limitAmp, tauUs }: HotJoint): {
  name: string
  amp: number
  tauUs: { low: number; high: number }
} {
  return { name: `${kind} ${name}`, amp: limitAmp, tauUs }
}

/** Of every district, by its number, the joint that is nearest to its limit: of all, and of each kind. */
interface FoundJoints {
  worst: (HotJoint | undefined)[]
  ofKind: Record<HotJoint['kind'], (HotJoint | undefined)[]>
}

const known = new WeakMap<TrackModel, Map<number, FoundJoints>>()

/** Hand switches whose rating is not in the design, and what may flow through them continuously, A. */
export function unratedSwitches({ plan, net, bestCase }: TrackModel): UnratedSwitch[] {
  return plan.runs.flatMap(({ name, district, design }): UnratedSwitch[] => {
    if (!design.switch || design.connector) return []
    const d = net.districts.indexOf(district)
    const { high } = sustainedAmp(net.sources[d]!, bestCase.openVolt(d) / bestCase.sourceOhm(d))
    return [{ district, run: name, amp: high }]
  })
}

export interface UnratedSwitch {
  district: string
  run: string
  amp: number
}

/** The joint of every district that is nearest to its limit; `undefined` where a district has none. */
export function hotJoints(model: TrackModel, limitC: number): (HotJoint | undefined)[] {
  return foundJoints(model, limitC).worst
}

/** The joiner and the connector of every district that are nearest to their limits; what carries least comes first. */
export function hotJointsOfEachKind(model: TrackModel, limitC: number): HotJoint[] {
  const { joiner, connector } = foundJoints(model, limitC).ofKind
  return [...joiner, ...connector].flatMap((j) => j ?? []).sort((a, b) => a.limitAmp - b.limitAmp)
}

function foundJoints(model: TrackModel, limitC: number): FoundJoints {
  const had = known.get(model)?.get(limitC)
  if (had) return had
  const made = workOut(model, limitC)
  known.set(model, (known.get(model) ?? new Map()).set(limitC, made))
  return made
}

function workOut(model: TrackModel, limitC: number): FoundJoints {
  const { plan, net, worstCase, bestCase } = model
  const airC = plan.design.temperature
  const flows = net.sources.map((s, d) => sustainedAmp(s, bestCase.openVolt(d) / bestCase.sourceOhm(d)))
  const none = (): (HotJoint | undefined)[] => net.districts.map(() => undefined)
  const found: FoundJoints = { worst: none(), ofKind: { joiner: none(), connector: none() } }
  // What is too hot in every corner comes before what may be.
  const surely = (j: HotJoint) => Number(j.lowShare > 1)
  const offer = (d: number, joint: HotJoint) => {
    for (const list of [found.worst, found.ofKind[joint.kind]]) {
      const had = list[d]
      if (!had || (surely(joint) - surely(had) || joint.highShare - had.highShare) > 0) list[d] = joint
    }
  }
  for (const run of plan.runs) {
    const { connector, switch: hand } = run.design
    if (!connector) continue
    const d = net.districts.indexOf(run.district)
    const { low, high } = flows[d]!
    // The rating is that of clean contacts: worse ones make as much heat at less current.
    const contactOhm = Math.max(connector.contact, hand?.contact ?? 0)
    const limitAmp =
      connector.rating * Math.min(1, Math.sqrt(cleanOhm(connector.rating) / Math.max(contactOhm, 1e-9)))
    offer(d, {
      district: run.district,
      kind: 'connector',
      name: run.name,
      lowShare: low / connector.rating,
      highShare: high / limitAmp,
      amp: high,
      ohm: contactOhm,
      ...(limitAmp < connector.rating ? { ratedAmp: connector.rating } : {}),
      riseK: undefined,
      tauUs: CONNECTOR_TAU_US,
      limitAmp,
    })
  }
  const edges = joinerEdges(model)
  const [most, least] = [jointShares(model, worstCase, edges), jointShares(model, bestCase, edges)]
  const sinks = new Map<string, number>()
  const kelvinPerWatt = (code: number, alloy: keyof typeof RAIL_W_PER_M_K) => {
    const key = `${code} ${alloy}`
    const had = sinks.get(key)
    if (had !== undefined) return had
    const rail = railConductor(code, alloy)
    const shape = rail.rail!
    // At half the rise that is allowed; hotter surfaces lose more still.
    const middleC = (airC + limitC) / 2
    const perMK =
      lostWattPerM(middleC, airC, shape.openMm, shape.heightMm, EMISSIVITY.rail) / (middleC - airC)
    const fin = Math.sqrt((perMK * RAIL_W_PER_M_K[alloy] * rail.areaMm2) / 1e6)
    const found = 1 / (2 * fin + (perMK * JOINER_MM) / 1000)
    sinks.set(key, found)
    return found
  }
  edges.forEach(({ joint, edge }, i) => {
    const a = joint.a >> 1
    const track = plan.tracks[a]!
    const d = net.districtOfTrack[a]!
    const { low, high } = flows[d]!
    const range = { low: net.ohm.low[edge]!, high: net.ohm.high[edge]! }
    const sink = kelvinPerWatt(track.code, track.alloy)
    const hot = hottestWithin(high, most[i]!, range)
    const cold = low * ownAtLeast(least[i]!, range.high, range.low, 'low')
    const allowedK = limitC - airC
    const rise = (watt: number) => (allowedK > 0 ? (watt * sink) / allowedK : Number.POSITIVE_INFINITY)
    const share = rise(hot.watt)
    const heat = railConductor(track.code, track.alloy).areaMm2 * JOINER_MM * RAIL_J_PER_MM3_K
    offer(d, {
      district: net.districts[d]!,
      kind: 'joiner',
      name: joint.name,
      lowShare: rise(cold * cold * range.low),
      highShare: share,
      amp: hot.amp,
      ohm: hot.ohm,
      riseK: hot.watt * sink,
      tauUs: { low: 1e6 * sink * heat, high: 1e6 * sink * heat * BESIDE_IT },
      limitAmp: share > 0 ? high / Math.sqrt(share) : Number.POSITIVE_INFINITY,
    })
  })
  return found
}

/**
 * The most heat in a joiner between its least and greatest resistance, what is in parallel to it as it is: the more it has,
 * the less flows, so that the most may lie in between.
 */
function hottestWithin(
  amp: number,
  shareAtHigh: number,
  { low, high }: { low: number; high: number },
): { watt: number; amp: number; ohm: number } {
  // What carries the rest, as seen from the joiner.
  const beside = shareAtHigh >= 1 ? Number.POSITIVE_INFINITY : (shareAtHigh * high) / (1 - shareAtHigh)
  const ohm = Math.min(high, Math.max(low, beside))
  const share = Number.isFinite(beside) ? beside / (beside + ohm) : 1
  return { watt: (amp * share) ** 2 * ohm, amp: amp * share, ohm }
}

/** One rail of every joint that is not cut there: the worse of the two. */
function joinerEdges({ plan, net }: TrackModel): { joint: Joint; edge: number; pair: number[] }[] {
  const byJoint = new Map<number, number[]>()
  for (let e = 0; e < net.from.length; e++) {
    if (net.kind[e] !== EDGE.joiner) continue
    const list = byJoint.get(net.owner[e]!)
    if (list) list.push(e)
    else byJoint.set(net.owner[e]!, [e])
  }
  return [...byJoint].map(([j, pair]) => ({
    joint: plan.joints[j]!,
    edge: pair.reduce((a, b) => (net.ohm.high[b]! > net.ohm.high[a]! ? b : a)),
    pair,
  }))
}

/** Share of what is drawn beside each joint that flows through it. */
function jointShares(
  { net }: TrackModel,
  circuit: Circuit,
  joints: readonly { joint: Joint; pair: number[] }[],
): Float64Array {
  const { placeOhm } = circuit
  const { rowOf } = circuit.layout
  const flat = joints.flatMap((j) => j.pair)
  const across = circuit.factor.betweenAll(
    Int32Array.from(flat, (e) => rowOf[net.from[e]!]!),
    Int32Array.from(flat, (e) => rowOf[net.to[e]!]!),
  )
  const place = (end: number) =>
    (end & 1) === 0 ? net.placeStart[end >> 1]! : net.placeStart[(end >> 1) + 1]! - 1
  let at = 0
  return Float64Array.from(joints, ({ joint, pair }) => {
    let between = 0
    let own = 0
    for (const e of pair) {
      between += across[at++]!
      own += 1 / circuit.siemens[e]!
    }
    // With one rail cut the other carries what it must.
    if (pair.length < 2) return 1
    return Math.max(...neighbourShares(placeOhm[place(joint.a)]!, placeOhm[place(joint.b)]!, between, own))
  })
}
