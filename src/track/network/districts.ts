/** Which district feeds which rail. */
import { DesignConflict } from '../design-conflict.js'
import { jointKeepsRails, type TrackLayout } from '../layout/layout.js'
import { Groups } from './groups.js'

/** Districts, by index, that share one rail, and a joint where they do. */
export interface SharedRail {
  districts: [number, number]
  joint: string | undefined
}

/** Rails joined as wholes, with the bus wires that feed them. */
export function railFeeds(
  plan: TrackLayout,
  districts: readonly string[],
  phase: Int8Array,
  cut: ReadonlySet<number>,
) {
  const rails = 2 * plan.tracks.length
  const wires = new Groups(rails + 2 * districts.length)
  for (const hub of plan.hubs)
    for (const end of hub) for (const rail of [0, 1]) wires.join((hub[0]! & ~1) + rail, (end & ~1) + rail)
  plan.joints.forEach((j, i) => {
    if (cut.has(i)) return
    const [a, b] = [j.a & ~1, j.b & ~1]
    const flip = jointKeepsRails(j) ? 0 : 1
    if (!j.gapL) wires.join(a, b + flip)
    if (!j.gapR) wires.join(a + 1, b + 1 - flip)
  })
  /** The rail of a track on the side of bus wire A or B. */
  const railOf = (track: number, side: 0 | 1) => 2 * track + (phase[track] === 1 ? side : 1 - side)
  const busOf = (district: number, side: 0 | 1) => rails + 2 * district + side
  for (const f of plan.feeders) {
    if (f.open) continue
    const d = districts.indexOf(plan.runs[f.run]!.district)
    for (const side of [0, 1] as const)
      wires.join(busOf(d, side), railOf(f.track, f.swapped ? (side === 0 ? 1 : 0) : side))
  }
  const feeds = new Map<number, number[]>()
  const roots = districts.map((_, d) => ([0, 1] as const).map((side) => wires.find(busOf(d, side))))
  roots.forEach((pair, d) => {
    for (const root of pair) {
      const list = feeds.get(root)
      if (list) list.push(d)
      else feeds.set(root, [d])
    }
  })
  return { wires, railOf, feeds, roots }
}

/**
 * Finds who feeds each track; refuses rails without feed and districts joined on both rails. Rails are joined as wholes here:
 * node 2·t is rail L of track t, 2·t + 1 its rail R; behind them two bus wires for every district.
 */
export function assignDistricts(
  plan: TrackLayout,
  districts: readonly string[],
  phase: Int8Array,
  cut: ReadonlySet<number>,
): { districtOfTrack: Int32Array; commonRails: SharedRail[] } {
  const commonRails: SharedRail[] = []
  const { wires, railOf, feeds, roots } = railFeeds(plan, districts, phase, cut)
  for (let d = 0; d < districts.length; d++)
    for (let other = 0; other < d; other++) {
      const [mine, theirs] = [roots[d]!, roots[other]!]
      const shared = mine.filter((r) => theirs.includes(r)).length
      if (shared === 0) continue
      if (shared === 1 || mine[0] === mine[1]) {
        if (mine[0] !== mine[1] && theirs[0] !== theirs[1])
          commonRails.push({ districts: [other, d], joint: undefined })
        continue
      }
      const of = (x: number) =>
        plan.feeders.find(
          (f) =>
            !f.open &&
            plan.runs[f.run]!.district === districts[x] &&
            wires.find(railOf(f.track, 0)) === mine[0],
        )
      const [one, two] = [of(other), of(d)]
      throw new DesignConflict(
        two?.path ?? ['track', 'bus'],
        `districts "${districts[other]}" and "${districts[d]}" meet without gaps in both rails: "${districts[other]}" feeds ${one?.name ?? 'the track'}, "${districts[d]}" feeds ${two?.name ?? 'the same track'}. Never join two boosters' outputs; cut both rails between them`,
      )
    }
  const districtOfTrack = new Int32Array(plan.tracks.length)
  plan.tracks.forEach((t, i) => {
    const [a, b] = [feeds.get(wires.find(railOf(i, 0))), feeds.get(wires.find(railOf(i, 1)))]
    if (!a || !b) {
      const which = !a && !b ? 'has no feed' : 'has a feed on one rail only'
      throw new DesignConflict(
        t.path,
        `"${t.name}" ${which}: no feeder, and no joint without gap, leads to a bus`,
      )
    }
    const common = a.find((d) => b.includes(d))
    if (common === undefined)
      throw new DesignConflict(
        t.path,
        `"${t.name}" has one rail from district "${districts[a[0]!]}" and the other from "${districts[b[0]!]}": gaps in opposite rails with no feeder between; cut both rails at one end and feed it from one district`,
      )
    districtOfTrack[i] = common
  })
  for (const pair of commonRails)
    pair.joint = plan.joints.find((j) => {
      const [a, b] = [districtOfTrack[j.a >> 1]!, districtOfTrack[j.b >> 1]!]
      return j.gapL !== j.gapR && a !== b && pair.districts.includes(a) && pair.districts.includes(b)
    })?.name
  return { districtOfTrack, commonRails }
}
