/**
 * The worst arrangement of trains: running, and with one of them stalled. For constant currents voltages superpose: the
 * drop at p is Σ I·R(p, q) over trains at q, R the transfer resistance from one response per place.
 */

import type { TrackLayout } from '../layout/layout.js'
import type { Circuit } from '../network/circuit.js'
import { type Progressive, runToEnd } from '../progress.js'
import { ArrangementSearch } from './arrangement-search.js'
import { askedTracks } from './weak-places.js'

export interface EnvelopePlace {
  track: number
  /** Place number where the section is weakest. */
  place: number
  /** With the heaviest train here and the others where each costs most, as many on a section as it holds. */
  volt: number
  /** No arrangement gives less: trains nose to nose wherever that costs most. */
  boundVolt: number
  /** What the district carries then, A. */
  amp: number
}

/** The worst of a district. */
export interface WorstArrangement extends EnvelopePlace {
  arrangement: { train: string; track: number; amp: number }[]
  /** The train that is stalled, and whether its stall current is assumed. */
  stalled?: { train: string; assumed: boolean }
  /** Joiners and contacts that differ from each other take so much more than all of them at their greatest, V. */
  jointVolt: number
  /** More current than the district's trip surely lets flow was wanted; it is left at that. */
  tripLimited: boolean
}

export interface Envelope {
  converged: boolean
  /** By track; undefined where no trains are given, or where it was not asked for. */
  places: (EnvelopePlace | undefined)[]
  worst: EnvelopePlace | undefined
  /** How the worst was made. */
  arrangement: { train: string; track: number; amp: number }[]
  amp: number
  /** By district: the worst with all trains running, and with the one stalled that costs most. */
  running: (WorstArrangement | undefined)[]
  stalled: (WorstArrangement | undefined)[]
}

/** Which places are looked at; a response is solved for each. */
export interface EnvelopeLimit {
  /** Tracks whose own figure is wanted: all when left out. The worst of each district is found in any case. */
  tracks?: ReadonlySet<number>
  /** At most so many tracks, those of highest own resistance; when left out 4000, fewer where one response costs much. */
  most?: number
  /** Leave the stalled train out. */
  running?: boolean
}

/** {@link envelopeSteps} to the end. */
export function findEnvelope(plan: TrackLayout, circuit: Circuit, limit: EnvelopeLimit = {}): Envelope {
  return runToEnd(envelopeSteps(plan, circuit, limit))
}

/**
 * The heaviest train stands at p; the others take, heaviest first, the sections and turnouts with the largest R(p, q), as
 * many on each as its length holds and one in any case, for as long as the district does not trip. The bound lets trains
 * meet nose to nose: on a section there can be two more than its length holds. Places are tried from the one that could be
 * worst, until no other can be worse. The worst of each district is solved again with each load's own law.
 */
export function* envelopeSteps(
  plan: TrackLayout,
  circuit: Circuit,
  limit: EnvelopeLimit = {},
): Progressive<Envelope> {
  const search = ArrangementSearch.on(plan, circuit)
  const { net } = circuit.layout
  const empty: Envelope = {
    converged: search.base.converged,
    places: [],
    worst: undefined,
    arrangement: [],
    amp: 0,
    running: [],
    stalled: [],
  }
  const running = search.running
  if (!running) return empty
  const { weakest, ohm: ownOhm } = search
  const affordable = Math.min(4000, Math.max(50, Math.floor(1e8 / circuit.layout.rows)))
  const asked = askedTracks(ownOhm, limit.tracks, limit.most ?? affordable)
  const places: (EnvelopePlace | undefined)[] = []
  for (let first = 0; first < weakest.length; first += 32) {
    if (first > 0) yield { what: 'worst arrangement of trains', share: first / weakest.length }
    const tracks = Array.from({ length: Math.min(32, weakest.length - first) }, (_, i) => first + i)
    search.lookOn(
      tracks.filter((track) => asked[track]),
      running,
    )
    for (const track of tracks) places.push(asked[track] ? search.onTrack(track, running) : undefined)
  }
  const worstRunning: Envelope['running'] = []
  const worstStalled: Envelope['stalled'] = []
  let converged = search.base.converged
  for (let d = 0; d < net.districts.length; d++) {
    yield { what: 'worst arrangement of trains', share: d / net.districts.length }
    const run = search.worst(d, running, affordable)
    worstRunning.push(run?.found)
    if (run && !run.converged) converged = false
    const stall = limit.running ? undefined : search.stalled && search.worst(d, search.stalled, affordable)
    worstStalled.push(stall?.found)
    if (run) {
      const known = places[run.found.track]
      if (!known || run.found.volt < known.volt) {
        const { track, place, volt, boundVolt, amp } = run.found
        places[track] = { track, place, volt, boundVolt, amp }
      }
    }
  }
  const worst = worstRunning.reduce<WorstArrangement | undefined>(
    (low, p) => (p && (!low || p.volt < low.volt) ? p : low),
    undefined,
  )
  if (!worst) return { ...empty, places }
  return {
    converged,
    places,
    worst,
    arrangement: worst.arrangement,
    amp: worst.arrangement.reduce((sum, t) => sum + t.amp, 0),
    running: worstRunning,
    stalled: worstStalled,
  }
}
