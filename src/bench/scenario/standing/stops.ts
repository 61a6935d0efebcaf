/** Trains that come to the places where they have to stop, as fast as planned, and are stopped there. */
import { trackName } from '../../../track/index.js'
import type { BenchDecoder } from '../../station/setup.js'
import type { ActDesign } from '../design.js'
import type { PlannedStop } from '../plan.js'
import { FIRST_COMMAND_US, type Frame, NO_LANGUAGE, type Playable, SETTLED_US } from './frame.js'

/** Seconds per step of CV3 and CV4, times the steps in use (S-9.2.2:2012). */
const MOMENTUM_US = 0.896e6
/** While it gathers speed a train is set back to the start of the place before it has run so much of it. */
const RUN_UP_SHARE = 0.5
const MOST_SET_BACK = 40
/** A train has stopped so long after the calculated time, us. */
const STOPPED_AFTER_US = 800e3

interface Approach {
  acts: ActDesign[]
  untilUs: number
}

/** One scenario in which each train stops in each of its places; none where the traffic has no such place. */
export function stopsInPlaces(f: Frame): Playable[] {
  const stops = f.options.planned?.stops ?? []
  const name = 'stops in their places'
  const [first] = stops
  if (!first) return []
  const shows = { clause: 'stopping-distance', about: first.output } as const
  if (!f.canDrive) return [f.missing(shows, name, NO_LANGUAGE)]
  const tracks = f.setup.railroad?.plan.tracks ?? []
  const lengthOf = (section: string) => tracks.find((t) => trackName(t) === section)?.lengthMm
  const acts: ActDesign[] = []
  // Trains and places are free again from these times on.
  const freeUs = new Map<string, number>()
  let lasts = 0
  for (const stop of stops) {
    const lengthMm = stop.section === undefined ? undefined : lengthOf(stop.section)
    if (stop.section === undefined || lengthMm === undefined) continue
    const place = `place ${stop.section}`
    for (const train of f.trains.filter((t) => stop.trains.includes(t.name))) {
      const fromUs = Math.max(
        FIRST_COMMAND_US + COMMANDS_APART_US * freeUs.size,
        freeUs.get(train.name) ?? 0,
        freeUs.get(place) ?? 0,
      )
      const come = approach(train, stop, stop.section, lengthMm, fromUs)
      if (!come) continue
      acts.push(...come.acts, { at: come.untilUs, remove: train.name })
      freeUs.set(train.name, come.untilUs + 1)
      freeUs.set(place, come.untilUs + 1)
      lasts = Math.max(lasts, come.untilUs + 1000)
    }
  }
  if (acts.length === 0)
    return [f.missing(shows, name, 'where its places lie, or how fast its trains run, is not described')]
  return [f.make(shows, name, lasts, acts, [{ onlyCommanded: true }])]
}

const COMMANDS_APART_US = 60e3

/** The train gathers speed in the place, is set back to its start, and is stopped as the traffic has it. */
function approach(
  { name: train, topMmPerS, cvs }: BenchDecoder,
  { mmPerS = topMmPerS, waitUs = 0, lengthMm }: PlannedStop,
  section: string,
  sectionMm: number,
  fromUs: number,
): Approach | undefined {
  if (!topMmPerS || !mmPerS) return undefined
  const share = Math.min(1, mmPerS / topMmPerS)
  const speed = Math.min(topMmPerS, mmPerS)
  const start: ActDesign['place'] = {
    train,
    at: { section, from: Math.max(0, sectionMm - (lengthMm ?? sectionMm)) },
  }
  const fastUs = fromUs + (cvs[3] ?? 0) * MOMENTUM_US * share + SETTLED_US
  const backEveryUs = ((RUN_UP_SHARE * (lengthMm ?? sectionMm)) / speed) * 1e6
  const times = Math.ceil((fastUs - fromUs) / backEveryUs)
  if (times > MOST_SET_BACK) return undefined
  const acts: ActDesign[] = [{ at: fromUs, drive: { train, speed: share } }]
  for (let i = 0; i < times; i++) acts.push({ at: fromUs + i * backEveryUs, place: start })
  const stopUs = fastUs + waitUs
  acts.push({ at: fastUs, place: start }, { at: stopUs, drive: { train, speed: 0 } })
  return { acts, untilUs: stopUs + (cvs[4] ?? 0) * MOMENTUM_US * share + STOPPED_AFTER_US }
}
