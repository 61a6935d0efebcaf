/** The rails as they are laid: each section and leg of a turnout, how long it is, and what its ends meet. */
import type { Track, TrackLayout } from '../../track/index.js'
import { plain, type Said, said } from './figure.js'
import type { BookSources } from './sources.js'

export interface TrackRow {
  piece: string
  length: Said
  rail: string
  /** What each end meets, and how. */
  from: string
  to: string
}

export function trackTable({ plan, figures: f }: BookSources): TrackRow[] {
  if (!plan) return []
  return plan.tracks.map((track, i): TrackRow => {
    const length = f.at('mm', 'plan', 'tracks', i, 'lengthMm')
    return {
      piece: nameOf(track),
      length: length ? said`${length}` : plain(''),
      rail: `code ${track.code}, ${track.alloy}`,
      from: meets(plan, 2 * i),
      to: meets(plan, 2 * i + 1),
    }
  })
}

const nameOf = (track: Track) => (track.leg === '' ? track.name : `${track.name} ${track.leg}`)

const JOINED: Readonly<Record<string, string>> = { slip: 'slip joiners', soldered: 'soldered' }

/** The neighbour of an end. */
function meets(plan: TrackLayout, end: number): string {
  const track = plan.tracks[end >> 1]!
  const hub = (end & 1) === 0 ? track.fromHub : track.toHub
  if (hub >= 0) return `the other legs of ${track.name}`
  const joint = plan.joints.find((j) => j.a === end || j.b === end)
  if (!joint) return 'open end'
  const other = joint.a === end ? joint.b : joint.a
  const cuts = [joint.gapL, joint.gapR].filter(Boolean).length
  const how = cuts === 2 ? 'both rails cut' : (JOINED[joint.joiner] ?? joint.joiner)
  return `${nameOf(plan.tracks[other >> 1]!)}: ${cuts === 1 ? `${how}, one rail cut` : how}`
}
