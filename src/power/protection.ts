/**
 * Protection from continuous to short: for every current that may flow, how long it flows until trip, fuse or supply
 * ends it, against how long driver, wires, shunt and converter pin survive it. Where one of them survives less, there
 * is a gap that nothing covers.
 */
import type { Values } from '../corner/index.js'
import type { DistrictModel } from './district-model.js'
import type { DistrictParts } from './district-report.js'
import { copperAmpacity, copperI2t } from './energy.js'
import { fuseOpensS } from './fuse.js'
import { FUSE_KINDS } from './fuse-kinds.data.js'
import { OVERLOAD_POWER } from './sense-stress.js'
import { strongestAmp } from './share.js'
import { faultRange } from './short.js'
import type { SourceQuantity } from './source.js'

/** The part that a curve is about. */
export type ProtectionPart =
  | 'trip'
  | 'fuse'
  | 'supply'
  | 'driver'
  | 'wire'
  | 'joint'
  | 'shunt'
  | 'converter pin'

export interface ProtectionCurve {
  what: string
  part: ProtectionPart
  /** `ends`: the current is off by then at the latest; `survives`: the part comes to no harm until then. */
  kind: 'ends' | 'survives'
  /** In order of rising current; us is Infinity where it never ends, or where the part carries it indefinitely. */
  points: { amp: number; us: number }[]
}

export interface ProtectionGap {
  /** The part that is not covered. */
  what: string
  fromAmp: number
  toAmp: number
  /** At the start of the gap: when the current ends, and what the part survives, us. */
  endsUs: number
  survivesUs: number
}

export interface Protection {
  district: string
  /** The most that may flow, A: no gap lies beyond it. */
  mostAmp: number
  tripLowAmp?: number
  tripHighAmp?: number
  loads: { what: string; amp: number }[]
  curves: ProtectionCurve[]
  gaps: ProtectionGap[]
}

/** A limit over current: us; falling with the current. */
export interface Limit {
  what: string
  part: ProtectionPart
  us(amp: number): number
  /** Currents where it jumps, A. */
  steps: number[]
}

const FOREVER = Number.POSITIVE_INFINITY
/** Currents closer than this share are not told apart. */
const RESOLUTION = 0.005

/** Which end of everything uncertain: everything late and weak, or everything soon and strong. */
export type ProtectionCorner = 'worst' | 'best'

export interface Limits {
  ends: Limit[]
  survives: Limit[]
  mostAmp: number
}

/** What ends a current, and what survives it; `undefined` when the driver's losses are not known. */
export function limitsOf(
  m: DistrictModel,
  parts: Pick<DistrictParts, 'fuse' | 'stress'>,
  corner: ProtectionCorner,
): Limits | undefined {
  const { source, stage } = m
  if (!source) return undefined
  const worst = corner === 'worst'
  const { most, least, mostAmp, leastAmp } = faultRange(source)
  return {
    ends: endsOf(m, parts, worst, worst ? most : least),
    survives: survivesOf(m, parts, worst),
    mostAmp: worst ? mostAmp : Math.max(leastAmp, m.sustained?.low ?? 0, stage.district.trip?.current ?? 0),
  }
}

function endsOf(
  { source, stage }: DistrictModel,
  parts: Pick<DistrictParts, 'fuse'>,
  worst: boolean,
  v: Values<SourceQuantity>,
): Limit[] {
  const list: Limit[] = []
  const trip = source!.trip
  if (trip?.reachable) {
    const threshold = worst ? trip.highAmp : trip.lowAmp
    const delay = worst ? trip.delayUs.high : trip.delayUs.low
    const period = source!.quantities.clock[worst ? 'high' : 'low']
    list.push({
      what: 'trip, latest',
      part: 'trip',
      us: (amp) => (amp < threshold ? FOREVER : trip.latestUs(amp, threshold, delay, period)),
      steps: [threshold],
    })
  }
  if (parts.fuse) {
    const { ratingAmp, own, kind } = parts.fuse
    list.push({
      what: own ? 'fuse, latest' : `fuse of supply ${stage.supplyName}, latest`,
      part: 'fuse',
      us: (amp) => fuseOpensS(ratingAmp, amp, kind) * 1e6,
      steps: [FUSE_KINDS[kind].opensAt * ratingAmp],
    })
  }
  if (Number.isFinite(v.hiccupOn))
    list.push({
      what: `supply ${stage.supplyName} switches off`,
      part: 'supply',
      us: (amp) => (amp < v.limit * 0.999 ? FOREVER : source!.quantities.hiccupOn.high),
      steps: [v.limit],
    })
  return list
}

