/** Whether an automatic reverser acts before the districts on both sides of its gaps do. */
import { formatNumber } from '../../units/index.js'
import { gapsOf, type TrackLayout } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import type { Groups } from '../network/groups.js'
import type { ShortMap } from '../shorts/shorts.js'
import { trainsOf } from '../voltage/trains.js'
import { railParts, reverserOf, reversersOfParts } from './opposed-gaps.js'
import type { ReverserCheck } from './routes.js'

/** A reverser's trip current and time may be off by so much, as a breaker's; common practice, no source. */
const TRIP_SPREAD = 0.1
const TIME_SPREAD = 0.2

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
    for (const j of gapsOf(plan)) {
      if (!(j.gapL && j.gapR) || fed(j.a) === fed(j.b)) continue
      rivals.add(net.districtOfTrack[(fed(j.a) ? j.b : j.a) >> 1]!)
    }
    const amp = (value: number) => formatNumber(value, 3)
    const named = (at: number) => (at === d ? 'its district' : `district ${net.districts[at]}`)
    const ms = (us: number) => `${(us / 1000).toFixed(1)} ms`
    const mostTrip = own.trip * (1 + TRIP_SPREAD)
    const latest = own.time * (1 + TIME_SPREAD)
    /** Why it does not do its work, and why it may not. */
    const fails: string[] = []
    const mayFail: string[] = []
    if (!(least > own.trip))
      fails.push(
        `a short on its track draws ${least.toFixed(2)} A, not above its ${amp(own.trip)} A: it never swaps`,
      )
    else if (!(least > mostTrip))
      mayFail.push(
        `a short on its track draws ${least.toFixed(2)} A, and it may trip only at ${amp(mostTrip)} A`,
      )
    const always = alwaysAmp(plan, i, tracks, parts)
    if (always >= own.trip)
      fails.push(
        `it trips at ${amp(own.trip)} A, and what is fed behind it draws ${amp(always)} A all the time: it keeps swapping`,
      )
    else if (always > 0 && always >= own.trip * (1 - TRIP_SPREAD))
      mayFail.push(
        `it may trip from ${amp(own.trip * (1 - TRIP_SPREAD))} A, and what is fed behind it draws ${amp(always)} A all the time`,
      )
    const together = trainsTogether(plan, tracks, parts)
    if (together.count > 1 && always + together.amp >= own.trip * (1 - TRIP_SPREAD))
      mayFail.push(
        `it may trip from ${amp(own.trip * (1 - TRIP_SPREAD))} A, and ${together.count} trains that have room on its track at once draw ${amp(always + together.amp)} A`,
      )
    for (const [train, { running, lights, sound, stall }] of Object.entries(plan.rollingStock)) {
      const runs = running + lights + sound + always
      const draws = Math.max(runs, (stall ?? 0) + lights + sound + always)
      if (own.trip <= runs)
        fails.push(
          `it trips at ${amp(own.trip)} A, and ${train}${always > 0 ? ' with what else is fed there' : ''} draws ${amp(runs)} A: it swaps for as long as that train is on its track`,
        )
      else if (own.trip * (1 - TRIP_SPREAD) <= draws)
        mayFail.push(
          `it may trip from ${amp(own.trip * (1 - TRIP_SPREAD))} A, and ${train} draws up to ${amp(draws)} A, stalled too, without any short`,
        )
    }
    for (const at of rivals) {
      const { tripAmp, tripLowAmp = tripAmp, tripTimeUs, soonestTripUs } = net.sources[at]!
      if (tripAmp !== undefined && own.trip >= tripAmp)
        fails.push(`it trips at ${amp(own.trip)} A, ${named(at)} already at ${amp(tripAmp)} A`)
      else if (tripLowAmp !== undefined && mostTrip >= tripLowAmp)
        mayFail.push(`it trips at up to ${amp(mostTrip)} A, ${named(at)} from ${amp(tripLowAmp)} A`)
      const latestUs = least > (tripAmp ?? 0) ? (tripTimeUs?.(least) ?? NEVER) : NEVER
      const soonestUs = soonestTripUs?.(mostAmp(net.sources[at]!)) ?? latestUs
      if (own.time >= latestUs) fails.push(`it takes ${ms(own.time)}, ${named(at)} only ${ms(latestUs)}`)
      else if (latest >= soonestUs)
        mayFail.push(
          `it takes up to ${ms(latest)}, ${named(at)} between ${ms(soonestUs)} and ${Number.isFinite(latestUs) ? ms(latestUs) : 'never'}`,
        )
    }
    const ok = fails.length === 0
    const sure = ok && mayFail.length === 0
    const districtTimeUs =
      source.tripAmp !== undefined && least > source.tripAmp ? source.tripTimeUs?.(least) : undefined
    return [
      {
        run: run.name,
        district: run.district,
        ok,
        sure,
        reverserAmp: own.trip,
        districtAmp: source.tripAmp,
        reverserTimeUs: own.time,
        districtTimeUs: Number.isFinite(districtTimeUs ?? 0) ? districtTimeUs : undefined,
        because:
          fails[0] ??
          (mayFail[0] === undefined ? undefined : `${mayFail[0]} (10 % and 20 % off, common practice)`) ??
          `it trips at ${amp(own.trip)} A within ${(own.time / 1000).toFixed(1)} ms, before its district${rivals.size > 1 ? ' and those beyond its gaps' : ''}`,
        path: [...run.path, 'reverser'],
      },
    ]
  })
}

const NEVER = Number.POSITIVE_INFINITY

/** What accessories behind a reverser draw all the time, A. */
function alwaysAmp(plan: TrackLayout, reverser: number, fed: ReadonlySet<number>, parts: Groups): number {
  const own = new Set([...fed].map((track) => parts.find(track)))
  return plan.stands
    .filter(
      (s) => !s.train && (s.track < 0 ? reverserOf(plan, s.run) === reverser : own.has(parts.find(s.track))),
    )
    .reduce((sum, s) => sum + s.amp, 0)
}

/** Those trains that draw most of all that have room at once on the track behind a reverser. */
function trainsTogether(
  plan: TrackLayout,
  fed: ReadonlySet<number>,
  parts: Groups,
): { count: number; amp: number } {
  const own = new Set([...fed].map((track) => parts.find(track)))
  let room = plan.tracks.reduce((sum, t, i) => (own.has(parts.find(i)) ? sum + t.lengthMm : sum), 0)
  const together = { count: 0, amp: 0 }
  for (const train of trainsOf(plan).sort((a, b) => b.amp - a.amp)) {
    if (train.lengthMm > room) continue
    room -= train.lengthMm
    together.count++
    together.amp += train.amp
  }
  return together
}

/** The most a source drives into a short at its terminals, A. */
function mostAmp({
  openVolt,
  sourceOhm,
  sourceLeastOhm,
  limitHighAmp,
}: TrackModel['net']['sources'][number]): number {
  return Math.min(limitHighAmp ?? NEVER, openVolt.high / (sourceLeastOhm ?? sourceOhm))
}
