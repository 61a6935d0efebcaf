/** All figures of the railroad from its plain description. */
import { careFor } from '../power/index.js'
import type { Evidence } from '../standard/index.js'
import { judgeTrack } from './evidence.js'
import { faultSteps } from './faults/faults.js'
import { conductorFigures, districtFigures, hottest, jointFigures, sectionFigures, span } from './figures.js'
import { trackFindings } from './findings.data.js'
import { bridgeGaps, invertedGaps } from './gaps/bridging.js'
import { crossingFrogs } from './gaps/frogs.js'
import { commonRails } from './gaps/isolation.js'
import { hotConductors } from './heat/conductors.js'
import { hottestAllowed } from './heat/evidence.js'
import { hotJoints, unratedSwitches } from './heat/joints.js'
import { hotTerminators } from './heat/terminators.js'
import type { TrackLayout } from './layout/layout.js'
import { placeName, trackName } from './layout/names.js'
import { limitsOf } from './limits.js'
import { modelTrack, type TrackInput, type TrackModel } from './model.js'
import { isLower } from './network/lowest.js'
import { addFindings } from './notices.js'
import {
  mixedReversers,
  opposedGaps,
  reversedStretches,
  sharedReversers,
  untoldTurntables,
} from './polarity/opposed-gaps.js'
import { checkReversers } from './polarity/reversers.js'
import { findPolarity } from './polarity/routes.js'
import { swappedFeeders } from './polarity/swapped-feeders.js'
import { type Progressive, runToEnd } from './progress.js'
import type { FaultFigure, Finding, TrackReport } from './report.js'
import { ringingEvidence } from './ringing/evidence.js'
import { ringingSteps } from './ringing/report.js'
import { mapShorts } from './shorts/shorts.js'
import { situationsOf } from './situations.js'
import { notAllPositions, worstPosition } from './switches/judge.js'
import { inPosition, positionsByDistrict, switchPositions } from './switches/positions.js'
import { areSeparateSidings, OF_EDGES } from './switches/separate.js'
import { type Envelope, envelopeSteps } from './voltage/envelope.js'
import { worstJoints } from './voltage/joint-corners.js'
import { loadsOf, mapVoltage } from './voltage/voltage.js'

export interface TrackOptions {
  /** One fault each; on when left out. */
  faults?: boolean
  /** Edges on the bus; on when left out. */
  ringing?: boolean
  /** Search the best resistor and capacitor for the end of each bus; off when left out. */
  terminator?: boolean
  /** The worst arrangement of trains on every section, not only in every district; on when left out. */
  everySection?: boolean
  /** Every other position of the hand switches; on when left out. */
  positions?: boolean
}

/**
 * Voltage, shorts, faults, polarity and ringing of a railroad.
 * @throws DesignConflict, see {@link modelTrack}
 */
export function calculateTrack(input: TrackInput, options: TrackOptions = {}): TrackReport {
  return reportTrack(modelTrack(input), input, options)
}

/** The report of a model already made. */
export function reportTrack(model: TrackModel, input: TrackInput, options: TrackOptions = {}): TrackReport {
  return runToEnd(reportSteps(model, input, options))
}

