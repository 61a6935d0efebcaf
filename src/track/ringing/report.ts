/** Ringing of every district: as designed, with the best resistor and capacitor at the far end, and what confirms it. */

import { dependence, Remembered } from '../../units/index.js'
import type { TrackLayout } from '../layout/layout.js'
import type { Network } from '../network/network.js'
import type { Progressive } from '../progress.js'
import {
  emptyLine,
  type RingCircuit,
  type RingDecoderFigures,
  type RingOptions,
  ringDecoderFigures,
  withLoneDecoder,
} from './circuit.js'
import type { DriverEdge } from './edge.js'
import { type EdgeMeasure, measureEdge } from './measure.js'
import { EDGE_AT_US } from './plain-ladder.js'
import { EdgeRecord, peaksOfEdge, simulateEdge, stepsOf, type Waves } from './simulate.js'
import { type SpiceRun, wavesBySpice } from './spice.js'

export interface PlaceEdge extends EdgeMeasure {
  place: string
  node: number
}

export interface TerminatorChoice {
  ohm: number
  farad: number
  /** Heat in the resistor with nothing but ones on the track, W. */
  watt: number
  peakVolt: number
  distortionVolt: number
  slopeVoltPerUs: number
}

/** What decides the clauses, for another edge of the driver. */
export interface EdgeBound {
  edgeUs: number
  highPeakVolt: number
  /** At either end. */
  slopeVoltPerUs: number
  distortionVolt: number
}

export interface DistrictRinging {
  district: string
  farMm: number
  edgeUs: number
  /** At the terminals of one lone decoder, at the place where its peak is highest. */
  worst: PlaceEdge
  /** At the driver's output, where the standards measure. */
  near: PlaceEdge
  /** The lone decoder with its capacitor behind the bridge, which holds the peak down. */
  withCapacitor: EdgeMeasure
  /** Slowest edge and largest step backwards, at either end. */
  slopeVoltPerUs: number
  distortionVolt: number
  far: PlaceEdge
  /** The highest peak with the supply at its highest voltage, V. */
  highPeakVolt: number
  /** How long the driver's edge takes, and how that is known. */
  edge: DriverEdge
  /** Where the edge is assumed: the same for the quickest and slowest edges that drivers have. */
  bounds?: { fast: EdgeBound; slow: EdgeBound }
  /** Time the loop's inductance takes to turn the planned current round, us: lost from every half-bit. */
  commutationUs: number
  /** Voltage over the far place, for drawing. */
  wave: { timeUs: number[]; volt: number[] }
  /** Runs that a resistor and capacitor would end. */
  ends: string[]
  /** Best of the search; undefined when it was not asked for. */
  best?: TerminatorChoice
  /** Same edge with the best terminator. */
  bestWave?: { timeUs: number[]; volt: number[] }
  by: 'ladder' | 'SPICE'
}

export interface RingingReport {
  districts: DistrictRinging[]
  /** Peak that decoders must withstand, V. */
  withstandVolt: number
  decoder: RingDecoderFigures
}

/** How long to look, us: several times there and back, until the ringing has died down or will not matter. */
export function windowUs(c: RingCircuit): number {
  return Math.min(30, Math.max(5, EDGE_AT_US + c.edgeUs + 0.4 * (c.farMm / 1000)))
}

/** A zero's half, us: no edge waits longer for the next one but in stretched zeros. S-9.1. */
const ZERO_HALF_US = 100

/**
 * How long until the highest peak has come, us: twenty times along the bus after the edge. Beyond a kilometre the next edge comes
 * before that, and the wire's own loss has taken most of what comes back: then as long as a zero's half, or four times along.
 */
export function peakWindowUs(c: Pick<RingCircuit, 'edgeUs' | 'farMm'>): number {
  const metres = c.farMm / 1000
  const passing = Math.min(0.1 * metres, Math.max(ZERO_HALF_US, 0.02 * metres))
  return EDGE_AT_US + c.edgeUs + Math.max(0.6, passing)
}

/** Places that are tried with the decoder there: those of highest peak while there is none. */
const MOST_PLACES = 2

/**
 * A district's line with one lone decoder, without a capacitor, at the place where its peak is highest. Other trains, lamps and
 * motors only damp; what happens to stand on the rails must not decide.
 * @returns `undefined` when no run starts there
 */
