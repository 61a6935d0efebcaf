/**
 * Switches that need not be tried together. Each cuts off one siding that hangs on the rest by its own bus run only: both rails are cut
 * wherever it meets the line, and it meets no other siding. With it off the network of the rest is the same, and carries less: every voltage is as high or
 * higher, trains have fewer places, every short elsewhere is the same. So the positions with all on, and with one off each, have the
 * worst of every clause but those of edges: what hangs on a bus changes how it rings, more or less.
 */

import type { ClauseId } from '../../standard/index.js'
import type { TrackLayout } from '../layout/layout.js'
import type { TrackInput } from '../model.js'
import { Groups } from '../network/groups.js'

/** Clauses of edges on the bus, which no one position bounds. */
export const OF_EDGES: ReadonlySet<ClauseId> = new Set<ClauseId>([
  'edge-rate',
  'crossing-distortion',
  'decoder-withstand',
])

/** @param plan with everything on. */
export function areSeparateSidings(plan: TrackLayout, sources: TrackInput['sources']): boolean {
  // What one district does not draw, another of the same supply may.
  if ([...sources.values()].some((s) => (s.beside ?? []).length > 0)) return false
  const groups = new Groups(plan.tracks.length)
  for (const hub of plan.hubs) for (const end of hub) groups.join(hub[0]! >> 1, end >> 1)
  for (const j of plan.joints) if (!(j.gapL && j.gapR)) groups.join(j.a >> 1, j.b >> 1)
  const siding = new Map<number, number>()
  const fed = new Map<number, Set<number>>()
  for (const f of plan.feeders) {
    const at = groups.find(f.track)
    fed.set(at, (fed.get(at) ?? new Set()).add(f.run))
  }
  for (const [run, r] of plan.runs.entries()) {
    const kind = r.design.switch?.kind
    if (kind === undefined) continue
    if (kind !== 'off-on' || r.design.reverser || plan.runs.some((other) => other.parent === run))
      return false
    for (const [at, runs] of fed) {
      if (!runs.has(run)) continue
      if (runs.size > 1) return false
      siding.set(at, run)
    }
  }
  for (const at of siding.keys()) {
    const doors = plan.joints.filter((j) => (groups.find(j.a >> 1) === at) !== (groups.find(j.b >> 1) === at))
    // It may not end in another siding: a train could bridge both.
    for (const j of doors)
      if (siding.has(groups.find(j.a >> 1)) && siding.has(groups.find(j.b >> 1))) return false
    // A joint within it, cut, could cut it in two.
    if (
      plan.joints.some(
        (j) => j.gapL && j.gapR && groups.find(j.a >> 1) === at && groups.find(j.b >> 1) === at,
      )
    )
      return false
  }
  return true
}