/** {@link reportTrack} in steps, for large railroads. */
export function* reportSteps(
  model: TrackModel,
  input: TrackInput,
  options: TrackOptions = {},
): Progressive<TrackReport> {
  yield { what: 'voltage', share: 0 }
  const { plan, net, worstCase, bestCase } = model
  const limits = limitsOf(input.track)
  const limitC = hottestAllowed(input.profile)
  const findings: Finding[] = []

  const weakMap = mapVoltage(plan, worstCase)
  lowestOverJoints(model, weakMap)
  const strongMap = mapVoltage(plan, bestCase)
  const wanted = (options.everySection ?? true) ? {} : { tracks: new Set<number>() }
  const envelope = yield* envelopeSteps(plan, worstCase, wanted)
  const bestEnvelope = yield* envelopeSteps(plan, bestCase, { tracks: new Set() })
  yield { what: 'shorts', share: 0 }
  const shorts = mapShorts(worstCase, limits.contactOhm, limits.riseK)
  const strongShorts = mapShorts(bestCase, limits.contactOhm, limits.riseK)
  const converged =
    weakMap.map.converged && strongMap.map.converged && envelope.converged && bestEnvelope.converged
  const polarity = {
    ...findPolarity(plan),
    swapped: swappedFeeders(plan),
    opposed: opposedGaps(plan),
    reversers: checkReversers(model, shorts),
    stretches: reversedStretches(plan),
    shared: sharedReversers(plan),
    mixed: mixedReversers(plan),
    untold: untoldTurntables(plan),
  }
  const gaps = [...bridgeGaps(model, polarity), ...crossingFrogs(model)]
  for (const gap of invertedGaps(model, gaps, polarity.opposed)) polarity.opposed.push(gap)

  const sections = sectionFigures(model, weakMap.map.volt, strongMap.map.volt, envelope, shorts, strongShorts)
  const report: TrackReport = {
    sections,
    joints: jointFigures(model, shorts),
    districts: districtFigures(model, weakMap.map, strongMap.map, shorts, strongShorts),
    trains: plan.stands.flatMap((s, i) => {
      if (!s.train) return []
      const [a, b] = [weakMap.map.stands[i]!, strongMap.map.stands[i]!]
      const section = s.track < 0 ? plan.runs[s.run]!.name : trackName(plan.tracks[s.track]!)
      return [
        {
          name: s.name,
          section,
          volt: span(Math.abs(a.volt), Math.abs(b.volt)),
          amp: span(Math.abs(a.amp), Math.abs(b.amp)),
          brownOut: a.brownOut,
        },
      ]
    }),
    envelope: worstOf(model, envelope, weakMap.map.volt, limits.decoderVolt),
    arrangements: arrangementFigures(model, envelope, bestEnvelope),
    shorts: {
      contactOhm: limits.contactOhm,
      reserve: limits.reserve,
      weakest: placeName(plan, net, shorts.places[shorts.weakest]!.place),
      heat: hottest(plan, net, shorts, strongShorts),
    },
    faults: { list: [], skipped: 0 },
    polarity,
    heat: heatFigures(model, limitC, input.profile),
    gaps,
    commonRails: commonRails(model),
    situations: [],
    cutForPolarity: net.cutForPhase.map((j) => plan.joints[j]!.name),
    conductors: conductorFigures(model),
    ringing: undefined,
    findings,
    cautions: careFor('supply', 'fuse', 'outputs', 'trip', 'heat'),
    evidence: [],
    converged,
  }
  const looked = envelope.places.filter((p) => p !== undefined).length
  if (looked > 0 && looked < plan.tracks.length)
    findings.push({
      severity: 'note',
      text: `Worst-case positions were evaluated on the ${looked} of ${plan.tracks.length} sections with the most wire and rail before them.`,
    })
  if (options.faults ?? true) {
    const faults = yield* faultSteps(plan, worstCase, weakMap.solution, limits.contactOhm)
    report.faults = {
      skipped: faults.skipped,
      list: faults.list.map(
        (f): FaultFigure => ({
          ...f,
          protects: f.short === undefined ? undefined : f.short > 1,
          voltPlace: placeName(plan, net, f.voltPlace),
          shortPlace: placeName(plan, net, f.shortPlace),
        }),
      ),
    }
  }
  if (options.ringing ?? true) {
    const withstand = input.profile?.clauses['decoder-withstand'].sender.max ?? 24
    report.ringing = yield* ringingSteps(plan, net, withstand, options.terminator ?? false)
  }
  report.situations = situationsOf(model, report)
  addFindings(model, report, limits)
  report.evidence = judgeTrack(report, limits, input.profile)
  if (options.positions ?? true) yield* otherPositions(plan, input, options, report)
  return report
}

/** Judge every other position of the hand switches too. */
function* otherPositions(
  plan: TrackLayout,
  input: TrackInput,
  options: TrackOptions,
  report: TrackReport,
): Progressive<void> {
  const { list, all, singly } = switchPositions(input.track)
  for (const [n, { setting, name }] of list.entries()) {
    if (n === 0) continue
    yield { what: 'positions of switches', share: n / list.length }
    const model = inPosition(name, () => modelTrack(input, setting))
    for (const { tracks, trains, why, path } of model.dead)
      if (why === 'switched off')
        report.findings.push({
          severity: 'note',
          text: `${trackFindings.find('switched-off', { position: name, tracks, trains }).sentence}.`,
          path,
        })
    if (model.plan.tracks.length === 0) continue
    const other = yield* reportSteps(model, input, { ...options, faults: false, positions: false })
    report.evidence = worstPosition(report.evidence, other.evidence, name)
  }
  if (list.length === all) return
  const separate = singly && areSeparateSidings(plan, input.sources)
  const edges = separate && (yield* edgesInAllPositions(plan, input, options, report))
  const bounded = (e: Evidence) => separate && (edges || !OF_EDGES.has(e.clause))
  report.evidence = notAllPositions(report.evidence, list.length, all, bounded)
}