export function ringCircuit(
  plan: TrackLayout,
  net: Network,
  district: number,
  options: RingOptions = {},
): RingCircuit | undefined {
  const line = emptyLine(plan, net, district, options)
  return line && loneAtWorst(line, ringDecoderFigures(plan))?.circuit
}

interface LoneDecoder {
  circuit: RingCircuit
  /** Its edge, where it was already stepped as the report wants it. */
  record?: EdgeRecord
}

function loneAtWorst(
  { circuit, railNodes }: { circuit: RingCircuit; railNodes: number[] },
  figures: RingDecoderFigures,
): LoneDecoder | undefined {
  const until = peakWindowUs(circuit)
  const empty = peaksOfEdge(circuit, until)
  const places = [...railNodes].sort((a, b) => empty[b]! - empty[a]!).slice(0, MOST_PLACES)
  let worst: (LoneDecoder & { peak: number }) | undefined
  for (const node of places) {
    const lone = withLoneDecoder(circuit, node, figures, false)
    const found = peakOfLone(lone, node, until)
    if (!worst || found.peak > worst.peak) worst = { circuit: lone, ...found }
  }
  return worst
}

/** The peak until then; where the report looks on from there in the same steps, the edge is kept to go on with. */
function peakOfLone(c: RingCircuit, node: number, untilUs: number): { peak: number; record?: EdgeRecord } {
  const { dt, steps } = stepsOf(c, untilUs)
  const report = stepsOf(c, windowUs(c))
  if (report.dt !== dt || report.steps < steps) return { peak: peaksOfEdge(c, untilUs)[node]! }
  const record = new EdgeRecord(c, windowUs(c))
  record.advanceTo(steps)
  return { peak: record.peaks()[node]!, record }
}

export function placeEdges(c: RingCircuit, waves: Waves, nodes: readonly number[] = c.probes): PlaceEdge[] {
  return nodes.map((node) => ({
    place: c.names[node]!,
    node,
    ...measureEdge(waves.timeUs, waves.volt.get(node)!),
  }))
}

/** Heat in the resistor of an end-of-bus RC: every edge dissipates 2·C·V², two per bit, of 116 us where nothing else is given. */
export function terminatorWatt(farad: number, volt: number, bitHz = 8620): number {
  return 4 * farad * volt * volt * bitHz
}

/** Behind the bridge of a decoder of which nothing is known, F; common practice, no source. */
const USUAL_RESERVOIR_FARAD = 47e-6

const OHMS = [33, 47, 68, 100, 150, 220, 330]
const FARADS = [4.7e-9, 10e-9, 22e-9, 47e-9, 100e-9]

/** Step backwards through zero that every edition allows, V, and the slope that all ask for, V/us; S-9.1:2020, NEM 670:2013. */
const CLEAN_VOLT = 2
const STEEP_VOLT_PER_US = 2.5

/** Among those whose peak is within so much of the driver's voltage of the least, the coolest is taken. */
const NEAR_LEAST = 0.02

/** Those first that usually have the least peak, so that others need not be followed to their ends. */
const CANDIDATES = OHMS.flatMap((ohm) => FARADS.map((farad) => ({ ohm, farad }))).sort(
  (a, b) => Math.abs(Math.log(a.ohm / 100)) - Math.abs(Math.log(b.ohm / 100)) || b.farad - a.farad,
)

/**
 * Best RC for the ends of the bus over values one can buy, the same at every end: of those that keep the crossing clean and steep, least peak; among those within 2 % of the driver's voltage of it, the
 * one whose resistor stays coolest, and of several such the one of least peak.
 * @param mostAbove an edge that goes higher than that above the least peak of a clean one, as a share of the driver's voltage, is not
 * followed to its end; no more than what is near the least is asked for
 */
