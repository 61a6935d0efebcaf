/**
 * A district's bus as a ladder of small coils and capacitors, wire to wire: the pair counts as one line, so
 * every voltage is the one between rail A and rail B.
 */
import { wireConductor } from '../conductors/conductor.js'
import type { TrackLayout } from '../layout/layout.js'
import { type TrackPlace, wayToFeeder } from '../layout/nearest-feeder.js'
import { EDGE, type Network } from '../network/network.js'
import { type DriverEdge, edgeOf } from './edge.js'
import { RAIL_PAIR, runConstants } from './line.js'

export interface RingBranch {
  from: number
  to: number
  henry: number
  ohm: number
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
  names: string[]
  branches: RingBranch[]
  decoders: RingDecoder[]
  terminators: RingTerminator[]
  /** Nodes to look at: ends of runs and places of decoders. */
  probes: number[]
  /** End of the longest way from the station: where a terminator goes. */
  farNode: number
  farMm: number
  /** Ends of runs of more than 2 m that nothing branches off at: where resistor and capacitor belong. */
  ends: { node: number; run: string }[]
}

const MOST_NODES = 160

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

/** The lumped line of a district; `undefined` when no run starts there. */
export function ringCircuit(plan: TrackLayout, net: Network, district: number): RingCircuit | undefined {
  return build(plan, net, district)?.circuit
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
 * The lumped line of a place's district, with the rails from the nearest feeder to that place as a line of their own; no
 * train stands at the place, so that nothing there clamps the peak. The place is the circuit's far node and its first probe.
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
  const made = build(plan, net, district)
  if (!made) return undefined
  const { circuit: c, stubs, tapOf } = made
  const stub = stubs.get(tapOf(feeder.run, feeder.busMm))!
  const { railMm } = found
  let node = stub.node
  if (railMm >= SHORTEST_RAILS_MM) {
    const pieces = Math.min(60, Math.max(2, Math.ceil(railMm / 500)))
    const metres = railMm / 1000 / pieces
    const conductor = net.conductors[conductorOfTrack(net, place.track)]
    for (let k = 1; k <= pieces; k++) {
      const name = k === pieces ? place.name : `rails ${k} of ${pieces} to ${place.name}`
      c.names.push(name)
      const next = c.farad.push(RAIL_PAIR.faradPerM * metres) - 1
      c.branches.push({
        from: node,
        to: next,
        henry: RAIL_PAIR.henryPerM * metres,
        ohm: 2 * (conductor?.ohmPerM.usual ?? 0.1) * metres,
      })
      node = next
    }
    // These rails are part of those that were lumped at the feeder.
    const moved = (RAIL_PAIR.faradPerM * railMm) / 1000
    c.farad[stub.node] = Math.max(5e-12, c.farad[stub.node]! - moved)
  }
  const busMm = made.startMm(feeder.run) + feeder.busMm
  c.farNode = node
  c.farMm = busMm + feeder.lengthMm + railMm
  c.names[node] = place.name
  c.probes = [...new Set([node, ...c.probes])]
  const { district: name } = c
  const way = { district: name, run: plan.runs[feeder.run]!.name, feeder: feeder.name }
  return { circuit: c, way: { ...way, busMm, feederMm: feeder.lengthMm, railMm } }
}

/** Shorter rails than these, 0.13 uH, are no line of their own. */
const SHORTEST_RAILS_MM = 100

function conductorOfTrack(net: Network, track: number): number {
  for (let e = 0; e < net.from.length; e++)
    if (net.kind[e] === EDGE.rail && net.owner[e] === track) return net.conductorOf[e]!
  return -1
}

interface Built {
  circuit: RingCircuit
  stubs: Map<number, Stub>
  /** Node of the bus nearest to a place on a run. */
  tapOf: (run: number, mm: number) => number
  /** How far from the station a run starts, mm. */
  startMm: (run: number) => number
}