/** The edges on each bus in every position of its district's own switches. @returns whether all were tried */
function* edgesInAllPositions(
  plan: TrackLayout,
  input: TrackInput,
  options: TrackOptions,
  report: TrackReport,
): Progressive<boolean> {
  // What is open already stays so.
  if (!report.ringing || !report.evidence.some((e) => OF_EDGES.has(e.clause) && e.verdict === 'met'))
    return true
  const list = positionsByDistrict(input.track, (run) => plan.runs.find((r) => r.name === run)!.district)
  if (!list) return false
  for (const [n, { setting, name }] of list.entries()) {
    // None off and one alone were tried already.
    if (Object.keys(setting).length < 2) continue
    yield { what: 'edges with the switches in every position', share: n / list.length }
    const { plan, net } = modelTrack(input, setting)
    const { withstandVolt } = report.ringing
    const ringing = yield* ringingSteps(plan, net, withstandVolt, options.terminator ?? false)
    const found = ringingEvidence({ ...report, ringing }, input.profile)
    report.evidence = worstPosition(report.evidence, found, name)
  }
  return true
}

function heatFigures(model: TrackModel, limitC: number, profile: TrackInput['profile']): TrackReport['heat'] {
  const known = <T>(x: T | undefined): T[] => (x === undefined ? [] : [x])
  return {
    conductors: hotConductors(model, limitC).flatMap(known),
    joints: hotJoints(model, limitC).flatMap(known),
    unrated: unratedSwitches(model),
    terminators: hotTerminators(model, profile),
  }
}

/** The worst of every district in both corners. */
function arrangementFigures(
  { plan, net }: TrackModel,
  worstCase: Envelope,
  bestCase: Envelope,
): TrackReport['arrangements'] {
  const figures = (situation: 'running' | 'stalled') =>
    worstCase[situation].flatMap((w, d): TrackReport['arrangements'] => {
      if (!w) return []
      return [
        {
          district: net.districts[d]!,
          situation,
          place: placeName(plan, net, w.place),
          volt: span(Math.max(0, w.volt - w.jointVolt), bestCase[situation][d]?.volt ?? w.volt),
          boundVolt: Math.max(0, w.boundVolt - w.jointVolt),
          amp: w.amp,
          trains: w.arrangement.map((t) => `${t.train} on ${trackName(plan.tracks[t.track]!)}`),
          ...(w.stalled ? { stalled: w.stalled } : {}),
          tripLimited: w.tripLimited,
        },
      ]
    })
  return [...figures('running'), ...figures('stalled')]
}

/** The worst of what was tried, the trains where they stand among it. */
function worstOf(
  { plan, net }: TrackModel,
  { worst, arrangement }: Envelope,
  standing: Float64Array,
  decoderVolt: number,
): TrackReport['envelope'] {
  if (!worst) return undefined
  let low = 0
  standing.forEach((v, p) => {
    if (isLower(p, Math.abs(v), low, Math.abs(standing[low]!))) low = p
  })
  const asStands = Math.abs(standing[low] ?? Number.POSITIVE_INFINITY)
  if (asStands < worst.volt)
    return {
      place: placeName(plan, net, low),
      volt: asStands,
      boundVolt: Math.min(worst.boundVolt, asStands),
      arrangement: ['the trains as parked'],
      brownOut: asStands < decoderVolt,
    }
  return {
    place: placeName(plan, net, worst.place),
    volt: worst.volt,
    boundVolt: worst.boundVolt,
    arrangement: arrangement.map((t) => `${t.train} on ${trackName(plan.tracks[t.track]!)}`),
    brownOut: worst.volt < decoderVolt,
  }
}

/** The lowest place of each district, with the joiners and contacts that are worst for it. */
function lowestOverJoints(
  { plan, net, worstCase }: TrackModel,
  { map: { volt }, solution }: ReturnType<typeof mapVoltage>,
): void {
  const lowest = net.districts.map(() => -1)
  net.places.forEach((p, i) => {
    const d = net.districtOfTrack[p.track]!
    const first = lowest[d]!
    if (first < 0 || Math.abs(volt[i]!) < Math.abs(volt[first]!)) lowest[d] = i
  })
  const loads = loadsOf(plan, net)
  for (const i of lowest) {
    if (i < 0 || volt[i] === 0) continue
    const { a, b } = net.places[i]!
    const found = worstJoints(worstCase, loads, a, b, solution.x)
    if (found.volt < Math.abs(volt[i]!)) volt[i] = Math.sign(volt[i]!) * found.volt
  }
}