export function* terminatorSteps(c: RingCircuit, mostAbove = NEAR_LEAST): Progressive<TerminatorChoice> {
  const all: TerminatorChoice[] = []
  // A damper that makes the crossing worse than a decoder may see is no cure, however low its peak.
  const isClean = (t: TerminatorChoice) =>
    t.distortionVolt <= CLEAN_VOLT && t.slopeVoltPerUs >= STEEP_VOLT_PER_US
  let leastClean = Number.POSITIVE_INFINITY
  for (const [n, { ohm, farad }] of CANDIDATES.entries()) {
    yield { what: `ends of the bus of ${c.district}`, share: n / CANDIDATES.length }
    const tried = withTerminator(c, { ohm, farad })
    const waves = new EdgeRecord(tried, windowUs(c)).finishBelow(leastClean + mostAbove * c.volt)
    if (!waves) continue
    const edges = placeEdges(tried, waves)
    const choice = {
      ohm,
      farad,
      watt: terminatorWatt(farad, c.volt),
      peakVolt: Math.max(...edges.map((e) => e.peakVolt)),
      distortionVolt: Math.max(...edges.map((e) => e.distortionVolt)),
      slopeVoltPerUs: Math.min(...edges.map((e) => e.slopeVoltPerUs)),
    }
    all.push(choice)
    if (isClean(choice)) leastClean = Math.min(leastClean, choice.peakVolt)
  }
  const clean = all.filter(isClean)
  const fit = clean.length > 0 ? clean : all
  const least = Math.min(...fit.map((t) => t.peakVolt))
  const good = fit.filter((t) => t.peakVolt <= least + NEAR_LEAST * c.volt)
  return good.reduce((best, t) =>
    t.watt < best.watt || (t.watt === best.watt && t.peakVolt < best.peakVolt) ? t : best,
  )
}

/** The circuit with other terminators at the ends of its runs; none takes them away. */
export function withTerminator(c: RingCircuit, t: { ohm: number; farad: number } | undefined): RingCircuit {
  const ends = c.ends.length > 0 ? c.ends.map((e) => e.node) : [c.farNode]
  const others = c.terminators.filter((x) => !ends.includes(x.node))
  const own = t ? ends.map((node) => ({ node, ohm: t.ohm, farad: t.farad })) : []
  return { ...c, terminators: [...others, ...own] }
}

/** From waves of whatever engine to the report of one district. */
export function districtRinging(
  c: RingCircuit,
  waves: Waves,
  withCapacitor: EdgeMeasure,
  by: DistrictRinging['by'],
): DistrictRinging {
  const edges = placeEdges(c, waves)
  const far = edges.find((e) => e.node === c.farNode)!
  const near = edges.find((e) => e.node === 0) ?? far
  const high = c.volt > 0 ? c.highVolt / c.volt : 1
  const ends = [near, far, withCapacitor]
  return {
    district: c.district,
    farMm: c.farMm,
    edgeUs: c.edgeUs,
    edge: c.edge,
    highPeakVolt: far.peakVolt * high,
    worst: far,
    near,
    withCapacitor,
    far,
    slopeVoltPerUs: Math.min(...ends.map((e) => e.slopeVoltPerUs)),
    distortionVolt: Math.max(...ends.map((e) => e.distortionVolt)),
    commutationUs: c.volt > 0 ? ((2 * henryTo(c, c.farNode) * c.loadAmp) / c.volt) * 1e6 : 0,
    wave: thin(waves, c.farNode),
    ends: c.ends.map((e) => e.run),
    by,
  }
}

/** Inductance of the shortest way from the driver: what a current there has to be turned against, H. */
function henryTo(c: RingCircuit, node: number): number {
  const links: { to: number; henry: number }[][] = c.farad.map(() => [])
  for (const { from, to, henry } of c.branches) {
    links[from]!.push({ to, henry })
    links[to]!.push({ to: from, henry })
  }
  const least = new Map([[0, 0]])
  const done = new Set<number>()
  for (;;) {
    let at = -1
    for (const [k, henry] of least) if (!done.has(k) && (at < 0 || henry < least.get(at)!)) at = k
    if (at < 0 || at === node) return least.get(node) ?? 0
    done.add(at)
    for (const { to, henry } of links[at]!) {
      const sum = least.get(at)! + henry
      if (sum < (least.get(to) ?? Number.POSITIVE_INFINITY)) least.set(to, sum)
    }
  }
}

/** The decoder at the far node with a capacitor behind its bridge. */
function capacitorAt(c: RingCircuit, reservoirFarad: number): RingCircuit {
  return { ...c, decoders: [{ node: c.farNode, name: 'the lone decoder', amp: 0, reservoirFarad }] }
}

function thin(waves: Waves, node: number): { timeUs: number[]; volt: number[] } {
  const volt = waves.volt.get(node)
  if (!volt) return { timeUs: [], volt: [] }
  const every = Math.max(1, Math.floor(volt.length / 800))
  const timeUs: number[] = []
  const out: number[] = []
  for (let i = 0; i < volt.length; i += every) {
    timeUs.push(Math.round(waves.timeUs[i]! * 1e4) / 1e4)
    out.push(Math.round(volt[i]! * 1e3) / 1e3)
  }
  return { timeUs, volt: out }
}

