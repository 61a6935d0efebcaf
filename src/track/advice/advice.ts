/**
 * What to change: thicker bus, one more feeder, another district. Every proposal is a changed plan solved anew from
 * the start, so its figures are as good as those of the design itself.
 */

import { worsened } from '../../standard/index.js'
import { reportSteps } from '../calculate.js'
import { IEC_MAX_MOHM_PER_M } from '../conductors/conductor.data.js'
import { DesignConflict } from '../design-conflict.js'
import type { Feeder, TrackLayout } from '../layout/layout.js'
import { placeName, trackName } from '../layout/names.js'
import { limitsOf } from '../limits.js'
import { modelPlan, type TrackInput, type TrackModel } from '../model.js'
import type { Circuit } from '../network/circuit.js'
import { isLower } from '../network/lowest.js'
import type { DistrictSource } from '../network/network.js'
import { type Progressive, runToEnd } from '../progress.js'
import { mapShorts } from '../shorts/shorts.js'
import { envelopeSteps, findEnvelope } from '../voltage/envelope.js'
import { mapVoltage } from '../voltage/voltage.js'

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

/** A driver with its fuse is reckoned like so many metres of wire; a judgement, not a price. */
export const DRIVER_AS_METRES = 20
/** What gains less than this in everything is no proposal: nobody would notice it. `gain` is the weighed sum. */
export const LEAST = { gain: 1e-3, volt: 0.01, share: 0.01 } as const
/** Work of a tap, reckoned like so many metres of wire. */
const TAP_AS_METRES = 0.5

const AWG_STEPS = 2
/** On large railroads the worst arrangement is looked for on so many sections of highest resistance. */
const SECTIONS = 150

/** The district's standing as it is. */
export function standingOf(model: TrackModel, contactOhm: number): Standing {
  return runToEnd(standingSteps(model, contactOhm))
}

