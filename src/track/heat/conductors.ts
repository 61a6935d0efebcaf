/**
 * Every conductor at the greatest current that can flow continuously. All of it may flow at one place; how much of that goes
 * through a conductor is greatest when the place is at its own end (a potential has its extremes at its sources), so
 * that one response for each feeder, and the resistances between neighbours on the rails, tell it.
 */
import type { Conductor } from '../conductors/conductor.js'
import type { TrackModel } from '../model.js'
import type { Circuit } from '../network/circuit.js'
import { EDGE } from '../network/network.js'
import { type Laying, steadyC } from './steady.js'
import { INSULATION_MM } from './surface.data.js'
import { sustainedAmp } from './sustained.js'

export interface HotConductor {
  district: string
  /** `bus front`, `feeder of main.3`, `rails of spur.1`. */
  what: string
  conductor: string
  /** For ever, at the most, and of the district's: A. */
  amp: number
  share: number
  /** Not more than that: the whole current was taken, as that is cool enough. */
  atMost: boolean
  /** In the favourable and the unfavourable corner, °C. */
  lowC: number
  highC: number
  /** The unfavourable corner. */
  laying: Laying | 'open'
  section: string
}

const LAYINGS: readonly Laying[] = ['alone', 'bundled']
/** Shares of more feeders than this are not worked out; the whole current counts for the rest. */
const MOST_FEEDERS = 400

interface Candidate {
  what: string
  district: number
  conductor: number
  section: string
  layings: readonly Laying[]
  share: () => number
}

/** The hottest conductor of every district; `undefined` where a district has none. */
export function hotConductors(model: TrackModel, limitC: number): (HotConductor | undefined)[] {
  const { plan, net, worstCase, bestCase } = model
  const airC = plan.design.temperature
  const flows = net.sources.map((s, d) => sustainedAmp(s, openAmp(bestCase, d)))
  const known = new Map<string, number>()
  const temperature = (c: number, amp: number, layings: readonly Laying[], worst: boolean): number => {
    const key = `${c} ${amp.toFixed(4)} ${layings.join()} ${worst}`
    const had = known.get(key)
    if (had !== undefined) return had
    const conductor = net.conductors[c]!
    const ohm = worst ? conductor.ohmPerM20.high : conductor.ohmPerM20.low
    const all = conductor.rail
      ? [steadyC(conductor, ohm, amp, { airC, laying: 'alone', insulationMm: 0 })]
      : layings.flatMap((laying) =>
          [INSULATION_MM.low, INSULATION_MM.high].map((insulationMm) =>
            steadyC(conductor, ohm, amp, { airC, laying, insulationMm }),
          ),
        )
    const found = worst ? Math.max(...all) : Math.min(...all)
    known.set(key, found)
    return found
  }
  const hottest: (HotConductor | undefined)[] = net.districts.map(() => undefined)
  for (const c of candidates(model)) {
    const { low, high } = flows[c.district]!
    const whole = temperature(c.conductor, high, c.layings, true)
    const had = hottest[c.district]
    if (had && whole <= had.highC) continue
    const cool = whole <= limitC
    const share = cool ? 1 : Math.min(1, c.share())
    const highC = cool ? whole : temperature(c.conductor, high * share, c.layings, true)
    if (had && highC <= had.highC) continue
    const conductor = net.conductors[c.conductor]!
    hottest[c.district] = {
      district: net.districts[c.district]!,
      what: c.what,
      conductor: conductor.name,
      amp: high * share,
      share,
      atMost: cool && c.layings.length > 0,
      lowC: Math.min(highC, temperature(c.conductor, low * share, c.layings, false)),
      highC,
      laying: conductor.rail ? 'open' : (c.layings.at(-1) ?? 'alone'),
      section: c.section,
    }
  }
  return hottest
  function* candidates({ plan }: TrackModel): Generator<Candidate> {
    const first = new Map<number, number>()
    const feederEdges = new Map<number, number[]>()
    for (let e = 0; e < net.from.length; e++) {
      const kind = net.kind[e]!
      if (kind === EDGE.bus && !first.has(net.owner[e]!)) first.set(net.owner[e]!, e)
      if (kind === EDGE.feeder && net.conductorOf[e]! >= 0) {
        const list = feederEdges.get(net.owner[e]!)
        if (list) list.push(e)
        else feederEdges.set(net.owner[e]!, [e])
      }
    }
    for (const [i, run] of plan.runs.entries()) {
      const e = first.get(i)
      if (e === undefined) continue
      const end = net.taps[i]!.at(-1)!
      yield {
        what: `bus ${run.name}`,
        district: net.districts.indexOf(run.district),
        conductor: net.conductorOf[e]!,
        section: run.name,
        layings: run.design.laid === undefined ? LAYINGS : [run.design.laid],
        share: () => largestShare([worstCase, bestCase], e, end.a, end.b),
      }
    }
    let solved = 0
    for (const [f, edges] of feederEdges) {
      const feeder = plan.feeders[f]!
      const at = nearestPlace(feeder.track, feeder.railMm)
      yield {
        what: `feeder of ${feeder.name}`,
        district: net.districts.indexOf(plan.runs[feeder.run]!.district),
        conductor: net.conductorOf[edges[0]!]!,
        section: plan.tracks[feeder.track]!.name,
        layings: LAYINGS,
        share: () =>
          ++solved > MOST_FEEDERS
            ? 1
            : Math.max(...edges.map((e) => largestShare([worstCase, bestCase], e, at.a, at.b))),
      }
    }
    let shares: Float64Array | undefined
    const hot = new Set(net.conductors.flatMap((c, i) => (c.rail ? [i] : [])))
    for (const [t, track] of plan.tracks.entries()) {
      const conductor = railOf(t)
      if (conductor < 0 || !hot.has(conductor)) continue
      yield {
        what: `rails of ${track.name}`,
        district: net.districtOfTrack[t]!,
        conductor,
        section: track.name,
        layings: ['alone'],
        share: () => {
          shares ??= trackShares(model)
          return shares[t]!
        },
      }
    }
  }
  function nearestPlace(track: number, mm: number) {
    let best = net.placeStart[track]!
    for (let p = best; p < net.placeStart[track + 1]!; p++)
      if (Math.abs(net.places[p]!.atMm - mm) < Math.abs(net.places[best]!.atMm - mm)) best = p
    return net.places[best]!
  }
  function railOf(track: number): number {
    const { code, alloy } = plan.tracks[track]!
    return railIndex(net.conductors, code, alloy)
  }
}

