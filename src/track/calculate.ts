/** All figures of the railroad from its plain description. */
import { careFor } from '../power/index.js'
import type { Profile } from '../standard/index.js'
import { formatNumber } from '../units/index.js'
import type { RollingStockDesign, TrackDesign } from './design/track.js'
import { judgeTrack } from './evidence.js'
import { faultSteps } from './faults/faults.js'
import { expandPlan, type TrackLayout } from './layout/layout.js'
import { placeName, trackName } from './layout/names.js'
import { Circuit, layOut } from './network/circuit.js'
import { buildNetwork, type DistrictSource, EDGE, type Network } from './network/network.js'
import { opposedGaps, reverserOf, tooShortForTrains } from './polarity/opposed-gaps.js'
import { findPolarity, type ReverserCheck } from './polarity/routes.js'
import { swappedFeeders } from './polarity/swapped-feeders.js'
import { type Progressive, runToEnd } from './progress.js'
import type {
  DistrictFigure,
  FaultFigure,
  Finding,
  JointFigure,
  SectionFigure,
  Span,
  TrackReport,
} from './report.js'
import { ringingSteps } from './ringing/report.js'
import { mapShorts, type ShortMap } from './shorts/shorts.js'
import { type Envelope, envelopeSteps, mapVoltage } from './voltage/voltage.js'

export interface TrackInput {
  track: TrackDesign
  rollingStock?: RollingStockDesign
  /** Every power district by name. */
  sources: ReadonlyMap<string, DistrictSource>
  /** Limits of the clauses; without it no voltage clause is judged. */
  profile?: Profile
}

export interface TrackOptions {
  /** One fault each; on when left out. */
  faults?: boolean
  /** Edges on the bus; on when left out. */
  ringing?: boolean
  /** Search the best resistor and capacitor for the end of each bus; off when left out. */
  terminator?: boolean
}

export const LIMITS = {
  drop: 0.1,
  decoder: 7,
  contact: 0.1,
  reserve: 1.25,
  tripWithin: 500_000,
  rise: 40,
} as const

/** The steps between the design and the report, for those who need more than the report. */
export interface TrackModel {
  plan: TrackLayout
  net: Network
  /** Lowest supply, highest resistances. */
  worstCase: Circuit
  /** Highest supply, lowest resistances. */
  readonly bestCase: Circuit
}

/** @throws DesignConflict when the railroad cannot be as described; its `path` leads to the place in the file. */
export function modelTrack(input: TrackInput): TrackModel {
  return runToEnd(modelSteps(input))
}

/** {@link modelTrack} in steps. */
export function* modelSteps(input: TrackInput): Progressive<TrackModel> {
  yield { what: 'sections and joints', share: 0 }
  const plan = expandPlan(input.track, input.rollingStock ?? {}, [...input.sources.keys()])
  return yield* planSteps(plan, input.sources)
}

/** The model of a plan that is written out. @throws DesignConflict */
export function modelPlan(plan: TrackLayout, sources: ReadonlyMap<string, DistrictSource>): TrackModel {
  return runToEnd(planSteps(plan, sources))
}

function* planSteps(
  plan: TrackLayout,
  sources: ReadonlyMap<string, DistrictSource>,
): Progressive<TrackModel> {
  yield { what: 'network of rails and wires', share: 0 }
  const used = new Set(plan.runs.map((r) => r.district))
  const net = buildNetwork(plan, new Map([...sources].filter(([name]) => used.has(name))))
  net.sources = besideOthers(net, plan)
  yield { what: 'order of the network', share: 0 }
  const layout = layOut(net)
  yield { what: 'factors of the network', share: 0 }
  let bestCase: Circuit | undefined
  return {
    plan,
    net,
    worstCase: new Circuit(layout, 'high'),
    // Proposals never ask for it.
    get bestCase() {
      bestCase ??= new Circuit(layout, 'low')
      return bestCase
    },
  }
}