/**
 * Every figure of a circuit by the ladder, in steps. Where the driver's edge is assumed, also for the quickest and the slowest one.
 * @param search for the best resistor and capacitor as well.
 */
export function* districtSteps(
  c: RingCircuit,
  search: boolean,
  reservoirFarad = USUAL_RESERVOIR_FARAD,
  record = new EdgeRecord(c, windowUs(c)),
): Progressive<DistrictRinging> {
  yield { what: `edges on the bus of ${c.district}`, share: 0 }
  const held = capacitorAt(c, reservoirFarad)
  const capacitor = placeEdges(held, simulateEdge(held, peakWindowUs(held), [c.farNode]), [c.farNode])[0]!
  const report = districtRinging(c, record.finish(), capacitor, 'ladder')
  const { between } = c.edge
  if (between)
    report.bounds = { fast: boundOf(c, between.fastUs, report), slow: boundOf(c, between.slowUs, report) }
  if (search) {
    report.best = yield* terminatorSteps(c)
    const better = withTerminator(c, report.best)
    report.bestWave = thin(simulateEdge(better, windowUs(c)), c.farNode)
  }
  return report
}

function boundOf(c: RingCircuit, edgeUs: number, report: DistrictRinging): EdgeBound {
  const other = { ...c, edgeUs }
  const edges = placeEdges(other, simulateEdge(other, peakWindowUs(other)))
  const far = edges.find((e) => e.node === report.far.node)!
  const high = c.volt > 0 ? c.highVolt / c.volt : 1
  return {
    edgeUs,
    highPeakVolt: high * far.peakVolt,
    slopeVoltPerUs: Math.min(...edges.map((e) => e.slopeVoltPerUs)),
    distortionVolt: Math.max(...edges.map((e) => e.distortionVolt)),
  }
}

/** The same circuit's figures with the waves of a SPICE engine. @throws SpiceUnavailable */
export async function confirmDistrict(
  c: RingCircuit,
  had: DistrictRinging,
  run: SpiceRun,
): Promise<DistrictRinging> {
  const until = windowUs(c)
  const report = districtRinging(c, await wavesBySpice(c, until, run), had.withCapacitor, 'SPICE')
  if (had.bounds) report.bounds = had.bounds
  if (had.best) {
    const better = withTerminator(c, had.best)
    const waves = await wavesBySpice(better, until, run)
    const edges = placeEdges(better, waves)
    report.best = {
      ...had.best,
      peakVolt: Math.max(...edges.map((e) => e.peakVolt)),
      distortionVolt: Math.max(...edges.map((e) => e.distortionVolt)),
      slopeVoltPerUs: Math.min(...edges.map((e) => e.slopeVoltPerUs)),
    }
    report.bestWave = thin(waves, c.farNode)
  }
  return report
}

/** Figures of the lines calculated last: an edit changes one district's line, and the others' need not be stepped again. */
const lastFigures = {
  plain: new Remembered<DistrictRinging>(12),
  searched: new Remembered<DistrictRinging>(12),
}

function withoutSearch({ best: _, bestWave: __, ...figures }: DistrictRinging): DistrictRinging {
  return figures
}

/** Ringing of every district with a bus, in steps. */
export function* ringingSteps(
  plan: TrackLayout,
  net: Network,
  withstandVolt: number,
  search: boolean,
): Progressive<RingingReport> {
  const decoder = ringDecoderFigures(plan)
  const districts: DistrictRinging[] = []
  for (let d = 0; d < net.districts.length; d++) {
    const line = emptyLine(plan, net, d)
    if (!line) continue
    const on = dependence([line.circuit, line.railNodes, decoder])
    // What a search has found beside the figures changes none of them.
    const searched = lastFigures.searched.find(on)
    let known = search ? searched : (searched && withoutSearch(searched)) || lastFigures.plain.find(on)
    if (!known) {
      const lone = loneAtWorst(line, decoder)
      if (!lone) continue
      known = yield* districtSteps(lone.circuit, search, decoder.reservoirFarad, lone.record)
      lastFigures[search ? 'searched' : 'plain'].keep(on, known)
    }
    districts.push(known)
  }
  return { districts, withstandVolt, decoder }
}