function survivesOf(
  m: DistrictModel,
  parts: Pick<DistrictParts, 'fuse' | 'stress'>,
  worst: boolean,
): Limit[] {
  const { stage, heats, runningC, source } = m
  const list: Limit[] = []
  const heat = worst ? heats.most : heats.typical
  if (heat.standsUs(0.01, stage.name, runningC).us !== undefined)
    list.push({
      what: `driver ${stage.driverName}`,
      part: 'driver',
      us: (amp) =>
        heat.standsUs(strongestAmp(stage.model, stage.channels.length, amp), stage.name, runningC).us ??
        FOREVER,
      steps: [stage.model.peakAmp, stage.model.continuousAmp].flatMap((a) =>
        a === undefined ? [] : [a * stage.channels.length],
      ),
    })
  for (const wire of conductorsOf(m))
    list.push({
      what: wire.name,
      part: 'wire',
      us: (amp) => wireSurvivesUs(wire.areaMm2, amp, wire.amp),
      steps: [],
    })
  for (const joint of m.load?.joints ?? [])
    list.push({
      what: joint.name,
      part: 'joint',
      us: (amp) => warmsUs(worst ? joint.tauUs.low : joint.tauUs.high, joint.amp, amp),
      steps: [joint.amp],
    })
  const { sense } = stage.district
  if (sense?.kind === 'shunt' && sense.power !== undefined && sense.resistance) {
    const ohm = sense.resistance * (1 + (worst ? 1 : -1) * sense.tolerance)
    const rated = Math.sqrt(sense.power / ohm)
    list.push({
      what: 'shunt',
      part: 'shunt',
      us: (amp) => (amp <= rated ? FOREVER : amp <= rated * Math.sqrt(OVERLOAD_POWER) ? 5e6 : 0),
      steps: [rated, rated * Math.sqrt(OVERLOAD_POWER)],
    })
  }
  if (parts.stress && source) {
    const pinAmp = parts.stress.pinAmp(worst)
    if (Number.isFinite(pinAmp))
      list.push({
        what: 'converter pin',
        part: 'converter pin',
        us: (amp) => (amp <= pinAmp ? FOREVER : 0),
        steps: [pinAmp],
      })
  }
  if (parts.fuse) {
    const { breaksAmp } = parts.fuse
    list.push({
      what: "fuse's breaking capacity",
      part: 'fuse',
      us: (amp) => (amp <= breaksAmp ? FOREVER : 0),
      steps: [breaksAmp],
    })
  }
  return list
}

/** Wires of the district: each from the track, or the thinnest that the design names. */
function conductorsOf({ load }: DistrictModel): { name: string; areaMm2: number; amp?: number }[] {
  if (load?.conductors?.length) return [...load.conductors]
  return load?.thinnestWireMm2 === undefined
    ? []
    : [
        {
          name: `thinnest wire, ${Math.round(load.thinnestWireMm2 * 1000) / 1000} mm²`,
          areaMm2: load.thinnestWireMm2,
        },
      ]
}

/**
 * How long a copper wire survives a current, us: indefinitely up to what it carries in still air, adiabatic in a short (IEC
 * 60949, k of IEC 60364-4-43, from memory), between them a body that warms with one time constant, which meets both.
 */
export function wireSurvivesUs(areaMm2: number, amp: number, carriesAmp = copperAmpacity(areaMm2)): number {
  const tauS = copperI2t(areaMm2) / (carriesAmp * carriesAmp)
  return warmsUs(tauS * 1e6, carriesAmp, amp)
}

/** Time until a body with one time constant reaches the heat that `carriesAmp` gives it continuously, us. */
function warmsUs(tauUs: number, carriesAmp: number, amp: number): number {
  return amp <= carriesAmp ? FOREVER : -tauUs * Math.log1p(-((carriesAmp / amp) ** 2))
}

