/**
 * A wheel across a gap: for every joint at which rails are cut, what flows between the two sides while a train's wheels
 * join them. Capacitors and sources give it at once, so it is the voltage between the sides over the resistances of both.
 */
import {
  between,
  type CornerResult,
  cornerInWords,
  exactly,
  type Quantities,
  searchCorners,
} from '../../corner/index.js'
import type { Finding } from '../../finding/index.js'
import type { Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import { type Joint, jointKeepsRails, type Path, type Run } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import type { Network } from '../network/network.js'
import { railParts, reversersOfParts, swappedParts } from '../polarity/opposed-gaps.js'
import type { ReverserCheck } from '../polarity/routes.js'

/**
 * `one bridge`: both sides hang on the same driver, in phase; `one supply`: on two drivers of one supply; `two supplies`: in
 * phase; `two outputs`: their signals have nothing to do with each other; `opposed`: the same signal, the other way round;
 * `reverser`: a reverser turns one side, and until it has done so the sides are opposed; `hand switch`: so does somebody's hand.
 */
export type GapKind =
  | 'one bridge'
  | 'one supply'
  | 'two supplies'
  | 'two outputs'
  | 'opposed'
  | 'reverser'
  | 'hand switch'

export interface GapFigure {
  joint: string
  districts: [string, string]
  kind: GapKind
  /** Through one wheel, in the most and the least favourable corner, A. */
  leastAmp: number
  mostAmp: number
  /** Both sides stand so much and do not trip, A; undefined where nothing tells it. */
  allowedAmp: number | undefined
  verdict: Verdict
  margin: number
  finding: Finding
  path: Path
}

/** Tread of a wheel on both sides of a gap, Ohm; common practice, no source. */
const WHEEL_OHM = { low: 0.01, high: 0.1 }

/** Of two reversers at one gap, the sooner must be so many times sooner; common practice, no source. */
const FAR_SOONER = 4

export function bridgeGaps(model: TrackModel, reversers: readonly ReverserCheck[]): GapFigure[] {
  const { plan } = model
  const parts = railParts(plan)
  const byPart = reversersOfParts(plan, parts)
  const swapped = swappedParts(plan, parts)
  const turned = (end: number) => swapped.get(parts.find(end >> 1)) ?? false
  const own = (end: number) => byPart.get(parts.find(end >> 1))
  return plan.joints.flatMap((j): GapFigure[] => {
    if (!(j.gapL || j.gapR)) return []
    const only = (one: number, other: number) =>
      [...(own(one) ?? [])].find((r) => r >= 0 && !own(other)?.has(r)) ?? -1
    const both = [only(j.a, j.b), only(j.b, j.a)]
    const reverser = Math.max(...both)
    const check = reversers.find((r) => r.run === plan.runs[reverser]?.name)
    const run = plan.runs[reverser]
    const automatic = both.flatMap((r) => (plan.runs[r]?.design.reverser ? [plan.runs[r]!] : []))
    const figure = bridge(model, j, turned(j.a) !== turned(j.b), run, check, automatic)
    return [unlessApart(model.net, j, figure)]
  })
}

/** What is met with sides in phase is so only if their drivers switch together. */
function unlessApart(net: Network, { a, b }: Joint, figure: GapFigure): GapFigure {
  if (figure.verdict !== 'met') return figure
  const source = (end: number) => net.sources[net.districtOfTrack[end >> 1]!]!
  const apart = switchingApart(source(a), source(b))
  if (!apart) return figure
  const { joint, districts } = figure
  const finding = trackFindings.find('gap-unlike-drivers', { joint, districts, ...apart })
  return { ...figure, verdict: 'undecided', margin: 0, finding }
}

function bridge(
  model: TrackModel,
  joint: Joint,
  turned: boolean,
  reverser: Run | undefined,
  check: ReverserCheck | undefined,
  automatic: readonly Run[],
): GapFigure {
  const { net } = model
  const [a, b] = [joint.a >> 1, joint.b >> 1]
  const ends = [endPlace(net, joint.a), endPlace(net, joint.b)] as const
  const d = [net.districtOfTrack[a]!, net.districtOfTrack[b]!] as const
  const districts: [string, string] = [net.districts[d[0]]!, net.districts[d[1]]!]
  const alike = ((net.phase[a] === net.phase[b]) === jointKeepsRails(joint)) !== turned
  const kind = kindOf(net, d, alike, reverser)
  const [one, other] = [net.sources[d[0]]!, net.sources[d[1]]!]
  const allowed = { low: allowedAmp(one, other, 'low'), high: allowedAmp(one, other, 'high') }
  const figure = { joint: joint.name, districts, kind, allowedAmp: allowed.low, path: joint.path }
  const params = { joint: joint.name, districts, ...(check ? { run: check.run } : {}) }
  if (kind === 'one bridge' || kind === 'one supply')
    return {
      ...figure,
      leastAmp: 0,
      mostAmp: 0,
      verdict: 'met',
      margin: 1,
      finding: trackFindings.find('gap-harmless', { ...params, kind }),
    }
  const same = d[0] === d[1]
  // Through the wheel from one side to the other. Across one gap the way back is the other side's, or one common ground.
  const ohm = (circuit: TrackModel['worstCase']) => {
    const side = (end: number) => circuit.between(net.places[end]!.a, net.places[end]!.b)
    return { one: side(ends[0]), other: same ? 0 : side(ends[1]) }
  }
  const [high, low] = [ohm(model.worstCase), ohm(model.bestCase)]
  const grounded = sharedGround(net, d)
  const quantities = {
    one: between(`voltage of district ${districts[0]}`, one.openVolt, 'V', 'its supply'),
    other: same
      ? exactly('voltage of the same district', 0, 'V', 'its supply')
      : between(`voltage of district ${districts[1]}`, other.openVolt, 'V', 'its supply'),
    ohm: between(
      'resistance of both sides',
      { low: low.one + low.other, high: high.one + high.other },
      'Ohm',
      'rails, wires and drivers',
    ),
    wheel: between('contact of the wheel', WHEEL_OHM, 'Ohm', 'common practice, no source'),
    back: grounded
      ? exactly('share of the way back', 0.5, 'share', 'their drivers have one ground')
      : between('share of the way back', { low: 0.5, high: 1 }, 'share', 'whether their grounds are joined'),
    allowed: between(
      'current that trips neither side',
      { low: allowed.low ?? Number.POSITIVE_INFINITY, high: allowed.high },
      'A',
      'trips of both districts',
    ),
  }
  const ampIn = (v: Record<GapQuantity, number>, opposite: boolean) => {
    const volt = opposite ? v.one + v.other : Math.abs(v.one - v.other)
    return volt / (v.ohm * (same ? 1 : v.back) + (same ? 1 : 2 * v.back) * v.wheel)
  }
  const level = [one.openVolt, other.openVolt]
  const crossing = (opposite: boolean) => {
    const corners = searchCorners({
      quantities,
      margin: (v) => 1 - ampIn(v, opposite) / v.allowed,
      unfavourable: { ohm: 'low', wheel: 'low', back: 'low', allowed: 'low' },
      // The difference is least where both are equal.
      tries: { one: [level[1]!.low, level[1]!.high], other: [level[0]!.low, level[0]!.high] },
    })
    const mostAmp = ampIn(corners.worst.values, opposite)
    const leastAmp = Math.min(mostAmp, ampIn(corners.best.values, opposite))
    return { corners, common: { ...figure, leastAmp, mostAmp } }
  }
  // Once it is turned the right way, the difference of two supplies is left.
  if (
    (kind === 'reverser' || kind === 'hand switch') &&
    !same &&
    !(one.wiring && one.wiring.supply === other.wiring?.supply)
  ) {
    const { corners, common } = crossing(false)
    const inPhase = judgeInPhase({ ...common, kind: 'two supplies' }, corners, quantities, params)
    if (inPhase.verdict === 'broken' || (inPhase.verdict === 'undecided' && (check?.ok ?? true)))
      return inPhase
  }
  const { corners, common } = crossing(kind !== 'two supplies')
  const { leastAmp, mostAmp } = common
  if (kind === 'reverser' && automatic.length > 1) {
    const times = automatic.map((r) => r.design.reverser!.time)
    const ok = Math.min(...times) * FAR_SOONER <= Math.max(...times) && (check?.ok ?? false)
    return {
      ...common,
      verdict: ok ? 'met' : 'broken',
      margin: ok ? 0 : -1,
      finding: trackFindings.find('gap-two-reversers', {
        joint: joint.name,
        runs: automatic.map((r) => r.name),
        timesUs: times,
        amp: mostAmp,
        ok,
      }),
    }
  }
  if (kind === 'reverser') {
    const ok = check?.ok ?? false
    const sure = check?.sure ?? false
    return {
      ...common,
      verdict: sure ? 'met' : ok ? 'undecided' : 'broken',
      margin: sure ? reverserMargin(check!) : ok ? 0 : -1,
      finding: trackFindings.find('gap-reverser', {
        ...params,
        run: check?.run ?? '',
        amp: mostAmp,
        ok,
        why: check?.because ?? '',
      }),
    }
  }
  if (kind === 'hand switch') {
    const trips = [one, other].map((s) => s.tripAmp).filter((t) => t !== undefined)
    const tripAmp = trips.length > 0 ? Math.min(...trips) : undefined
    // Someone may throw it wrongly: then the least that flows must trip.
    const ok = tripAmp !== undefined && leastAmp > tripAmp
    return {
      ...common,
      verdict: ok ? 'undecided' : 'broken',
      margin: ok ? 0 : -1,
      finding: trackFindings.find('gap-hand-switch', {
        ...params,
        run: reverser!.name,
        leastAmp,
        amp: mostAmp,
        tripAmp,
        trips: ok,
      }),
    }
  }
  if (kind !== 'two supplies')
    return {
      ...common,
      verdict: 'broken',
      margin: -1,
      finding: trackFindings.find('gap-short', { ...params, kind, amp: mostAmp }),
    }
  return judgeInPhase(common, corners, quantities, params)
}

/** Drivers that do not switch together; `us` apart at most, where the delays of both are known. */
interface SwitchingApart {
  parts: [string, string]
  us?: number
}

/**
 * Between the edges of two unlike drivers the sides of a gap are opposed. Two drivers of one part are taken to switch together:
 * their delays spread by a fraction of a microsecond (common practice, no source).
 */
function switchingApart(one: Source, other: Source): SwitchingApart | undefined {
  const [a, b] = [one.wiring?.part, other.wiring?.part]
  if (!a || !b || a.name === b.name) return undefined
  const parts: [string, string] = [a.name, b.name]
  if (!a.delays || !b.delays) return { parts }
  const { risingUs, fallingUs } = b.delays
  return {
    parts,
    us: Math.max(Math.abs(a.delays.risingUs - risingUs), Math.abs(a.delays.fallingUs - fallingUs)),
  }
}

type GapQuantity = 'one' | 'other' | 'ohm' | 'wheel' | 'back' | 'allowed'

/** Two supplies in phase: only the difference of their voltages drives a current. */
function judgeInPhase(
  common: Omit<GapFigure, 'verdict' | 'margin' | 'finding'>,
  corners: CornerResult<GapQuantity>,
  quantities: Quantities<GapQuantity>,
  params: { joint: string; districts: [string, string] },
): GapFigure {
  // What nobody says cannot be passed.
  const unknown = common.allowedAmp === undefined
  const verdict = unknown && common.mostAmp > 0 ? 'undecided' : corners.verdict
  const decider = corners.decider && quantities[corners.decider]?.name
  return {
    ...common,
    verdict,
    margin: unknown ? 0 : Math.max(-1, corners.worst.margin),
    finding: trackFindings.find('gap-supplies', {
      ...params,
      leastAmp: common.leastAmp,
      mostAmp: common.mostAmp,
      allowedAmp: common.allowedAmp,
      corner: cornerInWords(quantities, corners.worst.values, corners.matters.slice(0, 2)),
      decides: verdict === 'undecided' ? (unknown ? 'a trip of both sides' : decider) : undefined,
    }),
  }
}

function reverserMargin({ reverserTimeUs, districtTimeUs }: ReverserCheck): number {
  if (districtTimeUs === undefined || !(districtTimeUs > 0)) return 1
  return Math.min(1, 1 - reverserTimeUs / districtTimeUs)
}

function endPlace(net: Network, end: number): number {
  return (end & 1) === 0 ? net.placeStart[end >> 1]! : net.placeStart[(end >> 1) + 1]! - 1
}

function kindOf(
  net: Network,
  [a, b]: readonly [number, number],
  alike: boolean,
  reverser: Run | undefined,
): GapKind {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  if (a !== b && one?.output !== other?.output && one?.output !== undefined && other?.output !== undefined)
    return 'two outputs'
  if (reverser) return reverser.design.reverser ? 'reverser' : 'hand switch'
  if (!alike) return 'opposed'
  if (a === b || onOneBridge(net, a, b)) return 'one bridge'
  if (one && one.supply === other?.supply) return 'one supply'
  return 'two supplies'
}

/** Both hang on the same channels of one driver. */
export function onOneBridge(net: Network, a: number, b: number): boolean {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  return (
    one !== undefined && one.driver === other?.driver && one.channels.some((c) => other.channels.includes(c))
  )
}

/** The grounds of both districts' drivers are one: through one supply, or through the controller. */
export function sharedGround(net: Network, [a, b]: readonly [number, number]): boolean {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  if (!one || !other) return false
  return one.supply === other.supply || (one.controlled && other.controlled)
}

type Source = Network['sources'][number]

/** A train that crosses must not trip either side, nor ask a driver for more than it gives. */
function allowedAmp(one: Source, other: Source, end: 'low'): number | undefined
function allowedAmp(one: Source, other: Source, end: 'high'): number
function allowedAmp(one: Source, other: Source, end: 'low' | 'high'): number | undefined {
  const trip = (s: Source) => (end === 'low' ? (s.tripLowAmp ?? s.tripAmp) : s.tripAmp)
  const all = [trip(one), trip(other)].filter((amp) => amp !== undefined)
  if (all.length < 2) return end === 'high' ? Number.POSITIVE_INFINITY : undefined
  return Math.min(...all)
}

/** The gap that is worst, by verdict and then by margin. */
export function worstGap(gaps: readonly GapFigure[]): GapFigure | undefined {
  const rank: Record<Verdict, number> = { broken: 0, undecided: 1, met: 2 }
  return gaps.reduce<GapFigure | undefined>(
    (worst, g) =>
      !worst || (rank[g.verdict] - rank[worst.verdict] || g.margin - worst.margin) < 0 ? g : worst,
    undefined,
  )
}
