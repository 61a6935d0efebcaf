/** What a train meets at gaps in both rails: the same polarity on either side, or the opposite one. */

import { jointKeepsRails, type Path, type TrackLayout } from '../layout/layout.js'
import { findPhases } from '../layout/phase.js'
import { Groups } from '../network/groups.js'

export interface OpposedGap {
  joint: string
  /** One sentence. */
  because: string
  /** The tracks on either side. */
  tracks: [number, number]
  path: Path
}

/** Parts of the railroad that only gaps in both rails divide. */
export function railParts(plan: TrackLayout): Groups {
  const parts = new Groups(plan.tracks.length)
  for (const hub of plan.hubs) for (const end of hub) parts.join(hub[0]! >> 1, end >> 1)
  for (const j of plan.joints) if (!(j.gapL && j.gapR)) parts.join(j.a >> 1, j.b >> 1)
  return parts
}

/** The run whose reverser, automatic or by hand, a run is behind; −1 when there is none. */
export function reverserOf(plan: TrackLayout, run: number): number {
  for (let r = run; r >= 0; r = plan.runs[r]!.parent) if (isReverser(plan.runs[r]!)) return r
  return -1
}

/** It swaps its wires, by itself or by hand. */
export function isReverser({ design }: TrackLayout['runs'][number]): boolean {
  return design.reverser !== undefined || design.switch?.kind === 'reversing'
}

/** By part, the reversers that its feeders come from; −1 stands for none. */
export function reversersOfParts(plan: TrackLayout, parts: Groups): Map<number, Set<number>> {
  const map = new Map<number, Set<number>>()
  for (const f of plan.feeders) {
    if (f.open) continue
    const part = parts.find(f.track)
    map.set(part, (map.get(part) ?? new Set()).add(reverserOf(plan, f.run)))
  }
  return map
}

/** By part, whether all its feeders are swapped. */
export function swappedParts(plan: TrackLayout, parts: Groups): Map<number, boolean> {
  const swapped = new Map<number, boolean>()
  for (const f of plan.feeders) {
    if (f.open) continue
    const part = parts.find(f.track)
    swapped.set(part, (swapped.get(part) ?? true) && f.swapped)
  }
  return swapped
}

/**
 * Gaps in both rails with rails of opposite polarity beyond them: a loop, wye or ring that is gapped but fed like the rest. No
 * rail meets its opposite until a train's wheels bridge such gaps. A reverser that feeds one side alone cures it. What
 * swapped feeders do is told with them.
 */
export function opposedGaps(plan: TrackLayout): OpposedGap[] {
  const gapped = plan.joints.filter((j) => j.gapL && j.gapR)
  if (gapped.length === 0) return []
  const { phase } = findPhases(plan)
  const parts = railParts(plan)
  const reversers = reversersOfParts(plan, parts)
  const swapped = swappedParts(plan, parts)
  return gapped.flatMap((j): OpposedGap[] => {
    const [a, b] = [j.a >> 1, j.b >> 1]
    const [partA, partB] = [parts.find(a), parts.find(b)]
    const alike = (phase[a] === phase[b]) === jointKeepsRails(j)
    if (alike || swapped.get(partA) !== swapped.get(partB)) return []
    const only = (one: number, other: number) =>
      [...(reversers.get(one) ?? [])].some((r) => r >= 0 && !reversers.get(other)?.has(r))
    if (partA !== partB && (only(partA, partB) || only(partB, partA))) return []
    const cure =
      partA === partB
        ? 'the rails on both sides are joined elsewhere: cut both rails at a second place, so that a whole train fits between, and feed that part through an automatic reverser'
        : 'feed the part on one side of them through an automatic reverser'
    return [
      {
        joint: j.name,
        tracks: [a, b],
        because: `Beyond the gaps at ${j.name} the rails have the opposite polarity: nothing happens until a train bridges them, and then it shorts the two sides; ${cure}.`,
        path: j.path,
      },
    ]
  })
}

