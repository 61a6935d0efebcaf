/**
 * Whether protection still holds with each single fault of the power stage. A fault breaks no clause: it is reported with what
 * ends a short then, how soon, and which part does not survive that.
 */
import type { LogicLevels } from '../../controller/index.js'
import { searchCorners } from '../../corner/index.js'
import type { Finding } from '../../finding/index.js'
import { dependence, Remembered } from '../../units/index.js'
import { type DistrictModel, supplyModels } from '../district-model.js'
import { protectiveParts } from '../district-results.js'
import { POWER_FINDINGS } from '../findings.data.js'
import type { DistrictLoad, Terminator } from '../load.js'
import { gapsIn, type Limit, type Limits, limitsOf, type ProtectionGap } from '../protection.js'
import { thresholdFor } from '../sense.js'
import { strongestAmp } from '../share.js'
import { faultRange, type ShortOutcome, shortOutcome, shortQuestion } from '../short.js'
import { chainOf, type DistrictStage, limitsAtOnce } from '../stage.js'
import { type Outcome, shuntOpens, terminatorShorts } from './other-parts.js'
import { type StageFault, type StageFaultKind, stageFaults } from './stage-faults.js'
import type { EndedBy, StillHolds, StillProtected } from './words.js'

export interface FaultReport extends StillProtected {
  id: string
  kind: StageFaultKind
  /** What it is, in words. */
  words: string
  /** Districts that it concerns; what is said is about the one where protection holds least. */
  districts: string[]
  finding: Finding
}

const FOREVER = Number.POSITIVE_INFINITY

/** Judged last, by supply. */
const lastReports = new Remembered<FaultReport[]>(16)

/** Of each district, by its name. */
export type Terminators = Readonly<Record<string, readonly Terminator[]>>

/** Every single fault of the power stage that the design can have. */
export function faultReports(
  models: readonly DistrictModel[],
  ambient: number,
  levels: LogicLevels | undefined,
  terminators: Terminators = {},
): FaultReport[] {
  const bySupply = [...new Set(models.map((m) => m.stage.supplyName))].flatMap((supply) => {
    const own = models.filter((m) => m.stage.supplyName === supply)
    const on = dependence([
      ambient,
      levels,
      own.map(({ stage: { model: _, ...stage }, load }) => [stage, load, terminators[stage.name]]),
    ])
    return [lastReports.get(on, () => ofSupply(own, ambient, levels, terminators))]
  })
  return joined(bySupply.flat())
}

/** A fault of the controller concerns districts of several supplies: the worst of them speaks for it. */
function joined(list: readonly FaultReport[]): FaultReport[] {
  const byId = new Map<string, FaultReport>()
  for (const report of list) {
    const before = byId.get(report.id)
    if (!before) byId.set(report.id, report)
    else {
      const worst = RANK[report.holds] > RANK[before.holds] ? report : before
      byId.set(report.id, { ...worst, districts: [...before.districts, ...report.districts] })
    }
  }
  return [...byId.values()]
}

function ofSupply(
  models: readonly DistrictModel[],
  ambient: number,
  levels: LogicLevels | undefined,
  terminators: Terminators,
): FaultReport[] {
  const stages = models.map((m) => m.stage)
  const loads = new Map(models.map((m) => [m.stage.name, m.load]))
  const worstAmp = supplyWorstAmp(loads)
  const sound = new Map(
    models.map((m) => [
      m.stage.name,
      { ...judge(m, worstAmp, levels), tripAmp: m.source?.trip?.highAmp ?? FOREVER },
    ]),
  )
  const ofStages = stageFaults(stages, levels?.supplyVolt).map((fault) => {
    const concerned = new Set(stages.filter(fault.concerns).map((s) => s.name))
    const found = supplyModels(
      stages.map((s) => (concerned.has(s.name) ? fault.faulted(s) : s)),
      loads,
      ambient,
      (s) => concerned.has(s.name),
    ).map((m) => reportOf(fault, m, sound.get(m.stage.name)!, worstAmp, levels))
    const worst = found.reduce((a, b) => (RANK[b.holds] > RANK[a.holds] ? b : a))
    return { ...worst, districts: found.map((f) => f.district) }
  })
  return [...ofStages, ...models.flatMap((m) => terminatorReports(m, terminators[m.stage.name] ?? []))]
}

function terminatorReports(m: DistrictModel, terminators: readonly Terminator[]): FaultReport[] {
  return terminators.map((t) => {
    const [kind, words] = ['terminator-shorted', `capacitor across the end of bus ${t.name} shorted`] as const
    return {
      id: `${kind}:${t.name}`,
      kind,
      words,
      districts: [m.stage.name],
      ...reported(words, m.stage.name, terminatorShorts(m, t)),
    }
  })
}

