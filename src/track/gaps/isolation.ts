/** Districts that share a rail: sound only where they hang on one bridge, or where nothing else joins them. */
import type { Finding } from '../../finding/index.js'
import type { Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { Path } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import { onOneBridge, sharedGround } from './bridging.js'

export interface CommonRail {
  districts: [string, string]
  /** A joint at which one rail is cut and the other is not. */
  joint: string | undefined
  verdict: Verdict
  finding: Finding
  path: Path
}

export function commonRails(model: TrackModel): CommonRail[] {
  return [...sharedRails(model), ...deadStretches(model)]
}

/** Stretches with one rail from each of two districts: sound only where their grounds are apart. */
function deadStretches({ net, dead }: TrackModel): CommonRail[] {
  return dead.flatMap((stretch): CommonRail[] => {
    const known = stretch.districts.map((d) => net.districts.indexOf(d)).filter((d) => d >= 0)
    return known.flatMap((a, i) =>
      known.slice(i + 1).map((b): CommonRail => {
        const districts: [string, string] = [net.districts[a]!, net.districts[b]!]
        const told = net.sources[a]!.wiring && net.sources[b]!.wiring
        const why = sharedGround(net, [a, b]) ? 'one ground' : told ? 'isolated' : 'not known'
        return {
          districts,
          joint: stretch.joints[0],
          verdict: why === 'one ground' ? 'broken' : why === 'isolated' ? 'met' : 'undecided',
          finding: trackFindings.find('dead-stretch', { ...stretch, districts, why }),
          path: stretch.path,
        }
      }),
    )
  })
}

function sharedRails({ plan, net }: TrackModel): CommonRail[] {
  return net.commonRails.map(({ districts: [a, b], joint }): CommonRail => {
    const districts: [string, string] = [net.districts[a]!, net.districts[b]!]
    const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
    const why = onOneBridge(net, a, b)
      ? 'one bridge'
      : one && one.supply === other?.supply
        ? 'one supply'
        : sharedGround(net, [a, b])
          ? 'one ground'
          : 'not known'
    return {
      districts,
      joint,
      verdict: why === 'one bridge' ? 'met' : why === 'not known' ? 'undecided' : 'broken',
      finding: trackFindings.find('common-rail', { districts, joint, why }),
      path: plan.joints.find((j) => j.name === joint)?.path ?? ['track', 'bus'],
    }
  })
}
