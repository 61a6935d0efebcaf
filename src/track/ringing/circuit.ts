/**
 * A district's bus, feeders and rails as a ladder of small coils and capacitors, wire to wire: the pair counts as one
 * line, so every voltage is the one between rail A and rail B. Every stretch of rail is a line of its own between the
 * places it joins; what is not cut is joined.
 */
import { wireConductor } from '../conductors/conductor.js'
import type { TrackLayout } from '../layout/layout.js'
import { type TrackPlace, wayToFeeder } from '../layout/nearest-feeder.js'
import type { Network } from '../network/network.js'
import { type DriverEdge, edgeOf } from './edge.js'
import { FEEDER_PAIR, highFrequencyLoss, type LineConstants, RAIL_PAIR, runConstants } from './line.js'
import { closest, layRails, shareRails } from './rails.js'

export interface RingBranch {
  from: number
  to: number
  henry: number
  ohm: number
  /** Skin effect: a resistance with a coil across it, in series with the rest; absent where it is left out. */
  skin?: { ohm: number; henry: number }
}

export interface RingDecoder {
  node: number
  name: string
  amp: number
  /** Behind the bridge. */
  reservoirFarad: number
}

export interface RingTerminator {
  node: number
  ohm: number
  farad: number
}

export interface RingCircuit {
  district: string
  /** Peak voltage of the driver without load; it goes from −V to +V. */
  volt: number
  sourceOhm: number
  edgeUs: number
  /** How that is known. */
  edge: DriverEdge
  /** Peak voltage of the driver without load at the highest supply voltage. */
  highVolt: number
  /** Capacitance to the other wire by node, F; node 0 is the driver's output. */
  farad: number[]
  /** What the insulation takes, S by node. */
  siemens: number[]
  names: string[]
  branches: RingBranch[]
  /** Behind a bridge with a capacitor; none for a decoder without one, which counts by its input's capacitance alone. */
  decoders: RingDecoder[]
  terminators: RingTerminator[]
  /** Nodes to look at: the driver's output and the lone decoder's place. */
  probes: number[]
  /** Where the lone decoder is: the worst place, or one that was asked for. */
  farNode: number
  /** End of the longest way along the bus from the station, mm. */
  farMm: number
  /** Ends of runs of more than 2 m that nothing branches off at: where resistor and capacitor belong. */
  ends: { node: number; run: string }[]
  /** What the trains that stand in the district draw, A. */
  loadAmp: number
}

export interface RingOptions {
  /** Pieces so many times shorter than usual, to see whether that changes anything; 1 when left out. */
  fine?: number
  /** Skin effect and dielectric; on when left out. */
  highFrequencyLosses?: boolean
}

/** Decoders whose figures the design does not give, F; common practice, no source: no standard or handbook tells them. */
const DECODER = { decoderCapacitance: 1e-9, decoderReservoir: 47e-6 }

/** What a decoder is to an edge, F, and how that is known. */
export interface RingDecoderFigures {
  /** At its input, in front of the bridge, with its wires. */
  capacitanceFarad: number
  capacitanceStatus: 'given' | 'common practice'
  /** Behind the bridge. */
  reservoirFarad: number
  reservoirStatus: 'given' | 'common practice'
}

/** The decoders of a design; a figure that is the usual one counts as `common practice`, whoever wrote it. */
export function ringDecoderFigures(plan: TrackLayout): RingDecoderFigures {
  const { decoderCapacitance, decoderReservoir } = { ...DECODER, ...plan.design.ringing }
  const status = (farad: number, usual: number) =>
    Math.abs(farad - usual) <= 1e-9 * usual ? 'common practice' : 'given'
  return {
    capacitanceFarad: decoderCapacitance,
    capacitanceStatus: status(decoderCapacitance, DECODER.decoderCapacitance),
    reservoirFarad: decoderReservoir,
    reservoirStatus: status(decoderReservoir, DECODER.decoderReservoir),
  }
}

/** Pieces of a ladder at most; on longer lines they are longer. */
const MOST_PIECES = 240
/** Rails of a district with more sections than this are shared out to the feeders. */
const MOST_SECTIONS = 250
/** So many pieces to the way that the signal goes during the driver's edge. */
const PIECES_PER_EDGE = 8
const LONGEST_PIECE_MM = 1000

/** Behind a switch that is off no edge gets on to a run. */
function isOff(plan: TrackLayout, run: number): boolean {
  for (let r = run; r >= 0; r = plan.runs[r]!.parent) if (plan.runs[r]!.off) return true
  return false
}

