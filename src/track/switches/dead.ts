/**
 * Stretches that nothing feeds: behind a switch that is off, or between gaps in opposite rails with no feeder between. They are
 * taken out of the plan, and what lies on either side is joined by gaps that a train long enough bridges all the same.
 */
import { DesignConflict } from '../design-conflict.js'
import { type Joint, jointKeepsRails, type Path, type TrackLayout } from '../layout/layout.js'
import { trackName } from '../layout/names.js'
import { findPhases, ParityUnion } from '../layout/phase.js'
import { railFeeds } from '../network/districts.js'
import { Groups } from '../network/groups.js'

export interface DeadStretch {
  tracks: string[]
  lengthMm: number
  why: 'switched off' | 'opposite gaps'
  trains: string[]
  /** Districts that each have a rail of it, or share one through it. */
  districts: string[]
  /** Joints at which it meets what is fed. */
  joints: string[]
  path: Path
}

/**
 * The plan without its dead stretches. Rails without feed that no switch and no pair of gaps accounts for stay in it.
 * @throws DesignConflict where a dead stretch has a rail that meets its opposite.
 */
export function withoutDead(
  plan: TrackLayout,
  districts: readonly string[],
): { plan: TrackLayout; dead: DeadStretch[] } {
  const switched = plan.runs.some((r) => r.off)
  // Opposite gaps take a joint with one rail cut, and two districts.
  if (!switched && (districts.length < 2 || plan.joints.every((j) => j.gapL === j.gapR)))
    return { plan, dead: [] }
  const { phase, conflicts } = findPhases(plan)
  const { wires, railOf, feeds } = railFeeds(plan, districts, phase, new Set(conflicts))
  const fedBy = (track: number) => [0, 1].map((side) => feeds.get(wires.find(railOf(track, side as 0 | 1))))
  const opposite = new Set<number>()
  const dead = new Set<number>()
  plan.tracks.forEach((_, t) => {
    const [a, b] = fedBy(t)
    if (a && b) {
      if (a.some((d) => b.includes(d))) return
      opposite.add(t)
      dead.add(t)
    } else if (switched) dead.add(t)
  })
  if (dead.size === 0) return { plan, dead: [] }
  const groups = new Groups(plan.tracks.length)
  const parity = new ParityUnion(plan.tracks.length)
  for (const hub of plan.hubs)
    for (const end of hub) {
      groups.join(hub[0]! >> 1, end >> 1)
      parity.join(hub[0]! >> 1, end >> 1, 0)
    }
  for (const cut of [false, true])
    for (const j of plan.joints) {
      const [a, b] = [j.a >> 1, j.b >> 1]
      if (!dead.has(a) || !dead.has(b) || (j.gapL && j.gapR) !== cut) continue
      groups.join(a, b)
      if (!parity.join(a, b, jointKeepsRails(j) ? 0 : 1) && !cut)
        throw new DesignConflict(
          j.path,
          `nothing feeds the track at "${j.name}", and a rail meets its opposite there`,
        )
    }
  const stretches = new Map<number, number[]>()
  for (const t of dead) stretches.set(groups.find(t), [...(stretches.get(groups.find(t)) ?? []), t])
  const longestMm = Math.max(0, ...Object.values(plan.rollingStock).map((t) => t.length))
  const bridges: Joint[] = []
  const open: number[] = []
  const list = [...stretches].map(([root, tracks]): DeadStretch => {
    const doors = plan.joints.flatMap((j) => {
      const [a, b] = [dead.has(j.a >> 1), dead.has(j.b >> 1)]
      if (a === b || groups.find((a ? j.a : j.b) >> 1) !== root) return []
      return [{ joint: j, live: a ? j.b : j.a, end: a ? j.a : j.b }]
    })
    for (const [i, one] of doors.entries()) {
      let bridged = false
      const away = distances(plan, dead, one.end)
      for (const other of doors) {
        const mm = away.get(other.end)
        if (other === one || mm === undefined || mm > longestMm) continue
        bridged = true
        if (doors.indexOf(other) < i) continue
        const turns = (d: (typeof doors)[number]) =>
          (jointKeepsRails(d.joint) ? 0 : 1) ^ parity.parityOf(d.end >> 1)
        const keeps = (turns(one) ^ turns(other)) === 0
        bridges.push({
          name: `${one.joint.name} and ${other.joint.name}`,
          a: one.live,
          b: other.live,
          joiner: one.joint.joiner,
          gapL: true,
          gapR: true,
          crossed: keeps !== ((one.live & 1) !== (other.live & 1)),
          path: one.joint.path,
        })
      }
      if (!bridged) open.push(one.live)
    }
    // Where it reaches a rail of more than one district it is what joins them.
    const reached = new Set<number>()
    for (const t of tracks) for (const found of fedBy(t)) for (const d of found ?? []) reached.add(d)
    return {
      tracks: [...new Set(tracks.map((t) => trackName(plan.tracks[t]!)))],
      lengthMm: tracks.reduce((sum, t) => sum + plan.tracks[t]!.lengthMm, 0),
      why: tracks.some((t) => opposite.has(t)) ? 'opposite gaps' : 'switched off',
      trains: plan.stands.filter((s) => tracks.includes(s.track)).map((s) => s.name),
      districts: [...reached].sort((x, y) => x - y).map((d) => districts[d]!),
      joints: doors.map((d) => d.joint.name),
      path: plan.tracks[tracks[0]!]!.path,
    }
  })
  return { plan: leaveOut(plan, dead, bridges, open), dead: list }
}

