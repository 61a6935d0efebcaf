/** What the track is made of, as it is bought, and how its buses run. */
import type { Joint, TrackLayout } from '../../track/index.js'
import { plain, type Said, said } from './figure.js'
import type { PartRow } from './parts.js'
import type { BookSources } from './sources.js'

const KINDS = {
  turnout: 'turnout',
  crossing: 'crossing',
  slip: 'double slip',
  turntable: 'turntable',
} as const

export function trackParts({ plan, figures: f }: BookSources): PartRow[] {
  if (!plan) return []
  const rows: PartRow[] = []
  const rails = new Map<string, number[]>()
  plan.tracks.forEach((t, i) => {
    if (t.kind !== 'section') return
    const key = `code ${t.code}, ${t.alloy}`
    rails.set(key, [...(rails.get(key) ?? []), i])
  })
  for (const [rail, tracks] of rails) {
    const length = f.by('mm', 'sum', ...tracks.map((i) => ['plan', 'tracks', i, 'lengthMm']))
    rows.push({
      part: `track, ${rail}`,
      count: tracks.length,
      ratings: length
        ? said`sections, ${length} together; the length of each is in the table of the track`
        : plain(''),
      for: 'the track',
    })
  }
  for (const [kind, part] of Object.entries(KINDS)) {
    const names = new Set(plan.tracks.flatMap((t) => (t.kind === kind ? [t.group] : [])))
    if (names.size > 0)
      rows.push({
        part,
        count: names.size,
        ratings: plain(
          `${[...names].join(', ')}; rail and length of each leg are in the table of the track. Which hand and angle, and how it is thrown, is your choice: the design does not say`,
        ),
        for: 'the track',
      })
  }
  return [...rows, ...joinerRows(plan)]
}

/** Joiners by kind: one for each rail that is not cut, and an insulated one for each that is. */
function joinerRows(plan: TrackLayout): PartRow[] {
  const counts = new Map<string, number>()
  const add = (kind: string, n: number) => n > 0 && counts.set(kind, (counts.get(kind) ?? 0) + n)
  for (const joint of plan.joints) {
    const cuts = cutsOf(joint)
    add('insulated rail joiner', cuts)
    add(joint.joiner === 'soldered' ? 'rail joiner, soldered' : 'rail joiner', 2 - cuts)
  }
  return [...counts].map(([part, count]) => ({
    part,
    count,
    ratings: plain('for the rail that it joins'),
    for: 'the track',
  }))
}

const cutsOf = ({ gapL, gapR }: Joint) => [gapL, gapR].filter(Boolean).length

const GEOMETRY = {
  twisted: 'twisted',
  parallel: 'side by side, insulations touching',
  spaced: 'apart from each other',
} as const

/** How each bus is laid, and how feeders are joined with it. */
export function busNotes({ plan, figures: f }: BookSources): Said[] {
  if (!plan || plan.runs.length === 0) return []
  const runs = plan.runs.map(({ name, design }): Said => {
    const length = f.at('mm', 'design', 'track', 'bus', name, 'length') ?? plain('')
    const { geometry, terminator } = design
    return said`${`Bus ${name}: `}${length} of two wires, ${GEOMETRY[geometry]}${terminator ? '; its terminator goes across the far end' : '; no terminator, its far end stays open'}.`
  })
  return [
    ...runs,
    plain(
      'The places in the wiring list are counted along the bus from its beginning at the station, and along a section from its beginning.',
    ),
    plain(
      'Solder a feeder to the outside or the foot of its rail, where no wheel flange passes. Join it with the bus by solder with a sleeve, or by a terminal or splice made for both sizes; the bus itself stays uncut.',
    ),
  ]
}
