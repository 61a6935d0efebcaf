/** Whether an automatic reverser acts before the districts on both sides of its gaps do. */
import { formatNumber } from '../../units/index.js'
import type { TrackModel } from '../model.js'
import type { ShortMap } from '../shorts/shorts.js'
import { railParts, reverserOf, reversersOfParts } from './opposed-gaps.js'
import type { ReverserCheck } from './routes.js'

/**
 * An automatic reverser must act before its own district does, and before those beyond its gaps: at the weakest place of its
 * own track it must notice the short, and at the strongest no district may be off sooner.
 */
export function checkReversers({ plan, net }: TrackModel, shorts: ShortMap): ReverserCheck[] {
  if (!plan.runs.some((r) => r.design.reverser)) return []
  const parts = railParts(plan)
  const byPart = reversersOfParts(plan, parts)
  return plan.runs.flatMap((run, i): ReverserCheck[] => {
    const own = run.design.reverser
    if (!own) return []
    const d = net.districts.indexOf(run.district)
    const source = net.sources[d]!
    const tracks = new Set(
      plan.feeders.filter((f) => !f.open && reverserOf(plan, f.run) === i).map((f) => f.track),
    )
    let least = Number.POSITIVE_INFINITY
    for (const p of shorts.places) if (tracks.has(net.places[p.place]!.track)) least = Math.min(least, p.amp)
    if (!Number.isFinite(least)) least = 0
    // Districts that feed the short as well: its own, and whatever is beyond its gaps.
    const fed = (end: number) => byPart.get(parts.find(end >> 1))?.has(i) ?? false
    const rivals = new Set([d])
    for (const j of plan.joints) {
      if (!(j.gapL && j.gapR) || fed(j.a) === fed(j.b)) continue
      rivals.add(net.districtOfTrack[(fed(j.a) ? j.b : j.a) >> 1]!)
    }
    const amp = (value: number) => formatNumber(value, 3)
    const named = (at: number) => (at === d ? 'its district' : `district ${net.districts[at]}`)
    let because: string | undefined
    let sure = true
    if (!(least > own.trip))
      because = `a short on its track draws ${least.toFixed(2)} A, not above its ${amp(own.trip)} A: it never swaps`
    for (const at of rivals) {
      const { tripAmp, tripTimeUs, soonestTripUs } = net.sources[at]!
      if (tripAmp !== undefined && own.trip >= tripAmp)
        because ??= `it trips at ${amp(own.trip)} A, ${named(at)} already at ${amp(tripAmp)} A`
      const latestUs = least > (tripAmp ?? 0) ? (tripTimeUs?.(least) ?? NEVER) : NEVER
      const ms = (us: number) => `${(us / 1000).toFixed(1)} ms`
      if (own.time >= latestUs) because ??= `it takes ${ms(own.time)}, ${named(at)} only ${ms(latestUs)}`
      const soonestUs = soonestTripUs?.(mostAmp(net.sources[at]!)) ?? latestUs
      if (because === undefined && own.time >= soonestUs) {
        sure = false
        because = `it takes ${ms(own.time)}, ${named(at)} between ${ms(soonestUs)} and ${Number.isFinite(latestUs) ? ms(latestUs) : 'never'}`
        break
      }
    }
    const ok = because === undefined || !sure
    const districtTimeUs =
      source.tripAmp !== undefined && least > source.tripAmp ? source.tripTimeUs?.(least) : undefined
    return [
      {
        run: run.name,
        district: run.district,
        ok,
        sure: ok && sure,
        reverserAmp: own.trip,
        districtAmp: source.tripAmp,
        reverserTimeUs: own.time,
        districtTimeUs: Number.isFinite(districtTimeUs ?? 0) ? districtTimeUs : undefined,
        because:
          because ??
          `it trips at ${amp(own.trip)} A within ${(own.time / 1000).toFixed(1)} ms, before its district${rivals.size > 1 ? ' and those beyond its gaps' : ''}`,
        path: [...run.path, 'reverser'],
      },
    ]
  })
}

const NEVER = Number.POSITIVE_INFINITY

/** The most a source drives into a short at its terminals, A. */
function mostAmp({
  openVolt,
  sourceOhm,
  sourceLeastOhm,
  limitHighAmp,
}: TrackModel['net']['sources'][number]): number {
  return Math.min(limitHighAmp ?? NEVER, openVolt.high / (sourceLeastOhm ?? sourceOhm))
}