/** From one end of a dead track along dead tracks to their other ends, mm; cut joints are passed too. */
function distances(plan: TrackLayout, dead: ReadonlySet<number>, from: number): Map<number, number> {
  const touching = new Map<number, number[]>()
  const touch = (a: number, b: number) => {
    if (!dead.has(a >> 1) || !dead.has(b >> 1)) return
    touching.set(a, [...(touching.get(a) ?? []), b])
    touching.set(b, [...(touching.get(b) ?? []), a])
  }
  for (const j of plan.joints) touch(j.a, j.b)
  for (const hub of plan.hubs) for (const a of hub) for (const b of hub) if (a < b) touch(a, b)
  const away = new Map([[from, 0]])
  const queue = [from]
  const reach = (end: number, mm: number) => {
    if (mm >= (away.get(end) ?? Number.POSITIVE_INFINITY)) return
    away.set(end, mm)
    queue.push(end)
  }
  for (let end = queue.shift(); end !== undefined; end = queue.shift()) {
    const mm = away.get(end)!
    reach(end ^ 1, mm + plan.tracks[end >> 1]!.lengthMm)
    for (const other of touching.get(end) ?? []) reach(other, mm)
  }
  return away
}

function leaveOut(
  plan: TrackLayout,
  dead: ReadonlySet<number>,
  bridges: readonly Joint[],
  open: readonly number[],
): TrackLayout {
  const trackAt = new Int32Array(plan.tracks.length).fill(-1)
  const hubAt = new Int32Array(plan.hubs.length).fill(-1)
  let count = 0
  plan.tracks.forEach((_, t) => {
    if (!dead.has(t)) trackAt[t] = count++
  })
  const end = (e: number) => 2 * trackAt[e >> 1]! + (e & 1)
  const stays = (e: number) => !dead.has(e >> 1)
  const hubs: number[][] = []
  plan.hubs.forEach((hub, h) => {
    if (hub.every(stays)) hubAt[h] = hubs.push(hub.map(end)) - 1
  })
  const hub = (h: number) => (h < 0 ? h : hubAt[h]!)
  return {
    ...plan,
    tracks: plan.tracks
      .filter((_, t) => !dead.has(t))
      .map((t) => ({ ...t, fromHub: hub(t.fromHub), toHub: hub(t.toHub) })),
    joints: [...plan.joints.filter((j) => stays(j.a) && stays(j.b)), ...bridges].map((j) => ({
      ...j,
      a: end(j.a),
      b: end(j.b),
    })),
    roads: plan.roads
      .filter((j) => stays(j.a) && stays(j.b))
      .map((j) => ({ ...j, a: end(j.a), b: end(j.b) })),
    openEnds: [...plan.openEnds, ...open].filter(stays).map(end),
    hubs,
    feeders: plan.feeders.filter((f) => !dead.has(f.track)).map((f) => ({ ...f, track: trackAt[f.track]! })),
    stands: plan.stands
      .filter((s) => s.track < 0 || !dead.has(s.track))
      .map((s) => (s.track < 0 ? s : { ...s, track: trackAt[s.track]! })),
  }
}