/** The sources as they are while everything that stands in the other districts runs. */
function besideOthers(net: Network, plan: TrackLayout): DistrictSource[] {
  const amps = new Map<string, number>()
  for (const s of plan.stands) {
    const district = s.track < 0 ? plan.runs[s.run]!.district : net.districts[net.districtOfTrack[s.track]!]!
    amps.set(district, (amps.get(district) ?? 0) + s.amp)
  }
  return net.sources.map((source) => {
    const beside = (source.beside ?? []).map((b) => ({ ...b, amp: amps.get(b.district) ?? 0 }))
    const lost = beside.reduce((sum, b) => sum + b.ohm * b.amp, 0)
    const drawn = beside.reduce((sum, b) => sum + b.amp, 0)
    if (drawn === 0) return source
    const { low, usual, high } = source.openVolt
    const { limitAmp, limitHighAmp } = source
    return {
      ...source,
      // Highest when nothing else runs.
      openVolt: { low: Math.max(0, low - lost), usual: Math.max(0, usual - lost), high },
      ...(limitAmp === undefined ? {} : { limitAmp: Math.max(0, limitAmp - drawn) }),
      ...(limitHighAmp === undefined ? {} : { limitHighAmp }),
    }
  })
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
  const limits = { ...LIMITS, ...input.track.limits }
  const findings: Finding[] = []

  const weakMap = mapVoltage(plan, worstCase)
  const strongMap = mapVoltage(plan, bestCase)
  const envelope = yield* envelopeSteps(plan, worstCase)
  const strongEnvelope = yield* envelopeSteps(plan, bestCase, { tracks: worstByDistrict(net, envelope) })
  yield { what: 'shorts', share: 0 }
  const shorts = mapShorts(worstCase, limits.contact, limits.rise)
  const strongShorts = mapShorts(bestCase, limits.contact, limits.rise)
  const converged =
    weakMap.map.converged && strongMap.map.converged && envelope.converged && strongEnvelope.converged
  const polarity = {
    ...findPolarity(plan),
    swapped: swappedFeeders(plan),
    opposed: opposedGaps(plan),
    reversers: checkReversers(model, shorts),
  }

  const sections = sectionFigures(
    model,
    weakMap.map.volt,
    strongMap.map.volt,
    envelope,
    strongEnvelope,
    shorts,
    strongShorts,
  )
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
    envelope: worstOf(model, envelope, weakMap.map.volt, limits.decoder),
    shorts: {
      contactOhm: limits.contact,
      reserve: limits.reserve,
      weakest: placeName(plan, net, shorts.places[shorts.weakest]!.place),
      heat: hottest(plan, net, shorts, strongShorts),
    },
    faults: { list: [], skipped: 0 },
    polarity,
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
      text: `Where trains hurt most was looked at on the ${looked} of ${plan.tracks.length} sections with the most wire and rail before them.`,
    })
  if (options.faults ?? true) {
    const faults = yield* faultSteps(plan, worstCase, weakMap.solution, limits.contact)
    report.faults = {
      skipped: faults.skipped,
      list: faults.list.map(
        (f): FaultFigure => ({
          ...f,
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
  addFindings(model, report, limits)
  report.evidence = judgeTrack(report, limits, input.profile)
  return report
}

/** The lowest section of every district: where the favourable case matters for the verdict. */
function worstByDistrict(net: Network, envelope: Envelope): Set<number> {
  const worst = new Map<number, { track: number; volt: number }>()
  for (const p of envelope.places) {
    if (!p) continue
    const d = net.districtOfTrack[p.track]!
    if (p.volt < (worst.get(d)?.volt ?? Number.POSITIVE_INFINITY)) worst.set(d, p)
  }
  return new Set([...worst.values()].map((p) => p.track))
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
    if (Math.abs(v) < Math.abs(standing[low]!)) low = p
  })
  const asStands = Math.abs(standing[low] ?? Number.POSITIVE_INFINITY)
  if (asStands < worst.volt)
    return {
      place: placeName(plan, net, low),
      volt: asStands,
      boundVolt: Math.min(worst.boundVolt, asStands),
      arrangement: ['the trains where they stand'],
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

function span(a: number, b: number): Span {
  return a <= b ? { low: a, high: b } : { low: b, high: a }
}

/** Infinity does not survive JSON: a short that never trips has the time null. */
function finite(us: number | undefined): number | null | undefined {
  return us === undefined || Number.isFinite(us) ? us : null
}

function sectionFigures(
  { plan, net }: TrackModel,
  weakVolt: Float64Array,
  strongVolt: Float64Array,
  envelope: Envelope,
  strongEnvelope: Envelope,
  shorts: ShortMap,
  bestCase: ShortMap,
): SectionFigure[] {
  return plan.tracks.map((t, i) => {
    const [from, to] = [net.placeStart[i]!, net.placeStart[i + 1]!]
    let low = from
    let high = Number.POSITIVE_INFINITY
    let weakest = from
    let strongest = Number.POSITIVE_INFINITY
    let bestUs = bestCase.places[from]!.timeUs
    for (let p = from; p < to; p++) {
      if (Math.abs(weakVolt[p]!) < Math.abs(weakVolt[low]!)) low = p
      high = Math.min(high, Math.abs(strongVolt[p]!))
      if (shorts.places[p]!.prospectiveAmp < shorts.places[weakest]!.prospectiveAmp) weakest = p
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
      envelopeStrongVolt: strongEnvelope.places[i]?.volt,
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
function jointFigures({ plan, net }: TrackModel, shorts: ShortMap): JointFigure[] {
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

function districtFigures(
  { plan, net, worstCase }: TrackModel,
  weakMap: ReturnType<typeof mapVoltage>['map'],
  strongMap: ReturnType<typeof mapVoltage>['map'],
  shorts: ShortMap,
  bestCase: ShortMap,
): DistrictFigure[] {
  return net.districts.map((name, d) => {
    const source = net.sources[d]!
    let worst = -1
    let weakest = -1
    let best = Number.POSITIVE_INFINITY
    let strongest = Number.POSITIVE_INFINITY
    net.places.forEach((p, i) => {
      if (net.districtOfTrack[p.track] !== d) return
      if (worst < 0 || Math.abs(weakMap.volt[i]!) < Math.abs(weakMap.volt[worst]!)) worst = i
      if (weakest < 0 || shorts.places[i]!.prospectiveAmp < shorts.places[weakest]!.prospectiveAmp)
        weakest = i
      best = Math.min(best, Math.abs(strongMap.volt[i]!))
      strongest = Math.min(strongest, bestCase.places[i]!.amp)
    })
    const none = worst < 0
    const farthest = none ? undefined : net.places[weakest]!
    return {
      name,
      openVolt: source.openVolt,
      sourceOhm: source.sourceOhm,
      tripAmp: source.tripAmp,
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
  const worstOf = (map: ShortMap) => {
    const here = map.places
      .filter((p) => p.district === district && p.timeUs !== undefined && Number.isFinite(p.timeUs))
      .sort((a, b) => a.amp - b.amp)
      // Where supply or driver hold the current, all places draw the same.
      .filter((p, i, all) => p.amp !== all[i - 1]?.amp || p.timeUs !== all[i - 1]?.timeUs)
    const step = Math.max(1, (here.length - 1) / TRIED)
    let worst: { place: number; amp: number; timeUs: number; us?: number; because: string } | undefined
    for (let at = 0; at < here.length; at += step) {
      const { place, amp, timeUs } = here[Math.round(at)]!
      const found = { place, amp, timeUs: timeUs!, ...stands(amp) }
      const room = (w: typeof found) => (w.us === undefined ? Number.POSITIVE_INFINITY : w.us - w.timeUs)
      if (!worst || room(found) < room(worst)) worst = found
    }
    return worst
  }
  const [a, b] = [worstOf(worstCase), worstOf(bestCase)]
  const holds = (w: typeof a) => w === undefined || w.us === undefined || w.us >= w.timeUs
  const worst = [a, b].find((w) => !holds(w)) ?? a ?? b
  if (!worst) return undefined
  const { place, amp, timeUs, us, because } = worst
  return {
    place: placeName(plan, net, place),
    amp,
    tripUs: timeUs,
    ...(us === undefined ? {} : { standsUs: Number.isFinite(us) ? us : null }),
    because,
    holds: { unfavourable: holds(a), favourable: holds(b) },
  }
}

function hottest(
  plan: TrackLayout,
  net: Network,
  worstCase: ShortMap,
  bestCase: ShortMap,
): TrackReport['shorts']['heat'] {
  const [a, b] = [worstCase.heat, bestCase.heat]
  const heat = a && b ? (a.riseK >= b.riseK ? a : b) : (a ?? b)
  return heat && { ...heat, place: placeName(plan, net, heat.place) }
}

function conductorFigures({ net }: TrackModel): TrackReport['conductors'] {
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

/** An automatic reverser must act before its district does, at the weakest place of its own track. */
function checkReversers({ plan, net }: TrackModel, shorts: ShortMap): ReverserCheck[] {
  return plan.runs.flatMap((run, i): ReverserCheck[] => {
    const own = run.design.reverser
    if (!own) return []
    const d = net.districts.indexOf(run.district)
    const source = net.sources[d]!
    const tracks = new Set(
      plan.feeders.filter((f) => !f.open && reverserOf(plan, f.run) === i).map((f) => f.track),
    )
    let least = Number.POSITIVE_INFINITY
    for (const p of shorts.places) if (tracks.has(net.places[p.place]!.track)) least = Math.min(least, p.amp)
    if (!Number.isFinite(least)) least = 0
    const districtTimeUs =
      source.tripAmp !== undefined && least > source.tripAmp ? source.tripTimeUs?.(least) : undefined
    const sooner = districtTimeUs === undefined || own.time < districtTimeUs
    const lower = source.tripAmp === undefined || own.trip < source.tripAmp
    const reached = least > own.trip
    const amp = (value: number) => formatNumber(value, 3)
    const because = !reached
      ? `a short on its track draws ${least.toFixed(2)} A, not above its ${amp(own.trip)} A: it never swaps`
      : !lower
        ? `it trips at ${amp(own.trip)} A, its district already at ${amp(source.tripAmp!)} A`
        : !sooner
          ? `it takes ${(own.time / 1000).toFixed(1)} ms, its district only ${((districtTimeUs ?? 0) / 1000).toFixed(1)} ms`
          : `it trips at ${amp(own.trip)} A within ${(own.time / 1000).toFixed(1)} ms, before its district`
    return [
      {
        run: run.name,
        district: run.district,
        ok: reached && lower && sooner,
        reverserAmp: own.trip,
        districtAmp: source.tripAmp,
        reverserTimeUs: own.time,
        districtTimeUs: Number.isFinite(districtTimeUs ?? 0) ? districtTimeUs : undefined,
        because,
        path: [...run.path, 'reverser'],
      },
    ]
  })
}

function addFindings(
  { plan, net, worstCase }: TrackModel,
  report: TrackReport,
  limits: typeof LIMITS | TrackDesign['limits'],
): void {
  const { findings } = report
  for (const text of [...plan.remarks, ...net.remarks]) findings.push({ severity: 'note', text })
  if (!report.converged)
    findings.push({
      severity: 'error',
      text: 'No steady state was found for the planned load: constant-power loads ask for more than the wires can carry. The voltages mean nothing.',
    })
  for (const d of report.districts) {
    const idleAmp = worstCase.sourceAmp(worstCase.open, net.districts.indexOf(d.name))
    if (d.tripAmp !== undefined && idleAmp > d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}" trips at once, with no train on it: what is swapped makes a short of ${formatNumber(idleAmp, 3)} A by the wiring. Its voltages are those that would be if it did not.`,
        path: ['power', 'districts', d.name],
      })
    else if (d.tripAmp !== undefined && d.loadAmp.high > d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}": the trains that stand there draw ${d.loadAmp.high.toFixed(2)} A, more than its trip current of ${d.tripAmp.toFixed(2)} A.`,
        path: ['power', 'districts', d.name],
      })
    if (d.tripAmp !== undefined && d.limitAmp !== undefined && d.limitAmp <= d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}": its supply can be counted on for ${d.limitAmp.toFixed(2)} A, but it trips only at ${d.tripAmp.toFixed(2)} A; a short may never trip.`,
        path: ['power', 'districts', d.name],
      })
    if (d.tripAmp === undefined)
      findings.push({
        severity: 'warning',
        text: `District "${d.name}" has no trip level: nothing switches a short off but a fuse.`,
        path: ['power', 'districts', d.name],
      })
  }
  for (const t of report.trains)
    if (t.brownOut)
      findings.push({
        severity: 'error',
        text: `${t.name} on ${t.section} has ${t.volt.low.toFixed(1)} V, below the decoder's ${limits?.decoder ?? LIMITS.decoder} V: it browns out.`,
        path: ['rollingStock', t.name],
      })
  for (const { harm, because, path } of report.polarity.swapped)
    findings.push({ severity: harm === 'harmless' ? 'note' : 'error', text: because, path })
  plan.feeders.forEach((f) => {
    if (f.open) findings.push({ severity: 'warning', text: `The feeder of ${f.name} is open.`, path: f.path })
  })
  for (const { because, path } of report.polarity.opposed)
    findings.push({ severity: 'error', text: because, path })
  plan.runs.forEach((run, i) => {
    const short = run.design.reverser ? tooShortForTrains(plan, i) : undefined
    if (short)
      findings.push({
        severity: 'warning',
        text: `The reverser of "${run.name}" feeds ${formatNumber(short.partMm / 1000, 3)} m of track; ${short.train} is ${formatNumber(short.trainMm / 1000, 3)} m long: with metal wheels along its length it bridges the gaps at both ends at once, and that is a short whichever way the reverser turns.`,
        path: [...run.path, 'reverser'],
      })
  })
  for (const name of report.cutForPolarity)
    findings.push({
      severity: 'error',
      text: `At "${name}" a rail meets its opposite. All other figures hold once both rails are cut there.`,
    })
}
