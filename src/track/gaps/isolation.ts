/** Districts that share a rail: sound only where they hang on one bridge, or where nothing else joins them. */
import type { Finding } from '../../finding/index.js'
import type { Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { Path } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import { groundsOf, onOneBridge } from './grounds.js'

export interface CommonRail {
  districts: [string, string]
  /** A joint at which one rail is cut and the other is not. */
  joint: string | undefined
  verdict: Verdict
  finding: Finding
  path: Path
}

export function commonRails(model: TrackModel): CommonRail[] {
  return [...sharedRails(model), ...deadStretches(model), ...joinedFeeds(model)]
}

/** Stretches with one rail from each of two districts: sound only where their grounds are apart. */
function deadStretches({ net, dead }: TrackModel): CommonRail[] {
  return dead.flatMap((stretch): CommonRail[] => {
    const known = stretch.districts.map((d) => net.districts.indexOf(d)).filter((d) => d >= 0)
    return known.flatMap((a, i) =>
      known.slice(i + 1).map((b): CommonRail => {
        const districts: [string, string] = [net.districts[a]!, net.districts[b]!]
        const why = { one: 'one ground', apart: 'isolated', 'not known': 'not known' }[groundsOf(net, [a, b])]
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
    const grounds = groundsOf(net, [a, b])
    const why = onOneBridge(net, [a, b])
      ? 'one bridge'
      : one && one.supply === other?.supply
        ? 'one supply'
        : { one: 'one ground', apart: 'isolated', 'not known': 'not known' }[grounds]
    return {
      districts,
      joint,
      verdict:
        why === 'one bridge' || why === 'isolated' ? 'met' : why === 'not known' ? 'undecided' : 'broken',
      finding: trackFindings.find('common-rail', { districts, joint, why }),
      path: plan.joints.find((j) => j.name === joint)?.path ?? ['track', 'bus'],
    }
  })
}

/**
 * Feeds of two districts that a switch joins while it is turned from one to the next. A rotary switch may do so, unless the design says
 * that it breaks first.
 */
function joinedFeeds({ plan, net }: TrackModel): CommonRail[] {
  return plan.runs.flatMap(({ name: run, design, path }): CommonRail[] => {
    const { kind, feeds = [], contacts } = design.switch ?? {}
    const makes = contacts ?? (kind === 'toggle' ? 'break first' : undefined)
    if (makes === 'break first') return []
    const districtOf = (feed: string) => plan.runs.find((r) => r.name === feed)?.district
    return feeds.slice(1).flatMap((next, i): CommonRail[] => {
      const districts = [districtOf(feeds[i]!), districtOf(next)]
      const [a, b] = districts.map((d) => (d === undefined ? -1 : net.districts.indexOf(d)))
      if (a === b || a! < 0 || b! < 0 || onOneBridge(net, [a!, b!])) return []
      const pair: [string, string] = [net.districts[a!]!, net.districts[b!]!]
      return [
        {
          districts: pair,
          joint: undefined,
          verdict: makes === 'make first' ? 'broken' : 'undecided',
          finding: trackFindings.find('feeds-joined', { run, districts: pair, known: makes !== undefined }),
          path: [...path, 'switch'],
        },
      ]
    })
  })
}