function* standingSteps(model: TrackModel, contactOhm: number): Progressive<Standing> {
  const { plan, net, worstCase } = model
  const { map } = mapVoltage(plan, worstCase)
  const envelope = yield* envelopeSteps(plan, worstCase, { most: SECTIONS })
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

/** A change of the plan that is worth trying. */
interface Proposal {
  kind: Advice['kind']
  what: string
  /** Proposals with the same word are the same thing at another place of it. */
  same?: string
  wireM: number
  parts: string
  /** What else it takes, reckoned as metres of wire. */
  extraM: number
  plan: TrackLayout
  sources: ReadonlyMap<string, DistrictSource>
  /** A new district, and the one it was cut from. */
  split?: { fresh: string; from: string }
  edit?: AdviceEdit
}

/** {@link adviseTrack} in steps. */
export function* adviceSteps(model: TrackModel, input: TrackInput): Progressive<Advised> {
  const contact = limitsOf(input.track).contactOhm
  const now = yield* relabelled(standingSteps(model, contact), 'what to change', 0)
  const tried: { same: string; advice: Advice; proposal: Proposal }[] = []
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
    let after: Standing
    try {
      const changed = modelPlan(p.plan, p.sources)
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
    tried.push({ same: p.same ?? what, advice, proposal: p })
  }
  // Of two places on one section the better is enough.
  const seen = new Set<string>()
  const wanted = tried
    .sort((a, b) => b.advice.worth - a.advice.worth)
    .filter(({ same }) => !seen.has(same) && seen.add(same))
  const before = yield* relabelled(reportSteps(model, input, JUDGED), 'what to change', 0)
  const list: Advice[] = []
  const refused: Advised['refused'] = []
  for (const [n, { advice, proposal }] of wanted.entries()) {
    const share = n / wanted.length
    const changed = modelPlan(proposal.plan, proposal.sources)
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

/** Single faults break no clause and sections are judged by their districts, so that neither need be tried again. */
const JUDGED = { faults: false, everySection: false, positions: false } as const

type Propose = (proposal: Proposal) => void

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
  const envelope = findEnvelope(plan, worstCase, { most: SECTIONS })
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

/** The next thicker wires one can buy: lower AWG numbers by twos, or the standard's next sections. */
function thickerThan(wire: string): string[] {
  const match = /^(-?\d+(?:[.,]\d+)?)\s*(AWG|mm2|mm²)$/iu.exec(wire.trim())
  if (!match) return []
  const number = Number(match[1]!.replace(',', '.'))
  if (match[2]!.trim().toUpperCase() === 'AWG')
    return Array.from({ length: AWG_STEPS }, (_, i) => number - 2 * (i + 1))
      .filter((n) => n >= 10)
      .map((n) => `${n} AWG`)
  return Object.keys(IEC_MAX_MOHM_PER_M)
    .map(Number)
    .sort((a, b) => a - b)
    .filter((a) => a > number)
    .slice(0, AWG_STEPS)
    .map((a) => `${a} mm2`)
}

function thickerBus({ plan }: TrackModel, propose: Propose, input: TrackInput): void {
  plan.runs.slice(0, 8).forEach((run, i) => {
    for (const wire of thickerThan(run.design.wire)) {
      const runs = plan.runs.map((r, k) => (k === i ? { ...r, design: { ...r.design, wire } } : r))
      const metres = (2 * run.design.length) / 1000
      propose({
        kind: 'thicker bus',
        what: `Lay bus run "${run.name}" in ${wire} instead of ${run.design.wire}.`,
        wireM: metres,
        parts: '',
        extraM: 0,
        plan: { ...plan, runs },
        sources: input.sources,
        edit: { do: 'set wire', run: run.name, wire },
      })
    }
  })
}

function moreFeeder({ plan, net }: TrackModel, place: number, propose: Propose, input: TrackInput): void {
  const at = net.places[place]!
  const near = nearestFeeder(plan, at.track, at.atMm, (f) => !f.open)
  if (!near || plan.runs.some((r) => r.design.switch)) return
  const like = plan.design.defaults?.feeder
  const run = plan.runs[near.feeder.run]!
  const busMm = Math.min(run.design.length, near.feeder.busMm + near.awayMm)
  const added: Feeder = {
    ...near.feeder,
    name: `${plan.tracks[at.track]!.name} (new)`,
    track: at.track,
    railMm: at.atMm,
    busMm,
    wire: near.feeder.wire,
    lengthMm: like?.length ?? near.feeder.lengthMm,
    swapped: false,
    open: false,
  }
  propose({
    kind: 'one more feeder',
    same: `feeder ${at.track}`,
    what: `Feed ${placeName(plan, net, place)} from run "${run.name}" at ${(busMm / 1000).toFixed(1)} m, with ${added.wire}, ${(added.lengthMm / 1000).toFixed(2)} m.`,
    wireM: (2 * added.lengthMm) / 1000,
    parts: '2 taps, 2 solder joints',
    extraM: TAP_AS_METRES,
    plan: { ...plan, feeders: [...plan.feeders, added] },
    sources: input.sources,
    edit: {
      do: 'add feeder',
      track: trackName(plan.tracks[at.track]!),
      placeMm: at.atMm,
      bus: run.name,
      busMm,
      wire: added.wire,
      lengthMm: added.lengthMm,
    },
  })
}

/** The feeder with the shortest way along the rails, through joints without gaps. */
function nearestFeeder(
  plan: TrackLayout,
  track: number,
  atMm: number,
  wanted: (f: Feeder) => boolean,
): { feeder: Feeder; awayMm: number } | undefined {
  const links = trackLinks(plan)
  const by = new Map<number, Feeder[]>()
  for (const f of plan.feeders) if (wanted(f)) by.set(f.track, [...(by.get(f.track) ?? []), f])
  const away = new Map<number, number>([[track, 0]])
  const queue = [track]
  let best: { feeder: Feeder; awayMm: number } | undefined
  while (queue.length > 0) {
    queue.sort((a, b) => away.get(a)! - away.get(b)!)
    const t = queue.shift()!
    const d = away.get(t)!
    if (best && d >= best.awayMm) break
    for (const feeder of by.get(t) ?? []) {
      const awayMm = t === track ? Math.abs(feeder.railMm - atMm) : d + feeder.railMm / 2
      if (!best || awayMm < best.awayMm) best = { feeder, awayMm }
    }
    for (const next of links[t]!) {
      const further = d + plan.tracks[t]!.lengthMm / (t === track ? 2 : 1)
      if (further < (away.get(next) ?? Number.POSITIVE_INFINITY)) {
        away.set(next, further)
        if (!queue.includes(next)) queue.push(next)
      }
    }
  }
  return best
}

function trackLinks(plan: TrackLayout): number[][] {
  const links: number[][] = plan.tracks.map(() => [])
  const link = (a: number, b: number) => {
    links[a]!.push(b)
    links[b]!.push(a)
  }
  for (const hub of plan.hubs) for (const end of hub.slice(1)) link(hub[0]! >> 1, end >> 1)
  for (const j of plan.joints) if (!(j.gapL && j.gapR)) link(j.a >> 1, j.b >> 1)
  return links
}

/**
 * Cut a district in two: feeders on the far half of its bus, and the tracks nearer to them than to the others, go to a
 * driver of their own with wires of its own from the station; both rails are cut wherever the two halves meet.
 */
function anotherDistrict(
  { plan, net }: TrackModel,
  district: number,
  propose: Propose,
  input: TrackInput,
): void {
  const name = net.districts[district]!
  const source = input.sources.get(name)!
  // What its switches do to the other half is the builder's to decide.
  if (plan.runs.some((r) => r.design.switch)) return
  const mine = plan.feeders.filter((f) => plan.runs[f.run]!.district === name && !f.open)
  if (mine.length < 2) return
  const distance = (f: Feeder) => {
    let mm = f.busMm
    for (let r = plan.runs[f.run]!; r.parent >= 0; r = plan.runs[r.parent]!) mm += r.atMm
    return mm
  }
  const sorted = [...mine].sort((a, b) => distance(a) - distance(b))
  const farFeeders = new Set(sorted.slice(Math.ceil(sorted.length / 2)))
  // Which half is each track nearer to? Breadth-first from all fed tracks at once.
  const half = new Int8Array(plan.tracks.length).fill(-1)
  const links = trackLinks(plan)
  let wave = mine.map((f) => f.track)
  for (const f of mine) half[f.track] = farFeeders.has(f) ? 1 : Math.max(0, half[f.track]!)
  while (wave.length > 0) {
    const next: number[] = []
    for (const t of wave)
      for (const n of links[t]!)
        if (half[n]! < 0) {
          half[n] = half[t]!
          next.push(n)
        }
    wave = next
  }
  // A turnout cannot be cut inside: all its legs go with the first.
  for (const hub of plan.hubs) {
    const first = half[hub[0]! >> 1]!
    for (const end of hub) half[end >> 1] = first
  }
  const cuts: string[] = []
  const joints = plan.joints.map((j) => {
    const [a, b] = [half[j.a >> 1]!, half[j.b >> 1]!]
    if (a < 0 || b < 0 || a === b || (j.gapL && j.gapR)) return j
    cuts.push(j.name)
    return { ...j, gapL: true, gapR: true }
  })
  if (cuts.length === 0) return
  const fresh = `${name} 2`
  if (input.sources.has(fresh)) return
  // Every run that far feeders hang on gets a twin that starts at the station.
  const runs = [...plan.runs]
  const twin = new Map<number, number>()
  let wireMm = 0
  const feeders = plan.feeders.map((f) => {
    if (half[f.track] !== 1 || plan.runs[f.run]!.district !== name) return f
    let run = twin.get(f.run)
    const own = plan.runs[f.run]!
    const offset = distance(f) - f.busMm
    if (run === undefined) {
      const { reverser: _, ...design } = own.design
      run =
        runs.push({
          ...own,
          name: `${own.name} 2`,
          district: fresh,
          parent: -1,
          atMm: 0,
          design: { ...design, length: own.design.length + offset },
        }) - 1
      twin.set(f.run, run)
    }
    wireMm = Math.max(wireMm, distance(f))
    return { ...f, run, busMm: f.busMm + offset }
  })
  const sources = new Map(input.sources)
  sources.set(fresh, source)
  const shown =
    cuts.length > 6 ? `${cuts.slice(0, 6).join(', ')} and ${cuts.length - 6} more` : cuts.join(', ')
  const far = plan.tracks.filter((_, t) => half[t] === 1)
  propose({
    kind: 'another district',
    what: `Make ${far.length} ${far.length === 1 ? 'section' : 'sections'} of district "${name}" (${trackName(far[0]!)}${far.length > 1 ? ' and on' : ''}) a district of ${far.length === 1 ? 'its' : 'their'} own: cut both rails at ${shown}; its driver like the other.`,
    wireM: (2 * wireMm) / 1000,
    parts: `1 driver with fuse and sense, ${cuts.length} ${cuts.length === 1 ? 'pair' : 'pairs'} of gaps`,
    extraM: DRIVER_AS_METRES,
    plan: { ...plan, runs, joints, feeders },
    sources,
    split: { fresh, from: name },
  })
}