/** A district's line with nothing on its rails; `undefined` when no run starts there. */
export function emptyLine(
  plan: TrackLayout,
  net: Network,
  district: number,
  options: RingOptions = {},
  mark?: { track: number; atMm: number },
):
  | { circuit: RingCircuit; railNodes: number[]; marked: number | undefined; startMm(run: number): number }
  | undefined {
  const name = net.districts[district]!
  const runs = plan.runs
    .map((r, i) => ({ r, i }))
    .filter(({ r, i }) => r.district === name && !isOff(plan, i))
  if (runs.length === 0) return undefined
  const edge = edgeOf(plan, net, district)
  const tracks = plan.tracks.map((_, i) => i).filter((i) => net.districtOfTrack[i] === district)
  const busMm = runs.reduce((sum, { r }) => sum + r.design.length, 0)
  const railMm = tracks.reduce((sum, i) => sum + plan.tracks[i]!.lengthMm, 0)
  const fine = options.fine ?? 1
  // 5 ns on a metre.
  const edgeMm = (edge.us / 5e-3) * 1000
  const stepMm =
    Math.max(
      Math.min(LONGEST_PIECE_MM, Math.max(100, edgeMm / PIECES_PER_EDGE)),
      (busMm + (tracks.length > MOST_SECTIONS ? 0 : railMm)) / MOST_PIECES,
    ) / fine
  const loadAmp = plan.stands.reduce(
    (sum, s) => (s.train && s.track >= 0 && net.districtOfTrack[s.track] === district ? sum + s.amp : sum),
    0,
  )
  const c: RingCircuit = {
    district: name,
    volt: net.sources[district]!.openVolt.usual,
    sourceOhm: Math.max(0.01, net.sources[district]!.sourceLeastOhm ?? net.sources[district]!.sourceOhm),
    edgeUs: edge.us,
    edge,
    highVolt: net.sources[district]!.openVolt.high,
    farad: [20e-12],
    siemens: [0],
    names: ['driver'],
    branches: [],
    decoders: [],
    terminators: [],
    probes: [0],
    farNode: 0,
    farMm: 0,
    ends: [],
    loadAmp,
  }
  const hertz = ringHertz(busMm)
  const lossy = options.highFrequencyLosses ?? true
  const add = (label: string) => {
    c.names.push(label)
    c.siemens.push(0)
    return c.farad.push(0) - 1
  }
  /** A stretch of line: capacitance half to either end. */
  const lay = (from: number, to: number, metres: number, line: LineConstants, dcOhmPerM: number) => {
    const loss = highFrequencyLoss(line, dcOhmPerM, hertz)
    const farad = line.faradPerM * metres
    for (const node of [from, to]) {
      c.farad[node]! += farad / 2
      if (lossy) c.siemens[node]! += (loss.siemensPerFarad * farad) / 2
    }
    const skin = loss.skinOhmPerM * metres
    c.branches.push({
      from,
      to,
      henry: Math.max(1e-12, line.henryPerM * metres),
      ohm: dcOhmPerM * metres,
      ...(lossy && skin > 0 ? { skin: { ohm: 2 * skin, henry: (2 * skin) / (2 * Math.PI * hertz) } } : {}),
    })
  }
  const nodesOf = new Map<number, { mm: number; node: number }[]>()
  const startMm = new Map<number, number>()
  const layRun = (run: number): { mm: number; node: number }[] => {
    const known = nodesOf.get(run)
    if (known) return known
    const { design, parent, atMm } = plan.runs[run]!
    const conductor = wireConductor(design.wire, design.kind, plan.design.temperature)
    const line = runConstants(design.geometry, conductor.diameterMm, design.spacing)
    const start = parent < 0 ? 0 : closest(layRun(parent), atMm)
    startMm.set(run, parent < 0 ? 0 : startMm.get(parent)! + atMm)
    const pieces = Math.max(4, Math.ceil(design.length / stepMm))
    const list = [{ mm: 0, node: start }]
    const series = (design.reverser?.resistance ?? 0) + 2 * (design.connector?.contact ?? 0)
    for (let k = 1; k <= pieces; k++) {
      const mm = (design.length * k) / pieces
      const node = add(`${plan.runs[run]!.name} ${(mm / 1000).toFixed(1)} m`)
      lay(list.at(-1)!.node, node, design.length / pieces / 1000, line, 2 * conductor.ohmPerM.usual)
      if (k === 1) c.branches.at(-1)!.ohm += series
      list.push({ mm, node })
    }
    nodesOf.set(run, list)
    const end = list.at(-1)!.node
    if (design.terminator)
      c.terminators.push({
        node: end,
        ohm: design.terminator.resistance,
        farad: design.terminator.capacitance,
      })
    const goesOn = runs.some(({ r }) => r.parent === run && r.atMm > design.length - 500)
    if (design.length > 2000 && !goesOn) c.ends.push({ node: end, run: plan.runs[run]!.name })
    const reach = startMm.get(run)! + design.length
    if (reach > c.farMm) {
      c.farMm = reach
      c.farNode = end
    }
    return list
  }
  for (const { i } of runs) layRun(i)
  const feeders = plan.feeders.filter((f) => !f.open && nodesOf.has(f.run))
  const tap = (f: (typeof feeders)[number]) => closest(nodesOf.get(f.run)!, f.busMm)
  const layFeeder = (f: (typeof feeders)[number], rail: number) => {
    const ohm = 2 * wireConductor(f.wire, 'flexible', plan.design.temperature).ohmPerM.usual
    lay(tap(f), rail, f.lengthMm / 1000, FEEDER_PAIR, ohm)
  }
  let railNodes: number[] = []
  let marked: number | undefined
  if (tracks.length <= MOST_SECTIONS) {
    const rails = layRails(plan, net, tracks, feeders, mark, stepMm, add, lay)
    for (const [i, f] of feeders.entries()) layFeeder(f, rails.fed[i]!)
    railNodes = rails.nodes
    marked = rails.marked
  } else {
    railNodes = shareRails(feeders, tap, railMm, add, lay)
    const way = mark && wayToFeeder(plan, net, mark)
    if (way) {
      const node = add('rails')
      lay(tap(plan.feeders[way.feeder]!), node, Math.max(0.1, way.railMm / 1000), RAIL_PAIR, 0.2)
      marked = node
    }
  }
  // Rails that no feeder of the district reaches are no part of its line.
  const reached = reachedFromDriver(c)
  railNodes = railNodes.filter((n) => reached.has(n))
  if (railNodes.length === 0) railNodes = [c.farNode]
  c.farad = c.farad.map((f) => Math.max(f, 1e-12))
  return { circuit: c, railNodes, marked, startMm: (run) => startMm.get(run)! }
}

