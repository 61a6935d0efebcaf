/** Figures of sections, joints, districts and conductors, as the report has them. */

import type { TrackLayout } from './layout/layout.js'
import { placeName, trackName } from './layout/names.js'
import type { TrackModel } from './model.js'
import { isLower } from './network/lowest.js'
import { EDGE, type Network } from './network/network.js'
import type { DistrictFigure, JointFigure, SectionFigure, Span, TrackReport } from './report.js'
import type { ShortMap } from './shorts/shorts.js'
import type { Envelope } from './voltage/envelope.js'
import type { mapVoltage } from './voltage/voltage.js'

export function span(a: number, b: number): Span {
  return a <= b ? { low: a, high: b } : { low: b, high: a }
}

/** Infinity does not survive JSON: a short that never trips has the time null. */
function finite(us: number | undefined): number | null | undefined {
  return us === undefined || Number.isFinite(us) ? us : null
}

export function sectionFigures(
  { plan, net }: TrackModel,
  weakVolt: Float64Array,
  strongVolt: Float64Array,
  envelope: Envelope,
  shorts: ShortMap,
  bestCase: ShortMap,
): SectionFigure[] {
  const prospective = (p: number) => shorts.places[p]!.prospectiveAmp
  return plan.tracks.map((t, i) => {
    const [from, to] = [net.placeStart[i]!, net.placeStart[i + 1]!]
    let low = from
    let high = Number.POSITIVE_INFINITY
    let weakest = from
    let strongest = Number.POSITIVE_INFINITY
    let bestUs = bestCase.places[from]!.timeUs
    for (let p = from; p < to; p++) {
      if (isLower(p, Math.abs(weakVolt[p]!), low, Math.abs(weakVolt[low]!))) low = p
      high = Math.min(high, Math.abs(strongVolt[p]!))
      if (isLower(p, prospective(p), weakest, prospective(weakest))) weakest = p
      strongest = Math.min(strongest, bestCase.places[p]!.amp)
      const { timeUs } = bestCase.places[p]!
      if (timeUs !== undefined) bestUs = Math.max(bestUs ?? 0, timeUs)
    }
    const here = shorts.places[weakest]!
    const trip = net.sources[here.district]!.tripAmp
    const at = envelope.places[i]
    return {
      name: trackName(t),
      district: net.districts[net.districtOfTrack[i]!]!,
      lengthMm: t.lengthMm,
      volt: span(Math.abs(weakVolt[low]!), high),
      envelopeVolt: at?.volt,
      envelopeAmp: at?.amp,
      boundVolt: at?.boundVolt,
      prospectiveAmp: here.prospectiveAmp,
      shortAmp: span(here.amp, strongest),
      shortShare: trip === undefined ? undefined : span(here.amp / trip, strongest / trip),
      tripUs: finite(here.timeUs),
      tripBestUs: finite(bestUs),
      shortPlace: placeName(plan, net, weakest),
    }
  })
}

/** The weaker side of every joint. */
export function jointFigures({ plan, net }: TrackModel, shorts: ShortMap): JointFigure[] {
  const endPlace = (end: number) =>
    (end & 1) === 0 ? net.placeStart[end >> 1]! : net.placeStart[(end >> 1) + 1]! - 1
  return plan.joints.map((j) => {
    const [a, b] = [shorts.places[endPlace(j.a)]!, shorts.places[endPlace(j.b)]!]
    const less = a.prospectiveAmp <= b.prospectiveAmp ? a : b
    return {
      name: j.name,
      prospectiveAmp: less.prospectiveAmp,
      shortAmp: less.amp,
      shortShare: less.share,
      tripUs: finite(less.timeUs),
    }
  })
}

export function districtFigures(
  { plan, net, worstCase }: TrackModel,
  weakMap: ReturnType<typeof mapVoltage>['map'],
  strongMap: ReturnType<typeof mapVoltage>['map'],
  shorts: ShortMap,
  bestCase: ShortMap,
): DistrictFigure[] {
  const volt = (p: number) => Math.abs(weakMap.volt[p] ?? 0)
  const prospective = (p: number) => shorts.places[p]?.prospectiveAmp ?? 0
  return net.districts.map((name, d) => {
    const source = net.sources[d]!
    let worst = -1
    let weakest = -1
    let best = Number.POSITIVE_INFINITY
    let strongest = Number.POSITIVE_INFINITY
    net.places.forEach((p, i) => {
      if (net.districtOfTrack[p.track] !== d) return
      if (isLower(i, volt(i), worst, volt(worst))) worst = i
      if (isLower(i, prospective(i), weakest, prospective(weakest))) weakest = i
      best = Math.min(best, Math.abs(strongMap.volt[i]!))
      strongest = Math.min(strongest, bestCase.places[i]!.amp)
    })
    const none = worst < 0
    const farthest = none ? undefined : net.places[weakest]!
    return {
      name,
      openVolt: source.openVolt,
      sourceOhm: source.sourceOhm,
      sourceLeastOhm: Math.min(source.sourceOhm, source.sourceLeastOhm ?? source.sourceOhm),
      tripAmp: source.tripAmp,
      tripLowAmp: source.tripLowAmp ?? source.tripAmp,
      limitAmp: source.limitAmp,
      limitHighAmp: source.limitHighAmp,
      endurance: leastEndurance(net, plan, d, shorts, bestCase),
      loadAmp: span(weakMap.districtAmp[d]!, strongMap.districtAmp[d]!),
      lengthMm: plan.tracks.reduce((sum, t, i) => sum + (net.districtOfTrack[i] === d ? t.lengthMm : 0), 0),
      trains: plan.stands.filter((s) => s.train && net.districtOfTrack[s.track] === d).map((s) => s.name),
      worstVolt: none ? span(0, 0) : span(Math.abs(weakMap.volt[worst]!), best),
      worstVoltPlace: none ? '' : placeName(plan, net, worst),
      weakestShort: none ? span(0, 0) : span(shorts.places[weakest]!.amp, strongest),
      weakestShortPlace: none ? '' : placeName(plan, net, weakest),
      wiringOhm: farthest ? Math.max(0, worstCase.between(farthest.a, farthest.b) - source.sourceOhm) : 0,
    }
  })
}