/** An automatic reverser on rails that something else feeds as well: once it has turned, the one shorts the other. */
export interface MixedReverser {
  run: string
  /** Where the reverser feeds them, and the other run. */
  section: string
  beside: string
  path: Path
}

export function mixedReversers(plan: TrackLayout): MixedReverser[] {
  if (!plan.runs.some((r) => r.design.reverser)) return []
  const parts = railParts(plan)
  const fed = plan.feeders.filter((f) => !f.open)
  const found = new Map<string, MixedReverser>()
  for (const f of fed) {
    const reverser = reverserOf(plan, f.run)
    const { design, name, path } = plan.runs[reverser] ?? {}
    if (!design?.reverser || found.has(name!)) continue
    const other = fed.find(
      (o) => parts.find(o.track) === parts.find(f.track) && reverserOf(plan, o.run) !== reverser,
    )
    if (!other) continue
    const section = plan.tracks[f.track]!.name
    found.set(name!, {
      run: name!,
      section,
      beside: plan.runs[other.run]!.name,
      path: [...path!, 'reverser'],
    })
  }
  return [...found.values()]
}

/** Turntables with an automatic reverser that no bus run describes: whether it acts in time is not known. */
export function untoldTurntables(plan: TrackLayout): string[] {
  return Object.entries(plan.design.turntables ?? {}).flatMap(([name, { turns }]) =>
    turns === 'automatic' && !behindReverser(plan, name) ? [name] : [],
  )
}

/** All feeders of a turntable's bridge come from reversers, automatic or by hand. */
export function behindReverser(plan: TrackLayout, bridge: string): boolean {
  const fed = plan.feeders.filter((f) => !f.open && plan.tracks[f.track]!.name === bridge)
  return fed.length > 0 && fed.every((f) => reverserOf(plan, f.run) >= 0)
}

/** A stretch behind an automatic reverser, between two of its gaps. */
export interface ReversedStretch {
  run: string
  /** The two gaps that are nearest to each other, along the track. */
  gaps: [string, string]
  stretchMm: number
  /** Undefined without rolling stock. */
  train: string | undefined
  trainMm: number
  /** The longest train is shorter than the stretch. */
  ok: boolean
  path: Path
}

/** An automatic reverser that turns several stretches apart from each other at once. */
export interface SharedReverser {
  run: string
  /** A section of each stretch. */
  stretches: string[]
  /** How many trains there are: two can be on the gaps of two stretches at once. */
  trains: number
  path: Path
}

/** Stretches of each reverser: parts that it alone feeds, with the gaps between them that it turns on both sides alike. */
function zonesOf(plan: TrackLayout): {
  zones: Groups
  doors: (joint: TrackLayout['joints'][number]) => boolean
} {
  const parts = railParts(plan)
  const reversers = reversersOfParts(plan, parts)
  const { phase } = findPhases(plan)
  const alone = (track: number) => {
    const own = [...(reversers.get(parts.find(track)) ?? [])]
    return own.length === 1 ? own[0]! : -1
  }
  const doors = (j: TrackLayout['joints'][number]) => {
    if (!(j.gapL && j.gapR)) return false
    const [a, b] = [j.a >> 1, j.b >> 1]
    const alike = (phase[a] === phase[b]) === jointKeepsRails(j)
    return !(alike && alone(a) >= 0 && alone(a) === alone(b))
  }
  const zones = new Groups(plan.tracks.length)
  plan.tracks.forEach((_, track) => {
    zones.join(parts.find(track), track)
  })
  for (const j of plan.joints) if (!doors(j)) zones.join(j.a >> 1, j.b >> 1)
  return { zones, doors }
}