/** The frequency that a bus of this length rings with when its end is open: a quarter wave; losses are taken there. */
function ringHertz(busMm: number): number {
  return Math.min(2e7, Math.max(5e5, 1 / (4 * 5e-9 * Math.max(1, busMm / 1000))))
}

function reachedFromDriver(c: RingCircuit): Set<number> {
  const links: number[][] = c.farad.map(() => [])
  for (const { from, to } of c.branches) {
    links[from]!.push(to)
    links[to]!.push(from)
  }
  const reached = new Set([0])
  const queue = [0]
  while (queue.length > 0)
    for (const next of links[queue.pop()!]!) {
      if (reached.has(next)) continue
      reached.add(next)
      queue.push(next)
    }
  return reached
}

/** The circuit with one decoder: its input's capacitance, and behind a bridge its capacitor or nothing. */
export function withLoneDecoder(
  c: RingCircuit,
  node: number,
  figures: RingDecoderFigures,
  capacitor: boolean,
): RingCircuit {
  return {
    ...c,
    farad: c.farad.map((f, k) => (k === node ? f + figures.capacitanceFarad : f)),
    decoders: capacitor
      ? [{ node, name: 'the lone decoder', amp: 0, reservoirFarad: figures.reservoirFarad }]
      : [],
    probes: [...new Set([0, node])],
    farNode: node,
  }
}

/** From the station to a place on the track. */
export interface RingWay {
  district: string
  run: string
  feeder: string
  /** Along the bus from the station, along the feeder, and along the rails, mm. */
  busMm: number
  feederMm: number
  railMm: number
}

/**
 * The line of a place's district with one decoder at that place, without a capacitor that would hold the peak down.
 * @returns `undefined` when no feeder leads there.
 */
export function ringCircuitAt(
  plan: TrackLayout,
  net: Network,
  place: TrackPlace,
): { circuit: RingCircuit; way: RingWay } | undefined {
  const found = wayToFeeder(plan, net, place)
  if (!found) return undefined
  const feeder = plan.feeders[found.feeder]!
  const district = net.districts.indexOf(plan.runs[feeder.run]!.district)
  const line = emptyLine(plan, net, district, {}, place)
  if (line?.marked === undefined) return undefined
  const circuit = withLoneDecoder(line.circuit, line.marked, ringDecoderFigures(plan), false)
  circuit.names = circuit.names.map((n, k) => (k === line.marked ? place.name : n))
  const { railMm } = found
  const busMm = line.startMm(feeder.run) + feeder.busMm
  circuit.farMm = busMm + feeder.lengthMm + railMm
  const way = { district: circuit.district, run: plan.runs[feeder.run]!.name, feeder: feeder.name }
  return { circuit, way: { ...way, busMm, feederMm: feeder.lengthMm, railMm } }
}