function reported(fault: string, district: string, outcome: Outcome) {
  const finding = POWER_FINDINGS.find('single-fault', { fault, district, ...outcome })
  return { district, ...outcome, finding }
}

function supplyWorstAmp(loads: ReadonlyMap<string, DistrictLoad | undefined>): number | undefined {
  let sum = 0
  for (const load of loads.values()) {
    if (!load) return undefined
    sum += load.worstAmp
  }
  return sum
}

const RANK: Readonly<Record<StillHolds, number>> = { yes: 0, undecided: 1, no: 2 }

type Judged = Omit<FaultReport, 'id' | 'kind' | 'words' | 'districts' | 'district' | 'finding'>

function reportOf(
  fault: StageFault,
  m: DistrictModel,
  sound: Judged & { tripAmp: number },
  worstAmp: number | undefined,
  levels: LogicLevels | undefined,
): FaultReport {
  const { name } = m.stage
  if (fault.opens) {
    const { id, kind, words } = fault
    return { id, kind, words, districts: [name], ...reported(words, name, shuntOpens(m, levels)) }
  }
  const found: Judged =
    fault.tripsAtOnce && tripsWhenHigh(m.stage) && m.source?.trip?.reachable
      ? { holds: 'yes', by: 'trip', amp: 0, endsUs: 0 }
      : judge(m, worstAmp, levels, { fault, soundTripAmp: sound.tripAmp })
  const isNoWorse = RANK[sound.holds] >= RANK[found.holds] && sound.part === found.part
  const judged = found.holds !== 'yes' && isNoWorse ? { ...found, alsoWithout: true } : found
  const { id, kind, words } = fault
  return {
    id,
    kind,
    words,
    districts: [name],
    district: name,
    ...judged,
    finding: POWER_FINDINGS.find('single-fault', { fault: words, district: name, ...judged }),
  }
}

/** A sense line at the logic supply reads the highest count. */
function tripsWhenHigh(stage: DistrictStage): boolean {
  const chain = chainOf(stage)
  const { trip } = stage.district
  return chain !== undefined && trip !== undefined && thresholdFor(chain, trip.current).count < chain.counts
}

function judge(
  m: DistrictModel,
  supplyWorst: number | undefined,
  levels: LogicLevels | undefined,
  faulty?: { fault: StageFault; soundTripAmp: number },
): Judged {
  const { fault, soundTripAmp = FOREVER } = faulty ?? {}
  const parts = protectiveParts(m, supplyWorst, levels)
  const [worst, best] = [limitsOf(m, parts, 'worst'), limitsOf(m, parts, 'best')]
  if (!worst || !best)
    return {
      holds: 'undecided',
      by: 'nothing',
      amp: FOREVER,
      endsUs: FOREVER,
      unknown: 'the losses of the driver',
    }
  const trip = tripOf(m)
  // What surely flows into a short; a trip current that the fault has moved may be more.
  const sure = { ...best, mostAmp: Math.min(best.mostAmp, faultRange(m.source!).leastAmp) }
  const [late, soon] = [
    counted(worst, fault?.isTripUnsure !== true && trip.isSure),
    counted(sure, trip.isPossible),
  ]
  const gaps = uncovered(m, late, soundTripAmp)
  const ended = endOf(late, gaps.length > 0)
  const reported = { by: ended.by, amp: late.mostAmp, endsUs: ended.us }
  const [first] = gaps.length > 0 ? [...gaps].sort(byPart) : []
  if (first) {
    const surely = uncovered(m, soon, soundTripAmp).length > 0
    const { what: part, fromAmp, toAmp, endsUs: gapEndsUs, survivesUs } = first
    return { ...reported, holds: surely ? 'no' : 'undecided', part, fromAmp, toAmp, gapEndsUs, survivesUs }
  }
  const { pulse } = trip
  if (pulse?.pulseAmp !== undefined && pulse.margin < 0)
    return {
      ...reported,
      holds: pulse.isSure ? 'no' : 'undecided',
      part: `driver ${m.stage.driverName}`,
      ...gapAt(pulse.pulseAmp, pulse.offUs, 0),
    }
  const unknown = unknownOf(m, late, fault)
  return unknown === undefined ? { ...reported, holds: 'yes' } : { ...reported, holds: 'undecided', unknown }
}

/** Wires and joiners first: a fire is worse than a dead driver. */
function byPart(a: ProtectionGap, b: ProtectionGap): number {
  const rank = ({ what }: ProtectionGap) => (/^(driver|shunt|converter)/.test(what) ? 1 : 0)
  return rank(a) - rank(b) || a.survivesUs - b.survivesUs
}

/** The worst short, and whether it is as bad in every corner. */
type Pulse = ShortOutcome & { isSure: boolean }

