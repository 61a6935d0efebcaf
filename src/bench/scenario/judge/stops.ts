/** Trains that were told to stop in one of the places where they have to, and where they stood. */
import { trackName } from '../../../track/index.js'
import { exactInterval } from '../../campaign/binomial.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { TrainStop } from '../../station/yard.js'
import type { PlannedStop } from '../plan.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { NEAR_PLANNED } from './load.js'

/** One finding for each place where trains have to stop. */
export function stopsInside(played: Played): Found[] {
  return (played.options.planned?.stops ?? []).map((stop) => ({
    clause: 'stopping-distance',
    ...(stop.output === undefined ? {} : { about: stop.output }),
    section: stop.name,
    ...judged(stop, played),
  }))
}

function judged(stop: PlannedStop, { trace }: Played): Omit<Found, 'clause'> {
  const place = stop.name
  const { run } = trace
  const none = (finding: Found['finding']): Omit<Found, 'clause'> => ({ verdict: 'not shown', finding })
  const tracks = run.network.model?.plan.tracks ?? []
  const track = tracks.findIndex((t) => trackName(t) === stop.section)
  if (track < 0) return none(SAYS.find('stop-place-unknown', { place }))
  const { lengthMm } = tracks[track]!
  const here = (s: TrainStop) => s.heardAt.track === track && stop.trains.includes(s.train)
  const told = run.yard.stops.filter(here)
  const beyondMm = ({ leads, heardAt }: TrainStop) => {
    const leftMm = leads.mm >= heardAt.mm ? lengthMm - leads.mm : leads.mm
    return leads.track !== track || leftMm < stop.marginMm || leftMm <= 0
  }
  const isOut = (s: TrainStop) => beyondMm(s) || (stop.wholeTrain && s.trails.track !== track)
  const outside = [...told.filter(isOut), ...run.yard.unfinished.filter((s) => here(s) && beyondMm(s))]
  if (outside.length > 0) {
    const [first] = outside
    const share = exactInterval(told.length - told.filter(isOut).length, Math.max(1, told.length))
    return {
      verdict: 'broken',
      value: { ...share, unit: 'share' },
      timeUs: first!.heardUs,
      finding: SAYS.find('stops-outside', {
        place,
        train: first!.train,
        ranMm: first!.ranMm,
        mmPerS: Math.abs(first!.mmPerS),
      }),
    }
  }
  // A train that creeps stops anywhere.
  const fast = told.filter((s) => {
    const wanted = stop.mmPerS ?? run.train(s.train).plan.topMmPerS
    return wanted !== undefined && Math.abs(s.mmPerS) >= NEAR_PLANNED * wanted
  })
  if (fast.length === 0) return none(SAYS.find(told.length > 0 ? 'stops-too-slow' : 'no-stop', { place }))
  const share = exactInterval(fast.length, fast.length)
  return {
    verdict: share.low >= stop.sure ? 'met' : 'undecided',
    value: { ...share, unit: 'share' },
    finding: SAYS.find('stops-inside', { place, count: fast.length, low: share.low, sure: stop.sure }),
  }
}
