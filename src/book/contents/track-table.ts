/** The rails as they are laid: each section and leg of a turnout, how long it is, and what its ends meet. */
import { drawTrack, type Track, type TrackLayout } from '../../track/index.js'
import { inUnit, plain, type Said, said } from './figure.js'
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

/** A leg that nothing follows is more often forgotten than meant. */
function openLegs(plan: TrackLayout): string[] {
  const open = plan.openEnds.flatMap((end) => {
    const track = plan.tracks[end >> 1]!
    return track.kind === 'turnout' && track.leg !== '' ? [nameOf(track)] : []
  })
  if (open.length === 0) return []
  return [
    `${open.join(', ')}: the design ends there, so no train of it goes on. If track follows on your layout, it is missing in the design, and no figure of this book counts it.`,
  ]
}

/** What the calculation takes for granted of the turnouts; nothing where there are none. */
export function turnoutNotes({ plan }: BookSources): string[] {
  const names = [
    ...new Set((plan?.tracks ?? []).flatMap((t) => (t.kind === 'turnout' && t.leg !== '' ? [t.name] : []))),
  ]
  if (names.length === 0) return []
  return [
    `Turnouts: ${names.join(', ')}. Both rails run through to all three legs, however the turnout is thrown; bridge rails that only the blades feed with a jumper wire. An end that must be cut is marked as cut in the table.`,
    ...openLegs(plan!),
    'The frog is not part of the calculation. With an insulated frog nothing is to be wired. A metal frog belongs to the other rail in each position: feed it through a contact that moves with the blades, over its own wire, never from a fixed feeder, and cut the rails that lead into it where the turnout does not do so already. Else it shorts the district.',
    'Whether a locomotive coasts over an insulated frog is for you to try; no reading of this book shows it.',
  ]
}

/** Each section and turnout with its name. */
export function trackMap({ plan }: BookSources): string | undefined {
  if (!plan) return undefined
  return drawTrack(plan, {
    id: 'book-map',
    title: 'Map of the sections',
    description: 'The track seen from above, each section and each turnout with its name.',
    values: plan.tracks.map((t) => ({
      grade: 'good',
      label: t.leg === '' ? inUnit(t.lengthMm, 'mm') : '',
    })),
    legend: { good: 'track', fair: '', poor: '', none: '' },
    namesTurnouts: true,
  })
}