const NO_HEAT = { standsUs: () => ({ because: '' }), hottestC: () => undefined }

/** Whether the trip is sure to end a short, or at least can; and the worst short where capacitors may harm the driver. */
function tripOf(m: DistrictModel): { isSure: boolean; isPossible: boolean; pulse?: Pulse } {
  const { source, stage, heats, load } = m
  if (!source?.trip?.reachable) return { isSure: false, isPossible: false }
  // Only whether it is off at some time is asked here: what survives until then, the limits tell.
  const cold = { heat: heats.most.heat, ...NO_HEAT }
  const ends = shortOutcome(stage, source, { most: cold, typical: cold }, undefined)
  const { tries: _, ...question } = shortQuestion(source, ends)
  const { worst, best } = searchCorners({
    ...question,
    margin: (v) => {
      const { offUs, margin } = ends({ ...v, capacitor: 0, response: 0 })
      return Number.isFinite(offUs) ? 1 : Math.min(margin, -0.01)
    },
  })
  const empties =
    source.quantities.capacitor.high + source.quantities.response.high > 0 && !limitsAtOnce(stage.model)
  const trip = { isSure: worst.margin >= 0, isPossible: best.margin >= 0 }
  if (!empties) return trip
  const outcome = shortOutcome(stage, source, heats, load)
  const short = searchCorners(shortQuestion(source, outcome))
  return { ...trip, pulse: { ...outcome(short.worst.values), isSure: short.verdict === 'broken' } }
}

function counted(limits: Limits, isTripCounted: boolean): Limits {
  return isTripCounted ? limits : { ...limits, ends: limits.ends.filter((l) => l.part !== 'trip') }
}

/**
 * With a trip, what flows below that of the sound stage is judged without any fault: only more than that counts. Without one all
 * of it does. The times are those at the upper end, where the current is strongest.
 */
function uncovered(m: DistrictModel, limits: Limits, soundTripAmp: number): ProtectionGap[] {
  const isTripping = limits.ends.some((l) => l.part === 'trip')
  const from = isTripping ? Math.min(soundTripAmp, m.source!.trip?.highAmp ?? 0) : 0
  const within = (amp: number) => amp * (1 - 1e-9)
  return gapsIn(limits)
    .filter((g) => within(g.toAmp) > from)
    .map((g) => ({
      ...g,
      fromAmp: Math.max(g.fromAmp, from),
      endsUs: Math.min(FOREVER, ...limits.ends.map((l) => l.us(within(g.toAmp)))),
      survivesUs: Math.min(
        ...limits.survives.flatMap((l) => (l.what === g.what ? [l.us(within(g.toAmp))] : [])),
      ),
    }))
}

function endOf({ ends, mostAmp }: Limits, isUncovered: boolean): { by: EndedBy; us: number } {
  const first = ends.reduce<Limit | undefined>(
    (a, b) => (b.us(mostAmp) < (a?.us(mostAmp) ?? FOREVER) ? b : a),
    undefined,
  )
  if (!first) return { by: isUncovered ? 'nothing' : 'limit', us: FOREVER }
  const by = first.part === 'trip' || first.part === 'fuse' ? first.part : 'supply'
  return { by, us: first.us(mostAmp) }
}

function gapAt(amp: number, gapEndsUs: number, survivesUs: number) {
  return { fromAmp: amp, toAmp: amp, gapEndsUs, survivesUs }
}

/** What would have to be known of the parts that must survive. */
function unknownOf(m: DistrictModel, { survives, mostAmp }: Limits, fault?: StageFault): string | undefined {
  if (!survives.some((l) => l.part === 'wire')) return 'which wires must survive it'
  const isDriverLeft = fault?.kind !== 'driver-shorted'
  if (isDriverLeft && !survives.some((l) => l.part === 'driver'))
    return `how long driver ${m.stage.driverName} survives it`
  const { peak } = m.source!.quantities
  if (
    isDriverLeft &&
    peak.unknown &&
    strongestAmp(m.stage.model, m.stage.channels.length, mostAmp) > peak.low
  )
    return `the peak current of driver ${m.stage.driverName}`
  const { sense } = m.stage.district
  if (sense?.kind === 'shunt' && sense.power === undefined) return 'the rated power of the shunt'
  return undefined
}

/** Faults with which protection does not hold for certain, those that do the same to one district together. */
export function unprotected(faults: readonly FaultReport[]): FaultReport[][] {
  const groups = new Map<string, FaultReport[]>()
  for (const fault of faults) {
    if (fault.holds === 'yes') continue
    const outcome = fault.finding.sentence.slice(fault.words.length)
    groups.set(outcome, [...(groups.get(outcome) ?? []), fault])
  }
  return [...groups.values()]
}
