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

/**
 * Whether a train would have stopped inside as well with the latest command that is allowed, or one that takes no time, and
 * faster or slower by the spread of its speed.
 */
function isInsideAtWorst(
  { train, heardUs, mmPerS, ranMm, leads, trails, heardAt }: TrainStop,
  { mmPerS: plannedMmPerS = Math.abs(mmPerS), marginMm, wholeTrain }: PlannedStop,
  { latestUs, faster }: NonNullable<PlannedStop['worst']>,
  lengthMm: number,
  { trace, setup }: Played,
): boolean {
  const address = setup.decoders.find((d) => d.name === train)?.address
  const command = trace
    .commands()
    .findLast(
      (c) =>
        c.timeUs <= heardUs &&
        (c.kind === 'stop' ||
          ('address' in c && c.address === address && (c.kind === 'stopOne' || c.kind === 'speed'))),
    )
  if (!command) return false
  const speed = Math.max(Math.abs(mmPerS), plannedMmPerS)
  const tookUs = heardUs - command.timeUs
  const higher = ((1 + faster) * speed) / Math.abs(mmPerS)
  const enteredMm = leads.mm >= heardAt.mm ? heardAt.mm : lengthMm - heardAt.mm
  // What it has run until it heard, and while it stopped, grows with its speed: the momentum lasts as long as it does.
  const moreMm = (higher - 1) * (enteredMm + ranMm) + ((1 + faster) * speed * (latestUs - tookUs)) / 1e6
  const lessMm = faster * (enteredMm + ranMm) + (Math.abs(mmPerS) * tookUs) / 1e6
  const atMm = leads.mm >= heardAt.mm ? leads.mm : lengthMm - leads.mm
  const rearMm = leads.mm >= heardAt.mm ? trails.mm : lengthMm - trails.mm
  const isWhole = !wholeTrain || (trails.track === leads.track && rearMm - lessMm > 0)
  return atMm + moreMm <= lengthMm - marginMm && isWhole
}

function judged(stop: PlannedStop, played: Played): Omit<Found, 'clause'> {
  const { trace } = played
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
  const { worst } = stop
  if (worst && fast.every((s) => isInsideAtWorst(s, stop, worst, lengthMm, played)))
    return {
      verdict: 'met',
      value: { low: 1, high: 1, unit: 'share' },
      finding: SAYS.find('stops-inside-at-worst', { place, count: fast.length, ...worst }),
    }
  return {
    verdict: share.low >= stop.sure ? 'met' : 'undecided',
    value: { ...share, unit: 'share' },
    finding: SAYS.find('stops-inside', { place, count: fast.length, low: share.low, sure: stop.sure }),
  }
}
