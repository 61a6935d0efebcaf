/**
 * What to change: thicker bus, one more feeder, another district. Every proposal is a changed plan solved anew from
 * the start, so its figures are as good as those of the design itself.
 */

import { worsened } from '../../standard/index.js'
import { reportSteps } from '../calculate.js'
import { DesignConflict } from '../design-conflict.js'
import { placeName } from '../layout/names.js'
import { limitsOf } from '../limits.js'
import { modelPlan, type TrackInput, type TrackModel } from '../model.js'
import type { Circuit } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import { type Progressive, runToEnd } from '../progress.js'
import { mapShorts } from '../shorts/shorts.js'
import { envelopeSteps, findEnvelope } from '../voltage/envelope.js'
import { mapVoltage } from '../voltage/voltage.js'
import { anotherDistrict, moreFeeder, type Proposal, type Propose, thickerBus } from './candidates.js'

export interface Standing {
  /** Lowest voltage: trains where they stand, and where they hurt most, whichever is lower. */
  worstVolt: number
  worstVoltPlace: string
  /** Lowest voltage with the trains where they stand. */
  plannedVolt: number
  /** What they draw beyond the trip currents of their districts, A. */
  overloadAmp: number
  /** Least current that wires and rails let into a short, as a share of the trip current; undefined where no district trips. */
  shortShare: number | undefined
  shortPlace: string
}

/** What a proposal changes in the design file. */
export type AdviceEdit =
  | { do: 'set wire'; run: string; wire: string }
  | {
      do: 'add feeder'
      track: string
      placeMm: number
      bus: string
      busMm: number
      wire: string
      lengthMm: number
    }

export interface Advice {
  kind: 'thicker bus' | 'one more feeder' | 'another district'
  /** What to do, in a sentence. */
  what: string
  /** Wire needed, both conductors counted, m. */
  wireM: number
  /** Parts: solder joints, drivers. */
  parts: string
  after: Standing
  gainVolt: number
  /** With the trains where they stand. */
  gainPlannedVolt: number
  gainShare: number
  /** How the file is changed; absent where it takes decisions that are the builder's, such as a driver. */
  edit?: AdviceEdit
  /** Gain per metre of wire, a driver counted as {@link DRIVER_AS_METRES}: what it is ranked by. */
  worth: number
}

/** What gains less than this in everything is no proposal: nobody would notice it. `gain` is the weighed sum. */
export const LEAST = { gain: 1e-3, volt: 0.01, share: 0.01 } as const
/** The worst of each district with all trains running: no section's own figure is asked for, and no stalled train. */
const WORST_RUNNING = { tracks: new Set<number>(), running: true } as const

/** The district's standing as it is. */
export function standingOf(model: TrackModel, contactOhm: number): Standing {
  return runToEnd(standingSteps(model, contactOhm))
}

function* standingSteps(model: TrackModel, contactOhm: number): Progressive<Standing> {
  const { plan, net, worstCase } = model
  const { map } = mapVoltage(plan, worstCase)
  const envelope = yield* envelopeSteps(plan, worstCase, WORST_RUNNING)
  let place = 0
  map.volt.forEach((v, p) => {
    if (isLower(p, Math.abs(v), place, Math.abs(map.volt[place]!))) place = p
  })
  const plannedVolt = Math.abs(map.volt[place]!)
  let worstVolt = plannedVolt
  if (envelope.worst && envelope.worst.volt < worstVolt) {
    worstVolt = envelope.worst.volt
    place = envelope.worst.place
  }
  const shorts = mapShorts(worstCase, contactOhm, Number.POSITIVE_INFINITY)
  const weakest = shorts.places[shorts.weakest]!
  return {
    worstVolt: map.converged && envelope.converged ? worstVolt : 0,
    worstVoltPlace: placeName(plan, net, place),
    plannedVolt: map.converged ? plannedVolt : 0,
    overloadAmp: net.sources.reduce(
      (sum, source, d) =>
        sum + Math.max(0, map.districtAmp[d]! - (source.tripAmp ?? Number.POSITIVE_INFINITY)),
      0,
    ),
    shortShare:
      weakest.share === undefined ? undefined : (weakest.share * weakest.prospectiveAmp) / weakest.amp,
    shortPlace: placeName(plan, net, weakest.place),
  }
}

/** Proposals, best first by gain per metre; those that gain nothing are left out. */
export function adviseTrack(model: TrackModel, input: TrackInput): Advised {
  return runToEnd(adviceSteps(model, input))
}

export interface Advised {
  now: Standing
  /** Best first; each was judged by all clauses of the railroad, and makes none of them worse. */
  list: Advice[]
  /** What would have helped, but makes another clause worse. */
  refused: { what: string; because: string }[]
}

