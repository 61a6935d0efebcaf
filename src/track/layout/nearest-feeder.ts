/** A place on the track by its name, and the shortest way along the rails from there to a feeder. */
import { formatNumber, InputError, nearest } from '../../units/index.js'
import type { Network } from '../network/network.js'
import type { TrackLayout } from './layout.js'
import { trackName } from './names.js'

export interface TrackPlace {
  track: number
  atMm: number
  /** For people: `main.3, 0.25 m`. */
  name: string
}

/**
 * A place by the name of its section, turnout or leg: `main.3`, `T1`, `T1.diverging`.
 * @param atMm from its `from` end; its middle when left out, the hub of a turnout.
 * @throws InputError when there is no such section, it is several, or the place is beyond its end.
 */
export function findPlace(plan: TrackLayout, section: string, atMm?: number): TrackPlace {
  const is = (text: (t: TrackLayout['tracks'][number]) => string) =>
    plan.tracks.flatMap((t, i) => (text(t) === section ? [i] : []))
  let found = is(trackName)
  if (found.length === 0) found = is((t) => t.name).slice(0, 1)
  if (found.length === 0) {
    const group = is((t) => t.group)
    if (group.length > 1)
      throw new InputError(
        `"${section}" is ${group.length} sections; say which: ${plan.tracks[group[0]!]!.name} to ${plan.tracks[group.at(-1)!]!.name}`,
      )
    const close = nearest(section, [...new Set(plan.tracks.map(trackName))])
    throw new InputError(
      `no section "${section}"${close ? `; the nearest is "${close}"` : ''}; expected one of the track's`,
    )
  }
  const track = found[0]!
  const t = plan.tracks[track]!
  const hub = t.toHub >= 0 ? t.lengthMm : t.fromHub >= 0 ? 0 : t.lengthMm / 2
  const at = atMm ?? hub
  if (!(at >= 0 && at <= t.lengthMm))
    throw new InputError(
      `${formatNumber(at / 1000)} m is not on "${section}", which is ${formatNumber(t.lengthMm / 1000)} m long`,
    )
  const plain = atMm === undefined && hub !== t.lengthMm / 2
  return { track, atMm: at, name: plain ? trackName(t) : `${trackName(t)}, ${formatNumber(at / 1000, 3)} m` }
}

export interface WayToFeeder {
  /** Index in `plan.feeders`. */
  feeder: number
  /** Along the rails, mm. */
  railMm: number
}

/**
 * Shortest way along both rails from a place to a feeder that is not open, through joints that are not cut; where
 * there is none, through joints with one rail cut.
 */
export function wayToFeeder(
  plan: TrackLayout,
  net: Network,
  place: { track: number; atMm: number },
): WayToFeeder | undefined {
  const cut = new Set(net.cutForPhase)
  const feedersOf = new Map<number, number[]>()
  plan.feeders.forEach((f, i) => {
    if (f.open) return
    const list = feedersOf.get(f.track)
    if (list) list.push(i)
    else feedersOf.set(f.track, [i])
  })
  return search(plan, feedersOf, place, cut, true) ?? search(plan, feedersOf, place, cut, false)
}

function search(
  plan: TrackLayout,
  feedersOf: ReadonlyMap<number, number[]>,
  place: { track: number; atMm: number },
  cut: ReadonlySet<number>,
  both: boolean,
): WayToFeeder | undefined {
  const meets = new Map<number, number>()
  plan.joints.forEach((j, i) => {
    if (cut.has(i) || (both ? j.gapL || j.gapR : j.gapL && j.gapR)) return
    meets.set(j.a, j.b)
    meets.set(j.b, j.a)
  })
  let best: WayToFeeder | undefined
  const offer = (feeder: number, railMm: number) => {
    if (!best || railMm < best.railMm) best = { feeder, railMm }
  }
  for (const f of feedersOf.get(place.track) ?? []) offer(f, Math.abs(plan.feeders[f]!.railMm - place.atMm))
  // Dijkstra over ends of tracks; ends reached are few before a feeder is, so a sorted list does.
  const away = new Map<number, number>()
  const open: [number, number][] = []
  const done = new Set<number>()
  const reach = (end: number, mm: number) => {
    if (mm >= (away.get(end) ?? Number.POSITIVE_INFINITY)) return
    away.set(end, mm)
    let at = open.length
    while (at > 0 && open[at - 1]![1] < mm) at--
    open.splice(at, 0, [end, mm])
  }
  const length = (t: number) => plan.tracks[t]!.lengthMm
  reach(2 * place.track, place.atMm)
  reach(2 * place.track + 1, length(place.track) - place.atMm)
  for (;;) {
    const next = open.pop()
    if (!next) return best
    const [end, mm] = next
    if (done.has(end)) continue
    done.add(end)
    if (best && mm >= best.railMm) return best
    const t = plan.tracks[end >> 1]!
    const hub = (end & 1) === 0 ? t.fromHub : t.toHub
    const beyond = hub >= 0 ? plan.hubs[hub]! : []
    const met = meets.get(end)
    for (const other of met === undefined ? beyond : [...beyond, met]) {
      reach(other, mm)
      // Along the track behind that end.
      const track = other >> 1
      for (const f of feedersOf.get(track) ?? []) {
        const { railMm } = plan.feeders[f]!
        offer(f, mm + ((other & 1) === 0 ? railMm : length(track) - railMm))
      }
      reach(other ^ 1, mm + length(track))
    }
  }
}
