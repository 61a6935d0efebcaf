/**
 * A district's bus as a ladder of small coils and capacitors, wire to wire: the pair counts as one line, so
 * every voltage is the one between rail A and rail B.
 */
import { wireConductor } from '../conductor.js'
import type { Network } from '../network.js'
import type { Plan } from '../plan.js'
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

/** The lumped line of a district; `undefined` when no run starts there. */
export function ringCircuit(plan: Plan, net: Network, district: number): RingCircuit | undefined {
  const name = net.districts[district]!
  const runs = plan.runs.map((r, i) => ({ r, i })).filter(({ r }) => r.district === name)
  if (runs.length === 0) return undefined
  const settings = plan.design.ringing ?? { edge: 0.5, decoderCapacitance: 1e-9, decoderReservoir: 47e-6 }
  const totalMm = runs.reduce((sum, { r }) => sum + r.design.length, 0)
  // A metre is a twentieth of the wave that a 9 m end rings with; long railroads get as fine as the node count allows.
  const stepMm = Math.max(1000, totalMm / (MOST_NODES / 2))
  const c: RingCircuit = {
    district: name,
    volt: net.sources[district]!.openVolt.usual,
    sourceOhm: Math.max(0.01, net.sources[district]!.sourceOhm),
    edgeUs: settings.edge,
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
  const build = (run: number): { mm: number; node: number }[] => {
    const known = nodesOf.get(run)
    if (known) return known
    const { design, parent, atMm } = plan.runs[run]!
    const conductor = wireConductor(design.wire, design.kind, plan.design.temperature)
    const line = runConstants(design.geometry, conductor.diameterMm, design.spacing)
    const start = parent < 0 ? 0 : closest(build(parent), atMm)
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
  for (const { i } of runs) build(i)
  addStubs(plan, net, district, c, nodesOf, settings)
  c.probes = [...new Set(c.probes)]
  return c
}

function closest(list: { mm: number; node: number }[], mm: number): number {
  return list.reduce((best, x) => (Math.abs(x.mm - mm) < Math.abs(best.mm - mm) ? x : best)).node
}

/** Feeders with the rails they feed hang on the nearest node; each section's rails count half to either side. */
function addStubs(
  plan: Plan,
  net: Network,
  district: number,
  c: RingCircuit,
  nodesOf: Map<number, { mm: number; node: number }[]>,
  settings: { decoderCapacitance: number; decoderReservoir: number },
): void {
  const railMm = plan.tracks.reduce(
    (sum, t, i) => sum + (net.districtOfTrack[i] === district ? t.lengthMm : 0),
    0,
  )
  const feeders = plan.feeders.filter((f) => !f.open && nodesOf.has(f.run))
  const share = feeders.length > 0 ? railMm / feeders.length / 1000 : 0
  const stubs = new Map<number, { henry: number; farad: number; count: number; node: number }>()
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
  if (!anyStub) return
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
}