/** Where a part survives less than the current lasts, up to the most that may flow. */
function gapsOf(
  limit: Limit,
  endsUs: (amp: number) => number,
  mostAmp: number,
  steps: number[],
): ProtectionGap[] {
  const gaps: ProtectionGap[] = []
  const add = (fromAmp: number, toAmp: number) => {
    const last = gaps.at(-1)
    if (last && fromAmp <= last.toAmp * (1 + 1e-6)) last.toAmp = toAmp
    else gaps.push({ what: limit.what, fromAmp, toAmp, endsUs: endsUs(fromAmp), survivesUs: limit.us(toAmp) })
  }
  // Both fall with the current: what ends at the low end before the part comes to harm at the high end is covered.
  const walk = (from: number, to: number) => {
    const survives = limit.us(to)
    if (endsUs(from) <= survives) return
    // Nought and infinity have no middle.
    if (!(from > 0 && to < Number.POSITIVE_INFINITY) || to / from <= 1 + RESOLUTION) {
      add(from, to)
      return
    }
    // All of it, where even the last to end is too late at the start.
    if (endsUs(to * (1 - 1e-9)) > limit.us(from)) {
      add(from, to)
      return
    }
    const middle = Math.sqrt(from * to)
    walk(from, middle)
    walk(middle, to)
  }
  const marks = [...new Set([...steps.filter((s) => s > 0 && s < mostAmp), mostAmp])].sort((a, b) => a - b)
  let from = Math.min(marks[0]! / 100, mostAmp / 1000)
  for (const to of marks) {
    // Just below a step the value before it holds, just above it the one after it.
    walk(from, to * (1 - 1e-9))
    from = to * (1 + 1e-9)
  }
  return gaps
}

export function protectionGaps(
  m: DistrictModel,
  parts: DistrictParts,
  corner: ProtectionCorner,
): ProtectionGap[] | undefined {
  const limits = limitsOf(m, parts, corner)
  return !limits || limits.ends.length === 0 ? undefined : gapsIn(limits)
}

/** Where a part survives less than its current lasts; where nothing ends a current, it lasts. */
export function gapsIn({ ends, survives, mostAmp }: Limits): ProtectionGap[] {
  // Each part asks at many of the same currents, and a trip over averages plays its samples each time.
  const known = new Map<number, number>()
  const endsUs = (amp: number) => {
    const before = known.get(amp)
    if (before !== undefined) return before
    const us = Math.min(FOREVER, ...ends.map((l) => l.us(amp)))
    known.set(amp, us)
    return us
  }
  const steps = ends.flatMap((l) => l.steps)
  return survives.flatMap((l) => gapsOf(l, endsUs, mostAmp, [...steps, ...l.steps]))
}

/** The whole chart of a district; `undefined` when its driver's losses are not known. */
export function protectionOf(m: DistrictModel, parts: DistrictParts): Protection | undefined {
  const limits = limitsOf(m, parts, 'worst')
  if (!limits) return undefined
  const { ends, survives, mostAmp } = limits
  const trip = m.source?.trip
  const steps = [...ends, ...survives].flatMap((l) => l.steps)
  const low = 0.1 * Math.min(mostAmp, trip?.lowAmp ?? mostAmp)
  const high = 4 * Math.max(mostAmp, ...steps.filter((s) => s < 10 * mostAmp))
  const amps = [
    ...Array.from({ length: 81 }, (_, i) => low * (high / low) ** (i / 80)),
    ...steps.flatMap((s) => [s * (1 - 1e-6), s * (1 + 1e-6)]),
    mostAmp,
  ]
    .filter((a) => a >= low && a <= high)
    .sort((a, b) => a - b)
  const curve = (l: Limit, kind: ProtectionCurve['kind']): ProtectionCurve => ({
    what: l.what,
    part: l.part,
    kind,
    points: amps.map((amp) => ({ amp, us: l.us(amp) })),
  })
  const loads = m.load
    ? [
        { what: 'usual load', amp: m.load.runningAmp },
        { what: 'worst load', amp: m.load.worstAmp },
        { what: 'all stalled', amp: m.load.stalledAmp },
      ].filter((l, i, all) => l.amp > 0 && l.amp !== all[i - 1]?.amp)
    : []
  return {
    district: m.stage.name,
    mostAmp,
    ...(trip ? { tripLowAmp: trip.lowAmp, tripHighAmp: trip.highAmp } : {}),
    loads,
    curves: [...ends.map((l) => curve(l, 'ends')), ...survives.map((l) => curve(l, 'survives'))],
    gaps: protectionGaps(m, parts, 'worst') ?? [],
  }
}