/** Reversers with more than one stretch: two trains on gaps of two stretches may need it both ways at once. */
export function sharedReversers(plan: TrackLayout): SharedReverser[] {
  if (!plan.runs.some((r) => r.design.reverser)) return []
  const { zones } = zonesOf(plan)
  const trains = Object.values(plan.rollingStock).reduce((sum, t) => sum + t.count, 0)
  return plan.runs.flatMap((r, run): SharedReverser[] => {
    if (!r.design.reverser) return []
    const own = new Map<number, string>()
    for (const f of plan.feeders)
      if (!f.open && reverserOf(plan, f.run) === run && !own.has(zones.find(f.track)))
        own.set(zones.find(f.track), plan.tracks[f.track]!.name)
    if (own.size < 2) return []
    return [{ run: r.name, stretches: [...own.values()], trains, path: [...r.path, 'reverser'] }]
  })
}

/**
 * The shortest way from gap to gap through each part that a reverser feeds. A train longer than that bridges both
 * gaps at once, and whichever way the reverser turns, one of them is a short.
 */
export function reversedStretches(plan: TrackLayout): ReversedStretch[] {
  if (!plan.runs.some(isReverser)) return []
  const { zones, doors } = zonesOf(plan)
  let [train, trainMm]: [string | undefined, number] = [undefined, 0]
  for (const [name, { length }] of Object.entries(plan.rollingStock))
    if (length > trainMm) [train, trainMm] = [name, length]
  return plan.runs.flatMap((r, run): ReversedStretch[] => {
    if (!isReverser(r)) return []
    const own = new Set(
      plan.feeders.filter((f) => !f.open && reverserOf(plan, f.run) === run).map((f) => zones.find(f.track)),
    )
    return [...own].flatMap((part): ReversedStretch[] => {
      const nearest = nearestGaps(plan, zones, doors, part)
      if (!nearest) return []
      const ok = trainMm < nearest.mm
      return [
        {
          run: r.name,
          gaps: nearest.gaps,
          stretchMm: nearest.mm,
          train,
          trainMm,
          ok,
          path: [...r.path, r.design.reverser ? 'reverser' : 'switch'],
        },
      ]
    })
  })
}

/** The two gaps of a part that are nearest to each other along its tracks; `undefined` where it has fewer than two. */
function nearestGaps(
  plan: TrackLayout,
  parts: Groups,
  isDoor: (joint: TrackLayout['joints'][number]) => boolean,
  part: number,
): { gaps: [string, string]; mm: number } | undefined {
  const inside = (end: number) => parts.find(end >> 1) === part
  const doors = plan.joints.flatMap((j) => {
    if (!isDoor(j)) return []
    return [j.a, j.b].filter(inside).map((end) => ({ end, joint: j.name }))
  })
  if (doors.length < 2) return undefined
  // Ends that touch: through joints that are not cut in both rails, and at the hubs of turnouts.
  const touching = new Map<number, number[]>()
  const touch = (a: number, b: number) => {
    touching.set(a, [...(touching.get(a) ?? []), b])
    touching.set(b, [...(touching.get(b) ?? []), a])
  }
  for (const j of plan.joints) if (!isDoor(j) && inside(j.a)) touch(j.a, j.b)
  for (const hub of plan.hubs)
    if (inside(hub[0]!)) for (const a of hub) for (const b of hub) if (a < b) touch(a, b)
  let best: { gaps: [string, string]; mm: number } | undefined
  for (const door of doors) {
    const away = new Map([[door.end, 0]])
    const done = new Set<number>()
    for (;;) {
      let at = -1
      for (const [end, mm] of away) if (!done.has(end) && (at < 0 || mm < away.get(at)!)) at = end
      if (at < 0) break
      done.add(at)
      const mm = away.get(at)!
      const reach = (end: number, further: number) => {
        if (mm + further < (away.get(end) ?? Number.POSITIVE_INFINITY)) away.set(end, mm + further)
      }
      reach(at ^ 1, plan.tracks[at >> 1]!.lengthMm)
      for (const end of touching.get(at) ?? []) reach(end, 0)
    }
    for (const other of doors) {
      // Each way is found from both of its ends; once is enough.
      if (other.end <= door.end) continue
      const mm = away.get(other.end)
      if (mm !== undefined && mm > 0 && (!best || mm < best.mm))
        best = { gaps: [door.joint, other.joint], mm }
    }
  }
  return best
}
