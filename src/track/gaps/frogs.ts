/** Frogs of diamond crossings whose two routes are fed by different districts: a wheel may touch a rail of each. */
import { trackFindings } from '../findings.data.js'
import type { TrackModel } from '../model.js'
import type { GapFigure } from './bridging.js'

/**
 * How far the rails of a crossing are apart at its frogs, and how wide the wheels are, is in no design: whether one joins both
 * routes there nobody can tell. A slip joins them anyway, and one district has nothing to lose.
 */
export function crossingFrogs({ plan, net }: TrackModel): GapFigure[] {
  const routes = new Map<string, number[]>()
  plan.tracks.forEach((t, i) => {
    if (t.kind === 'crossing') routes.set(t.group, [...(routes.get(t.group) ?? []), i])
  })
  return [...routes].flatMap(([name, [a, b]]): GapFigure[] => {
    if (a === undefined || b === undefined) return []
    const [one, other] = [net.districtOfTrack[a]!, net.districtOfTrack[b]!]
    if (one === other) return []
    const districts: [string, string] = [net.districts[one]!, net.districts[other]!]
    return [
      {
        joint: name,
        districts,
        kind: 'frog',
        leastAmp: 0,
        mostAmp: 0,
        allowedAmp: undefined,
        verdict: 'undecided',
        margin: 0,
        finding: trackFindings.find('gap-frog', { joint: name, districts }),
        path: plan.tracks[a]!.path,
      },
    ]
  })
}