function railIndex(conductors: readonly Conductor[], code: number, alloy: string): number {
  return conductors.findIndex((c) => c.rail?.alloy === alloy && c.name.startsWith(`code ${code} `))
}

/** What a source gives into its own terminals, A. */
function openAmp(circuit: Circuit, district: number): number {
  return circuit.openVolt(district) / circuit.sourceOhm(district)
}

/** Share of an ampere drawn between two nodes that flows through an edge, in the corner where it is more. */
function largestShare(circuits: readonly Circuit[], edge: number, a: number, b: number): number {
  let most = 0
  for (const circuit of circuits) {
    const { net } = circuit.layout
    const u = circuit.unit(a, b)
    const own = Math.abs(circuit.across(u, net.from[edge]!, net.to[edge]!)) * circuit.siemens[edge]!
    most = Math.max(most, ownAtLeast(own, net.ohm.high[edge]!, net.ohm.low[edge]!, circuit.corner))
  }
  return most
}

/** The share with this edge at its least resistance and all others as they are: current prefers it. */
export function ownAtLeast(share: number, highOhm: number, lowOhm: number, corner: string): number {
  if (corner === 'low' || share >= 1) return Math.min(1, share)
  return (share * highOhm) / (share * highOhm + (1 - share) * lowOhm)
}

/** By track, the most that may flow along its rails, as a share of what is drawn at one place. */
export function trackShares({ net, worstCase, bestCase }: TrackModel): Float64Array {
  const shares = new Float64Array(net.placeStart.length - 1)
  for (const circuit of [worstCase, bestCase]) {
    const { placeOhm } = circuit
    const { rowOf } = circuit.layout
    const edges: number[] = []
    for (let e = 0; e < net.from.length; e++) if (net.kind[e] === EDGE.rail) edges.push(e)
    const across = circuit.factor.betweenAll(
      Int32Array.from(edges, (e) => rowOf[net.from[e]!]!),
      Int32Array.from(edges, (e) => rowOf[net.to[e]!]!),
    )
    // The two rails of a piece come one after the other.
    let at = new Int32Array(shares.length)
    at = Int32Array.from(net.placeStart.subarray(0, shares.length))
    for (let k = 0; k + 1 < edges.length; k += 2) {
      const [left, right] = [edges[k]!, edges[k + 1]!]
      const t = net.owner[left]!
      const p = at[t]!++
      const own = 1 / circuit.siemens[left]! + 1 / circuit.siemens[right]!
      const pair = across[k]! + across[k + 1]!
      for (const s of neighbourShares(placeOhm[p]!, placeOhm[p + 1]!, pair, own))
        shares[t] = Math.max(
          shares[t]!,
          ownAtLeast(s, net.ohm.high[left]!, net.ohm.low[left]!, circuit.corner),
        )
    }
  }
  return shares
}

/**
 * Share of an ampere drawn at either of two neighbours that flows between them, from the resistances of both places to
 * the source and between them: (R(v,v) − R(u,v)) / r, with R(u,v) = (R(u,u) + R(v,v) − R(u–v)) / 2.
 */
export function neighbourShares(u: number, v: number, between: number, own: number): [number, number] {
  const share = (one: number, other: number) => Math.min(1, Math.max(0, (one - other + between) / (2 * own)))
  return [share(u, v), share(v, u)]
}
