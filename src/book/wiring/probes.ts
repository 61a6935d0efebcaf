/** Where a reading is taken, in terms of the wiring: parts and wires of the diagram. */
import type { Place } from '../../find/index.js'
import type { WiringSources } from '../contents/sources.js'
import type { Connection, Wiring } from './connections.js'
import type { DiagramMarks } from './diagram-svg.js'

/** @returns no parts and no wires for a place that the diagram does not have, such as a locomotive. */
export function probesAt(
  place: Place,
  { parts, connections }: Wiring,
  { loaded, plan }: WiringSources,
): DiagramMarks {
  const known = (...ids: string[]) => ids.filter((id) => parts.some((p) => p.id === id))
  const part = (...ids: string[]): DiagramMarks => ({ parts: known(...ids), wires: [] })
  const wire = (isMeant: (c: Connection) => boolean): DiagramMarks => ({
    parts: [],
    wires: connections.filter(isMeant).map((c) => c.id),
  })
  const { name } = place
  switch (place.kind) {
    case 'supply':
    case 'driver':
      return part(`${place.kind} ${name}`)
    case 'controller':
      return part('controller ')
    case 'bus':
      return part(`terminator ${name}`)
    case 'track':
      return part(`section ${name}`)
    case 'gap':
    case 'joint':
      return part(...joined(place, plan).map((t) => `section ${t}`))
    case 'feeder':
      return wire((c) => c.because === `feeder ${name.replace(/\/[AB]$/, '')}`)
    case 'pin':
      return wire((c) => c.from === 'controller ' && c.fromAt === name)
    case 'output': {
      const output = loaded.design.signal.outputs[name]
      return wire((c) => c.from === 'controller ' && c.fromAt === output?.pin)
    }
    case 'input': {
      const cut = name.lastIndexOf('.')
      return wire((c) => c.to === `driver ${name.slice(0, cut)}` && c.toAt === name.slice(cut + 1))
    }
    case 'district': {
      const first = new Set(
        plan?.runs.flatMap((r) => (r.district === name && r.parent < 0 ? [`bus ${r.name}`] : [])) ?? [],
      )
      first.add(`rails ${name}`)
      return wire((c) => first.has(c.to) && !c.from.startsWith('bus '))
    }
    case 'locomotive':
      return part()
  }
}

/** The two tracks that a joint joins. */
function joined({ name }: Place, plan: WiringSources['plan']): string[] {
  const joint = plan?.joints.find((j) => j.name === name.replace(/\/(?:left|right)$/, ''))
  return joint ? [joint.a, joint.b].map((end) => plan!.tracks[end >> 1]!.name) : []
}
