/** What a train meets at gaps in both rails: the same polarity on either side, or the opposite one. */

import { jointKeepsRails, type Path, type TrackLayout } from '../layout/layout.js'
import { findPhases } from '../layout/phase.js'
import { Groups } from '../network/network.js'

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

/** The reverser that a run hangs on, by its run; −1 when there is none. */
export function reverserOf(plan: TrackLayout, run: number): number {
  for (let r = run; r >= 0; r = plan.runs[r]!.parent) if (plan.runs[r]!.design.reverser) return r
  return -1
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
  const swapped = new Map<number, boolean>()
  for (const f of plan.feeders) {
    if (f.open) continue
    const part = parts.find(f.track)
    swapped.set(part, (swapped.get(part) ?? true) && f.swapped)
  }
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

/**
 * What is wrong with the length of the parts that a reverser feeds: a train longer than such a part bridges both its gaps
 * at once, and whichever way it is turned, one of them is wrong.
 */
export function tooShortForTrains(
  plan: TrackLayout,
  run: number,
): { partMm: number; train: string; trainMm: number } | undefined {
  let longest: { train: string; trainMm: number } | undefined
  for (const [train, { length }] of Object.entries(plan.rollingStock))
    if (length > (longest?.trainMm ?? 0)) longest = { train, trainMm: length }
  if (!longest) return undefined
  const parts = railParts(plan)
  const own = new Set(
    plan.feeders.filter((f) => !f.open && reverserOf(plan, f.run) === run).map((f) => parts.find(f.track)),
  )
  for (const part of own) {
    const ways = plan.joints.filter(
      (j) => j.gapL && j.gapR && (parts.find(j.a >> 1) === part) !== (parts.find(j.b >> 1) === part),
    ).length
    if (ways < 2) continue
    const partMm = plan.tracks.reduce((sum, t, i) => (parts.find(i) === part ? sum + t.lengthMm : sum), 0)
    if (partMm < longest.trainMm) return { partMm, ...longest }
  }
  return undefined
}
