/** Which trains may be parked in a district beside those that stand there: wherever rails lead, whoever feeds them. */
import type { RollingStockDesign } from '../design/track.js'
import type { TrackLayout } from '../layout/layout.js'
import { Groups } from './groups.js'

export interface Visitor {
  train: string
  count: number
}

/**
 * Trains that stand in other districts and fit beside those that stand here, those with the largest capacitors for their
 * length first. The last one may stand with its locomotive here and the rest of it beyond the gaps.
 * @param districtOfTrack number of the district that feeds each track
 */
export function visitorsOf(
  plan: TrackLayout,
  rollingStock: RollingStockDesign,
  districtOfTrack: Int32Array,
  district: number,
): Visitor[] {
  const rails = new Groups(plan.tracks.length)
  for (const j of [...plan.joints, ...plan.roads]) rails.join(j.a >> 1, j.b >> 1)
  for (const hub of plan.hubs) for (const end of hub.slice(1)) rails.join(hub[0]! >> 1, end >> 1)
  const own = plan.tracks.flatMap((_, i) => (districtOfTrack[i] === district ? [i] : []))
  const reached = new Set(own.map((i) => rails.find(i)))
  let leftMm = own.reduce((sum, i) => sum + plan.tracks[i]!.lengthMm, 0)
  const others: { train: string; count: number; lengthMm: number; farad: number }[] = []
  for (const [train, t] of Object.entries(rollingStock)) {
    const stand = plan.stands.find((s) => s.train && s.name === train)
    // One that stands nowhere counts everywhere.
    if (!stand || districtOfTrack[stand.track] === district) leftMm -= t.count * t.length
    else if (reached.has(rails.find(stand.track)))
      others.push({ train, count: t.count, lengthMm: t.length, farad: t.stayAlive?.capacitance ?? 0 })
  }
  others.sort((a, b) => b.farad / b.lengthMm - a.farad / a.lengthMm || a.lengthMm - b.lengthMm)
  const visitors: Visitor[] = []
  for (const { train, count, lengthMm } of others) {
    if (leftMm <= 0) break
    const fit = Math.min(count, Math.ceil(leftMm / lengthMm))
    leftMm -= fit * lengthMm
    visitors.push({ train, count: fit })
  }
  return visitors
}
