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
import { gapsOf, type Joint, jointKeepsRails, type Path, type Run } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import type { Network } from '../network/network.js'
import { type OpposedGap, railParts, reversersOfParts, swappedParts } from '../polarity/opposed-gaps.js'
import { mixedFinding, sharedFinding, stretchFinding } from '../polarity/reverser-findings.js'
import type { ReverserCheck } from '../polarity/routes.js'
import type { TrackReport } from '../report.js'
import { driverPeakAt } from './driver-peak.js'
import { groundsOf, onOneBridge } from './grounds.js'
import { placeOfEnd, type SkewFigure, skewAt } from './skew.js'
import { WHEEL_OHM } from './wheel.js'

/**
 * `one bridge`: both sides hang on the same driver, in phase; `one supply`: on two drivers of one supply; `two supplies`: in
 * phase; `two outputs`: their signals have nothing to do with each other; `opposed`: the same signal, the other way round;
 * `reverser`: a reverser turns one side, and until it has done so the sides are opposed; `hand switch`: so does somebody's hand;
 * `turntable`: so does a reverser of its bridge that the design does not describe; `frog`: no gap, but a crossing of two districts.
 */
export type GapKind =
  | 'one bridge'
  | 'one supply'
  | 'two supplies'
  | 'two outputs'
  | 'opposed'
  | 'reverser'
  | 'hand switch'
  | 'turntable'
  | 'frog'

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
  /** What its drivers do by not switching at one instant; absent for one bridge and where nothing is told of them. */
  skew?: SkewFigure
  finding: Finding
  path: Path
}

/** Of two reversers at one gap, the sooner must be so many times sooner; common practice, no source. */
const FAR_SOONER = 4

/** What of the railroad's polarity bears on its gaps. */
export type GapPolarity = Pick<TrackReport['polarity'], 'reversers' | 'stretches' | 'shared' | 'mixed'>

export function bridgeGaps(model: TrackModel, polarity: GapPolarity): GapFigure[] {
  const { plan } = model
  const parts = railParts(plan)
  const byPart = reversersOfParts(plan, parts)
  const swapped = swappedParts(plan, parts)
  const turned = (end: number) => swapped.get(parts.find(end >> 1)) ?? false
  const own = (end: number) => byPart.get(parts.find(end >> 1))
  return gapsOf(plan).map((j): GapFigure => {
    const only = (one: number, other: number) =>
      [...(own(one) ?? [])].find((r) => r >= 0 && !own(other)?.has(r)) ?? -1
    const both = [only(j.a, j.b), only(j.b, j.a)]
    const run = plan.runs[Math.max(...both)]
    const check = polarity.reversers.find((r) => r.run === run?.name)
    const automatic = both.flatMap((r) => (plan.runs[r]?.design.reverser ? [plan.runs[r]!] : []))
    const figure = bridge(model, j, turned(j.a) !== turned(j.b), run, check, automatic)
    const runs = both.flatMap((r) => (r >= 0 ? [plan.runs[r]!.name] : []))
    return unlessUseless(unlessTooStrong(model, j, unlessApart(model, j, figure)), runs, polarity)
  })
}

/** A reverser helps at its gaps only where no train needs it both ways, and where nothing else feeds its rails. */
function unlessUseless(figure: GapFigure, runs: readonly string[], polarity: GapPolarity): GapFigure {
  if (figure.verdict === 'broken') return figure
  const own = <T extends { run: string }>(list: readonly T[]) => list.find((x) => runs.includes(x.run))
  const mixed = own(polarity.mixed)
  const short = own(polarity.stretches.filter((s) => !s.ok))
  const shared = own(polarity.shared)
  const finding = mixed
    ? mixedFinding(mixed)
    : short
      ? stretchFinding(short)
      : shared && (shared.trains > 1 || figure.verdict === 'met')
        ? sharedFinding(shared)
        : undefined
  if (!finding) return figure
  const broken = mixed !== undefined || short !== undefined || shared!.trains > 1
  return { ...figure, verdict: broken ? 'broken' : 'undecided', margin: broken ? -1 : 0, finding }
}

/** What is met with sides in phase is so only if what flows while their drivers do not switch together harms neither. */
function unlessApart(model: TrackModel, joint: Joint, figure: GapFigure): GapFigure {
  if (figure.verdict !== 'met') return figure
  const { net } = model
  const ends = [joint.a, joint.b] as const
  const d = [net.districtOfTrack[ends[0] >> 1]!, net.districtOfTrack[ends[1] >> 1]!] as const
  const inPhase = figure.kind === 'two supplies' ? figure.mostAmp : 0
  const skew = skewAt(model, joint, d, () => sidesOhm(model, joint), inPhase)
  if (!skew) return figure
  if (skew.verdict === 'met' && skew.margin >= figure.margin) return { ...figure, skew }
  const { joint: name, districts } = figure
  const finding = trackFindings.find('gap-switching-apart', { joint: name, districts, ...skew })
  return { ...figure, skew, verdict: skew.verdict, margin: skew.margin, finding }
}

