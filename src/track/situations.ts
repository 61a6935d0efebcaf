/** The situations that a design gives rise to, and which clauses each of them binds. */
import type { ClauseId } from '../standard/index.js'
import type { TrackModel } from './model.js'
import type { TrackReport } from './report.js'

/**
 * Operating situations bind every clause that has a figure in them; shorts and wheels across gaps bind protection only; a
 * single fault binds nothing: it is told with whether a short would still trip. Power-up binds inrush, supply and
 * driver, which the power stage judges.
 */
export interface Situation {
  id:
    | 'empty'
    | 'standing'
    | 'running'
    | 'stalled'
    | 'for ever'
    | 'short'
    | 'wheel across a gap'
    | 'single fault'
  binds: readonly ClauseId[]
  /** How many of them were looked at: arrangements by district, places, gaps, faults. */
  count: number
}

export function situationsOf({ plan, net }: TrackModel, report: TrackReport): Situation[] {
  const arranged = (id: 'running' | 'stalled') => report.arrangements.filter((a) => a.situation === id).length
  const all: Situation[] = [
    {
      id: 'empty',
      binds: ['decoder-withstand', 'edge-rate', 'crossing-distortion', 'polarity', 'isolation'],
      count: report.ringing?.districts.length ?? 0,
    },
    { id: 'standing', binds: ['voltage-drop', 'track-voltage-min'], count: plan.stands.length },
    { id: 'running', binds: ['voltage-drop', 'track-voltage-min'], count: arranged('running') },
    { id: 'stalled', binds: ['voltage-drop', 'track-voltage-min'], count: arranged('stalled') },
    { id: 'for ever', binds: ['conductor-heat', 'joint-heat'], count: report.districts.length },
    { id: 'short', binds: ['short-current', 'short-trip'], count: net.places.length },
    { id: 'wheel across a gap', binds: ['gap-bridging'], count: report.gaps.length },
    { id: 'single fault', binds: [], count: report.faults.list.length },
  ]
  return all.filter((s) => s.count > 0)
}