/** {@link adviseTrack} in steps. */
export function* adviceSteps(model: TrackModel, input: TrackInput): Progressive<Advised> {
  const contact = limitsOf(input.track).contactOhm
  const now = yield* relabelled(standingSteps(model, contact), 'what to change', 0)
  const tried: Tried[] = []
  const proposals: Proposal[] = []
  const propose: Propose = (p) => void proposals.push(p)
  const spots = weakSpots(model, contact)
  thickerBus(model, propose, input)
  const { districtAmp } = mapVoltage(model.plan, model.worstCase).map
  const overloaded = model.net.districts.flatMap((_, d) =>
    districtAmp[d]! > (model.net.sources[d]!.tripAmp ?? Number.POSITIVE_INFINITY) ? [d] : [],
  )
  for (const spot of spots) moreFeeder(model, spot, propose, input)
  for (const district of new Set([
    ...overloaded,
    ...spots.map((p) => model.net.districtOfTrack[model.net.places[p]!.track]!),
  ]))
    anotherDistrict(model, district, propose, input)
  for (const [n, p] of proposals.entries()) {
    yield { what: 'what to change', share: n / proposals.length }
    const { kind, what, wireM, parts, extraM } = p
    let changed: TrackModel
    let after: Standing
    try {
      changed = modelPlan(p.plan, p.sources)
      after = yield* relabelled(standingSteps(changed, contact), 'what to change', n / proposals.length)
    } catch (error) {
      // A cut that leaves a rail without feed is no proposal.
      if (!(error instanceof DesignConflict)) throw error
      continue
    }
    const gainVolt = after.worstVolt - now.worstVolt
    const gainShare = (after.shortShare ?? 0) - (now.shortShare ?? 0)
    // Volts against what may be lost, shares against what is wanted: both as parts of a whole.
    const open = Math.max(1, ...[...input.sources.values()].map((s) => s.openVolt.low))
    const allowed = open * limitsOf(input.track).dropShare
    // Trains may all run into one district, so cutting it in two helps those that stand in both, and what overloads it.
    const gainPlannedVolt = after.plannedVolt - now.plannedVolt
    const volts = kind === 'another district' ? Math.max(gainVolt, gainPlannedVolt) : gainVolt
    const relief = now.overloadAmp > 0 ? (now.overloadAmp - after.overloadAmp) / now.overloadAmp : 0
    const gain = volts / allowed + gainShare / limitsOf(input.track).reserve + relief
    if (gain < LEAST.gain || (volts < LEAST.volt && gainShare < LEAST.share && relief < LEAST.share)) continue
    const advice: Advice = {
      kind,
      what,
      wireM,
      parts,
      after,
      gainVolt,
      gainPlannedVolt,
      gainShare,
      worth: gain / (wireM + extraM),
      ...(p.edit ? { edit: p.edit } : {}),
    }
    tried.push({ same: p.same ?? what, advice, proposal: p, model: changed })
    keepBest(tried)
  }
  // Of two places on one section the better is enough.
  const seen = new Set<string>()
  const wanted = tried
    .sort((a, b) => b.advice.worth - a.advice.worth)
    .filter(({ same }) => !seen.has(same) && seen.add(same))
  const before = yield* relabelled(reportSteps(model, input, JUDGED), 'what to change', 0)
  const list: Advice[] = []
  const refused: Advised['refused'] = []
  for (const [n, { advice, proposal, model: kept }] of wanted.entries()) {
    const share = n / wanted.length
    const changed = kept ?? modelPlan(proposal.plan, proposal.sources)
    const { evidence } = yield* relabelled(reportSteps(changed, input, JUDGED), 'what to change', share)
    // A new district must be as good as the one it was cut from.
    const { split } = proposal
    const alike = evidence.map((e) => (split && e.about === split.fresh ? { ...e, about: split.from } : e))
    const worse = worsened(before.evidence, alike)[0]
    if (worse) refused.push({ what: advice.what, because: worse.because })
    else list.push(advice)
  }
  return { now, list, refused }
}

interface Tried {
  same: string
  advice: Advice
  proposal: Proposal
  /** Solved already, with the worst arrangement found in it; only of the best ones, as it takes a lot of memory. */
  model: TrackModel | undefined
}

const MOST_KEPT = 4

function keepBest(tried: Tried[]): void {
  const kept = tried.filter((t) => t.model)
  if (kept.length <= MOST_KEPT) return
  kept.reduce((least, t) => (t.advice.worth < least.advice.worth ? t : least)).model = undefined
}

/** Single faults break no clause and sections are judged by their districts, so that neither need be tried again. */
const JUDGED = { faults: false, everySection: false, positions: false } as const

/** Steps of a part under the name and share of the whole. */
function* relabelled<T>(steps: Progressive<T>, what: string, share: number): Progressive<T> {
  for (;;) {
    const next = steps.next()
    if (next.done) return next.value
    yield { what, share }
  }
}

/** Places worth mending: of lowest voltage, and of weakest short by share of the trip and by current. */
function weakSpots({ plan, net, worstCase }: TrackModel, contactOhm: number): number[] {
  const { map } = mapVoltage(plan, worstCase)
  const envelope = findEnvelope(plan, worstCase, WORST_RUNNING)
  const shorts = mapShorts(worstCase, contactOhm, Number.POSITIVE_INFINITY)
  const spots: number[] = [shorts.places[shorts.weakest]!.place]
  if (envelope.worst) spots.push(envelope.worst.place)
  let low = 0
  map.volt.forEach((v, p) => {
    if (isLower(p, Math.abs(v), low, Math.abs(map.volt[low]!))) low = p
  })
  spots.push(low)
  const farthest = highestOhm(worstCase)
  if (farthest >= 0) spots.push(farthest)
  return [...new Set(spots)].filter((p) => p >= 0 && p < net.places.length)
}

function highestOhm(circuit: Circuit): number {
  return circuit.placeOhm.reduce(
    (most, ohm, i, all) => (isLower(i, -ohm, most, -(all[most] ?? 0)) ? i : most),
    -1,
  )
}
