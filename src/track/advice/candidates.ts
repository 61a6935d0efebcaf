/** Changes that are worth trying: what each does to the plan, and what it takes. */
import { IEC_MAX_MOHM_PER_M } from '../conductors/conductor.data.js'
import type { Feeder, TrackLayout } from '../layout/layout.js'
import { placeName, trackName } from '../layout/names.js'
import type { TrackInput, TrackModel } from '../model.js'
import type { DistrictSource } from '../network/network.js'
import type { Advice, AdviceEdit } from './advice.js'

/** A driver with its fuse is reckoned like so many metres of wire; a judgement, not a price. */
export const DRIVER_AS_METRES = 20
/** Work of a tap, reckoned like so many metres of wire. */
const TAP_AS_METRES = 0.5

const AWG_STEPS = 2

/** A change of the plan that is worth trying. */
export interface Proposal {
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

export type Propose = (proposal: Proposal) => void

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

export function thickerBus({ plan }: TrackModel, propose: Propose, input: TrackInput): void {
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

export function moreFeeder(
  { plan, net }: TrackModel,
  place: number,
  propose: Propose,
  input: TrackInput,
): void {
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
export function anotherDistrict(
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