/** Until a reverser has swapped the sides are opposed: what flows at first must harm neither driver. */
function unlessTooStrong(model: TrackModel, joint: Joint, figure: GapFigure): GapFigure {
  if (figure.verdict !== 'met' || figure.kind !== 'reverser') return figure
  const found = driverPeakAt(model, joint, { low: figure.leastAmp, high: figure.mostAmp })
  return found ? { ...figure, ...found, margin: found.verdict === 'broken' ? -1 : 0 } : figure
}

/** From the rails on either side of a gap back to the sources, Ohm. */
function sidesOhm(model: TrackModel, joint: Joint): { low: number; high: number } {
  const { net, worstCase, bestCase } = model
  const ohm = (circuit: TrackModel['worstCase']) =>
    [joint.a, joint.b].reduce((sum, end) => {
      const { a, b } = net.places[placeOfEnd(net, end)]!
      return sum + circuit.between(a, b)
    }, 0)
  return { low: ohm(bestCase), high: ohm(worstCase) }
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
  const ends = [placeOfEnd(net, joint.a), placeOfEnd(net, joint.b)] as const
  const d = [net.districtOfTrack[a]!, net.districtOfTrack[b]!] as const
  const districts: [string, string] = [net.districts[d[0]]!, net.districts[d[1]]!]
  const kind = kindOf(model, d, joint, turned, reverser)
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
  const grounds = groundsOf(net, d)
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
    back:
      grounds === 'one'
        ? exactly('share of the way back', 0.5, 'share', 'their drivers have one ground')
        : grounds === 'apart'
          ? exactly('share of the way back', 1, 'share', 'their grounds are apart')
          : between(
              'share of the way back',
              { low: 0.5, high: 1 },
              'share',
              'whether their grounds are joined',
            ),
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
    (kind === 'reverser' || kind === 'hand switch' || kind === 'turntable') &&
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
  if (kind === 'turntable')
    return {
      ...common,
      verdict: 'undecided',
      margin: 0,
      finding: trackFindings.find('gap-turntable', { ...params, amp: mostAmp }),
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

function kindOf(
  { plan, net }: TrackModel,
  [a, b]: readonly [number, number],
  joint: Joint,
  turned: boolean,
  reverser: Run | undefined,
): GapKind {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  const bridge = a === b || onOneBridge(net, [a, b])
  const outputs = [one?.output, other?.output]
  if (a !== b && outputs[0] !== outputs[1] && outputs.every((o) => o !== undefined)) return 'two outputs'
  const senses = [one?.sense ?? 'straight', other?.sense ?? 'straight']
  if (!bridge && senses.includes('unknown')) return 'two outputs'
  if (reverser) return reverser.design.reverser ? 'reverser' : 'hand switch'
  const table = plan.tracks[joint.a >> 1]!
  const turns = table.kind === 'turntable' ? plan.design.turntables?.[table.name]?.turns : undefined
  if (turns === 'automatic') return 'turntable'
  if (turns === 'fixed') return 'opposed'
  const straight =
    turns !== undefined || (net.phase[joint.a >> 1] === net.phase[joint.b >> 1]) === jointKeepsRails(joint)
  const alike = straight !== turned
  if (alike !== (bridge || senses[0] === senses[1])) return 'opposed'
  if (bridge) return 'one bridge'
  return one && one.supply === other?.supply ? 'one supply' : 'two supplies'
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

/** Gaps with the opposite polarity beyond them that lies in the drivers' inputs, not in the rails. */
export function invertedGaps(
  { plan, net }: TrackModel,
  gaps: readonly GapFigure[],
  found: readonly OpposedGap[],
): OpposedGap[] {
  return gaps.flatMap((g): OpposedGap[] => {
    const wired = g.districts.map((name) => net.sources[net.districts.indexOf(name)]!.wiring)
    if (g.kind !== 'opposed' || wired[0]?.sense === wired[1]?.sense || found.some((o) => o.joint === g.joint))
      return []
    const joint = gapsOf(plan).find((j) => j.name === g.joint)!
    const because = `Beyond the gaps at ${g.joint} the rails have the opposite polarity, for one of the drivers of ${g.districts.join(' and ')} is fed the inverted signal: wire its inputs as those of the other.`
    return [{ joint: g.joint, because, tracks: [joint.a >> 1, joint.b >> 1], path: g.path }]
  })
}
