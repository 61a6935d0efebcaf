/** Whether an automatic reverser acts before its district does. */
import { formatNumber } from '../../units/index.js'
import type { TrackModel } from '../model.js'
import type { ShortMap } from '../shorts/shorts.js'
import { reverserOf } from './opposed-gaps.js'
import type { ReverserCheck } from './routes.js'

/** An automatic reverser must act before its district does, at the weakest place of its own track. */
export function checkReversers({ plan, net }: TrackModel, shorts: ShortMap): ReverserCheck[] {
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
    const districtTimeUs =
      source.tripAmp !== undefined && least > source.tripAmp ? source.tripTimeUs?.(least) : undefined
    const sooner = districtTimeUs === undefined || own.time < districtTimeUs
    const lower = source.tripAmp === undefined || own.trip < source.tripAmp
    const reached = least > own.trip
    const amp = (value: number) => formatNumber(value, 3)
    const because = !reached
      ? `a short on its track draws ${least.toFixed(2)} A, not above its ${amp(own.trip)} A: it never swaps`
      : !lower
        ? `it trips at ${amp(own.trip)} A, its district already at ${amp(source.tripAmp!)} A`
        : !sooner
          ? `it takes ${(own.time / 1000).toFixed(1)} ms, its district only ${((districtTimeUs ?? 0) / 1000).toFixed(1)} ms`
          : `it trips at ${amp(own.trip)} A within ${(own.time / 1000).toFixed(1)} ms, before its district`
    return [
      {
        run: run.name,
        district: run.district,
        ok: reached && lower && sooner,
        reverserAmp: own.trip,
        districtAmp: source.tripAmp,
        reverserTimeUs: own.time,
        districtTimeUs: Number.isFinite(districtTimeUs ?? 0) ? districtTimeUs : undefined,
        because,
        path: [...run.path, 'reverser'],
      },
    ]
  })
}