function build(plan: TrackLayout, net: Network, district: number): Built | undefined {
  const name = net.districts[district]!
  const runs = plan.runs.map((r, i) => ({ r, i })).filter(({ r }) => r.district === name)
  if (runs.length === 0) return undefined
  const settings = { ...DECODER, ...plan.design.ringing }
  const edge = edgeOf(plan, net, district)
  const totalMm = runs.reduce((sum, { r }) => sum + r.design.length, 0)
  // A metre is a twentieth of the wave that a 9 m end rings with; long railroads get as fine as the node count allows.
  const stepMm = Math.max(1000, totalMm / (MOST_NODES / 2))
  const c: RingCircuit = {
    district: name,
    volt: net.sources[district]!.openVolt.usual,
    sourceOhm: Math.max(0.01, net.sources[district]!.sourceOhm),
    edgeUs: edge.us,
    edge,
    highVolt: net.sources[district]!.openVolt.high,
    farad: [20e-12],
    names: ['driver'],
    branches: [],
    decoders: [],
    terminators: [],
    probes: [],
    farNode: 0,
    farMm: 0,
    ends: [],
  }
  const add = (label: string, farad: number) => {
    c.names.push(label)
    return c.farad.push(farad) - 1
  }
  const nodesOf = new Map<number, { mm: number; node: number }[]>()
  const startMm = new Map<number, number>()
  const lay = (run: number): { mm: number; node: number }[] => {
    const known = nodesOf.get(run)
    if (known) return known
    const { design, parent, atMm } = plan.runs[run]!
    const conductor = wireConductor(design.wire, design.kind, plan.design.temperature)
    const line = runConstants(design.geometry, conductor.diameterMm, design.spacing)
    const start = parent < 0 ? 0 : closest(lay(parent), atMm)
    startMm.set(run, parent < 0 ? 0 : startMm.get(parent)! + atMm)
    const pieces = Math.max(4, Math.ceil(design.length / stepMm))
    const metres = design.length / pieces / 1000
    const list = [{ mm: 0, node: start }]
    c.farad[start]! += (line.faradPerM * metres) / 2
    for (let k = 1; k <= pieces; k++) {
      const mm = (design.length * k) / pieces
      const node = add(`${plan.runs[run]!.name} ${(mm / 1000).toFixed(1)} m`, line.faradPerM * metres)
      c.branches.push({
        from: list.at(-1)!.node,
        to: node,
        henry: line.henryPerM * metres,
        ohm: 2 * conductor.ohmPerM.usual * metres + (k === 1 ? (design.reverser?.resistance ?? 0) : 0),
      })
      list.push({ mm, node })
    }
    nodesOf.set(run, list)
    const end = list.at(-1)!.node
    c.probes.push(end)
    if (design.terminator)
      c.terminators.push({
        node: end,
        ohm: design.terminator.resistance,
        farad: design.terminator.capacitance,
      })
    const goesOn = plan.runs.some((r) => r.parent === run && r.atMm > design.length - 500)
    if (design.length > 2000 && !goesOn) c.ends.push({ node: end, run: plan.runs[run]!.name })
    const reach = startMm.get(run)! + design.length
    if (reach > c.farMm) {
      c.farMm = reach
      c.farNode = end
    }
    return list
  }
  for (const { i } of runs) lay(i)
  const stubs = addStubs(plan, net, district, c, nodesOf, settings)
  c.probes = [...new Set(c.probes)]
  return {
    circuit: c,
    stubs,
    tapOf: (run, mm) => closest(nodesOf.get(run)!, mm),
    startMm: (run) => startMm.get(run)!,
  }
}

interface Stub {
  henry: number
  farad: number
  count: number
  node: number
}

function closest(list: { mm: number; node: number }[], mm: number): number {
  return list.reduce((best, x) => (Math.abs(x.mm - mm) < Math.abs(best.mm - mm) ? x : best)).node
}

/** Feeders with the rails they feed hang on the nearest node; each section's rails count half to either side. */
function addStubs(
  plan: TrackLayout,
  net: Network,
  district: number,
  c: RingCircuit,
  nodesOf: Map<number, { mm: number; node: number }[]>,
  settings: { decoderCapacitance: number; decoderReservoir: number },
): Map<number, Stub> {
  const railMm = plan.tracks.reduce(
    (sum, t, i) => sum + (net.districtOfTrack[i] === district ? t.lengthMm : 0),
    0,
  )
  const feeders = plan.feeders.filter((f) => !f.open && nodesOf.has(f.run))
  const share = feeders.length > 0 ? railMm / feeders.length / 1000 : 0
  const stubs = new Map<number, Stub>()
  const stubOfTrack = new Map<number, number>()
  for (const f of feeders) {
    const at = closest(nodesOf.get(f.run)!, f.busMm)
    const metres = f.lengthMm / 1000
    let stub = stubs.get(at)
    if (!stub) {
      stub = { henry: 0, farad: 0, count: 0, node: -1 }
      stubs.set(at, stub)
    }
    // Single feeder wires run a few millimetres apart; rails behind them count with a quarter of their length's coil.
    stub.henry += 0.8e-6 * metres + (RAIL_PAIR.henryPerM * share) / 4
    stub.farad += 40e-12 * metres + RAIL_PAIR.faradPerM * share
    stub.count++
    stubOfTrack.set(f.track, at)
  }
  for (const [at, stub] of stubs) {
    stub.node = c.names.length
    c.names.push(at === 0 ? 'rails near the station' : `rails at ${c.names[at]}`)
    c.farad.push(Math.max(5e-12, stub.farad))
    // Stubs at one node are in parallel.
    c.branches.push({ from: at, to: stub.node, henry: stub.henry / stub.count ** 2, ohm: 0.02 })
  }
  const anyStub = [...stubs.values()].at(-1)
  if (!anyStub) return stubs
  plan.stands.forEach((s) => {
    if (s.track < 0 || net.districtOfTrack[s.track] !== district || s.amp <= 0) return
    let at = stubOfTrack.get(s.track)
    for (let d = 1; at === undefined && d < 50; d++)
      at = stubOfTrack.get(s.track - d) ?? stubOfTrack.get(s.track + d)
    const stub = (at === undefined ? undefined : stubs.get(at)) ?? anyStub
    c.farad[stub.node]! += settings.decoderCapacitance
    if (c.decoders.length < 40)
      c.decoders.push({
        node: stub.node,
        name: s.name,
        amp: s.amp,
        reservoirFarad: settings.decoderReservoir,
      })
    c.probes.push(stub.node)
  })
  return stubs
}
