/**
 * Short map: the coin test before building. A short of given contact resistance at every place of the rails, with no
 * train on the track: I = V / (R + R_contact), R = eᵀ·K⁻¹·e from the one factorisation.
 */

import { adiabaticRiseK } from '../conductors/conductor.js'
import type { Circuit } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { CUT_OFF_OHM, type DistrictSource, EDGE } from '../network/network.js'

export interface ShortPlace {
  place: number
  /** District that delivers most of it. */
  district: number
  /** What wires and rails would let through, A (the prospective short-circuit current). */
  prospectiveAmp: number
  /** Out of that district's source, A: the prospective current, limited to what the source can deliver. */
  amp: number
  /** Current as a share of the trip current; undefined without a trip level. */
  share: number | undefined
  /** Until it is off, us; infinite when it never trips, undefined without a trip level. */
  timeUs: number | undefined
}

export interface ShortMap {
  /** One for every place. */
  places: ShortPlace[]
  /** Indexes into `places`: least current as a share of the trip current, and the longest time. */
  weakest: number
  slowest: number
  /** Hottest conductor until the trip, over all places. */
  heat: ShortHeat | undefined
}

export interface ShortHeat {
  place: number
  /** Name of the conductor. */
  conductor: string
  amp: number
  timeUs: number
  riseK: number
  /** Heat in the contact itself, J. */
  contactJoule: number
  /** False: taken as if the thinnest conductor carried the whole current; true: from the solved currents. */
  exact: boolean
}

export function mapShorts(circuit: Circuit, contactOhm: number, riseLimitK: number): ShortMap {
  const { net } = circuit.layout
  const districts = net.districts.length
  const columns = districts > 1 ? net.terminals.map((t) => circuit.unit(t.a, t.b)) : ([] as Float64Array[])
  const ohm = circuit.placeOhm
  const places = net.places.map((p, i): ShortPlace => {
    const volt = Math.abs(circuit.across(circuit.open, p.a, p.b))
    // What is cut off draws the current of its leak, which is none.
    const cutOff = net.leaky && ohm[i]! > CUT_OFF_OHM
    const whole = cutOff ? 0 : volt / (ohm[i]! + contactOhm + 1e-9)
    let district = net.districtOfTrack[p.track]!
    let amp = whole
    if (districts > 1) {
      // How the sources share it: current d = I · R(place, terminals of d) / R_source.
      amp = -1
      for (let d = 0; d < districts; d++) {
        const own = (whole * Math.abs(circuit.across(columns[d]!, p.a, p.b))) / circuit.sourceOhm(d)
        if (own > amp) {
          amp = own
          district = d
        }
      }
    }
    const source = net.sources[district]!
    const prospectiveAmp = amp
    const limit = circuit.corner === 'low' ? source.limitHighAmp : source.limitAmp
    const left = source.foldbackAmp?.(ohm[i]! + contactOhm, circuit.corner === 'low')
    amp = Math.min(amp, limit ?? Number.POSITIVE_INFINITY, left ?? Number.POSITIVE_INFINITY)
    const share = source.tripAmp === undefined ? undefined : amp / source.tripAmp
    const timeUs = share === undefined ? undefined : tripTime(source, amp, circuit.corner === 'low')
    return { place: i, district, prospectiveAmp, amp, share, timeUs }
  })
  // Where the source limits the current, the wiring still tells which place is weakest.
  const reach = (p: ShortPlace) => (p.share ?? p.amp) + 1e-6 * p.prospectiveAmp
  let weakest = 0
  let slowest = 0
  places.forEach((p, i) => {
    if (isLower(i, reach(p), weakest, reach(places[weakest]!))) weakest = i
    if ((p.timeUs ?? 0) > (places[slowest]!.timeUs ?? 0)) slowest = i
  })
  return { places, weakest, slowest, heat: findHeat(circuit, places, contactOhm, riseLimitK) }
}

function tripTime(
  source: Partial<Pick<DistrictSource, 'tripAmp' | 'tripLowAmp' | 'tripTimeUs'>>,
  amp: number,
  favourable: boolean,
): number {
  // In the favourable case the trip lies at the lowest end of its band.
  const threshold = favourable ? (source.tripLowAmp ?? source.tripAmp) : source.tripAmp
  if (threshold === undefined || source.tripAmp === undefined || amp <= threshold)
    return Number.POSITIVE_INFINITY
  return source.tripTimeUs?.(amp, favourable) ?? 0
}

/**
 * The hottest conductor. First as if the thinnest conductor of all carried the whole current, which is a bound; where
 * that passes the limit, from the currents solved for a short at the place of most heat.
 */
function findHeat(
  circuit: Circuit,
  places: readonly ShortPlace[],
  contactOhm: number,
  riseLimitK: number,
): ShortHeat | undefined {
  const { net } = circuit.layout
  let worst: ShortPlace | undefined
  let most = -1
  for (const p of places) {
    if (p.timeUs === undefined || !Number.isFinite(p.timeUs)) continue
    const heat = p.amp * p.amp * p.timeUs
    if (heat > most) {
      most = heat
      worst = p
    }
  }
  if (!worst || worst.timeUs === undefined) return undefined
  const { amp, timeUs } = worst
  const contactJoule = amp * amp * contactOhm * timeUs * 1e-6
  const used = new Set(net.conductorOf)
  const bound = net.conductors
    .filter((_, i) => used.has(i))
    .map((c) => ({ c, riseK: adiabaticRiseK(c, amp, timeUs) }))
    .reduce((hot, x) => (x.riseK > hot.riseK ? x : hot))
  const base = { place: worst.place, timeUs, contactJoule }
  if (bound.riseK <= riseLimitK)
    return { ...base, conductor: bound.c.name, amp, riseK: bound.riseK, exact: false }
  const at = net.places[worst.place]!
  const u = circuit.unit(at.a, at.b)
  const greatest = new Float64Array(net.conductors.length)
  for (let e = 0; e < net.from.length; e++) {
    const c = net.conductorOf[e]!
    if (c < 0 || net.kind[e] === EDGE.source) continue
    const share = Math.abs(circuit.across(u, net.from[e]!, net.to[e]!)) * circuit.siemens[e]!
    if (share > greatest[c]!) greatest[c] = share
  }
  return net.conductors
    .map((c, i) => ({
      ...base,
      conductor: c.name,
      amp: amp * greatest[i]!,
      riseK: adiabaticRiseK(c, amp * greatest[i]!, timeUs),
      exact: true,
    }))
    .reduce((hot, x) => (x.riseK > hot.riseK ? x : hot))
}