/** At how many currents between the least and the greatest the driver is tried. */
const TRIED = 8

/** The short that the driver stands least long in proportion to how long it lasts. */
function leastEndurance(
  net: Network,
  plan: TrackLayout,
  district: number,
  worstCase: ShortMap,
  bestCase: ShortMap,
): DistrictFigure['endurance'] {
  const { stands } = net.sources[district]!
  if (!stands) return undefined
  const worstOf = (map: ShortMap, favourable: boolean) => {
    const here = map.places
      .filter((p) => p.district === district && p.timeUs !== undefined && Number.isFinite(p.timeUs))
      .sort((a, b) => a.amp - b.amp)
      // Where supply or driver hold the current, all places draw the same.
      .filter((p, i, all) => p.amp !== all[i - 1]?.amp || p.timeUs !== all[i - 1]?.timeUs)
    const step = Math.max(1, (here.length - 1) / TRIED)
    let worst: { place: number; amp: number; timeUs: number; us?: number; because: string } | undefined
    for (let at = 0; at < here.length; at += step) {
      const { place, amp, timeUs } = here[Math.round(at)]!
      const found = { place, amp, timeUs: timeUs!, ...stands(amp, favourable) }
      const room = (w: typeof found) => (w.us === undefined ? Number.POSITIVE_INFINITY : w.us - w.timeUs)
      if (!worst || room(found) < room(worst)) worst = found
    }
    return worst
  }
  const [a, b] = [worstOf(worstCase, false), worstOf(bestCase, false)]
  type Worst = ReturnType<typeof worstOf>
  const holds = (w: Worst) => w === undefined || w.us === undefined || w.us >= w.timeUs
  // Where nothing trips there is nothing to survive until then.
  const survives = (w: Worst) => w !== undefined && holds(w)
  const hot = holds(a) && holds(b)
  const worst = [a, b].find((w) => !holds(w)) ?? a ?? b
  if (!worst) return undefined
  const { place, amp, timeUs, us, because } = worst
  return {
    place: placeName(plan, net, place),
    amp,
    tripUs: timeUs,
    ...(us === undefined ? {} : { standsUs: Number.isFinite(us) ? us : null }),
    because,
    // Hot, with its greatest losses, it must survive both ends; cold and typical it may survive one.
    holds: {
      unfavourable: hot,
      favourable: hot || survives(worstOf(worstCase, true)) || survives(worstOf(bestCase, true)),
    },
  }
}

export function hottest(
  plan: TrackLayout,
  net: Network,
  worstCase: ShortMap,
  bestCase: ShortMap,
): TrackReport['shorts']['heat'] {
  const [a, b] = [worstCase.heat, bestCase.heat]
  const heat = a && b ? (a.riseK >= b.riseK ? a : b) : (a ?? b)
  return heat && { ...heat, place: placeName(plan, net, heat.place) }
}

export function conductorFigures({ net }: TrackModel): TrackReport['conductors'] {
  const metres = new Map<number, { use: string; mm: number }>()
  const ohm = net.ohm.usual
  for (let e = 0; e < net.from.length; e++) {
    const c = net.conductorOf[e]!
    if (c < 0) continue
    const kind = net.kind[e]!
    const use = kind === EDGE.rail ? 'rail' : kind === EDGE.bus ? 'bus' : 'feeder'
    const had = metres.get(c) ?? { use, mm: 0 }
    if (!had.use.includes(use)) had.use += ` and ${use}`
    had.mm += (1000 * ohm[e]!) / net.conductors[c]!.ohmPerM.usual
    metres.set(c, had)
  }

  return [...metres].map(([c, { use, mm }]) => {
    const { name, ohmPerM, areaMm2 } = net.conductors[c]!
    return { name, use, metres: mm / 1000, ohmPerM, areaMm2 }
  })
}
