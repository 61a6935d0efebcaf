/** What is being drawn on the map: how the pointer begins it, moves it and what is said when it is let go. */
import { signal } from '@preact/signals'
import type { Picked } from '../views/map-fields.js'
import { crossedAt, headingOn, nearestNode, nearestPlace, pointOn } from '../views/map-place.js'
import type { Tool } from '../views/map-tools.js'
import type { MapNode, MapTrack, TrackMapData } from '../worker/map-data.js'
import {
  arcFrom,
  arcThrough,
  distance,
  headingOf,
  nearestAxis,
  roundArc,
  snapPlace,
  within180,
  type Xy,
} from './geometry.js'

const DRAWING = ['section', 'curve', 'turnout', 'crossing', 'bus'] as const
export type DrawingTool = (typeof DRAWING)[number]

/** Tools that lay something new on the map. */
export function isDrawing(tool: Tool): tool is DrawingTool {
  return DRAWING.some((t) => t === tool)
}

/** Whether what is drawn keeps to the grid, and to the line that a free end leads along. */
export const isSnapping = signal(true)

interface Ends {
  map: TrackMapData
  /** How near one must come to a free end, mm. */
  reachMm: number
}

function freeEnd({ map, reachMm }: Ends, at: Xy): MapNode | undefined {
  return nearestNode(
    map.nodes.filter((n) => n.meets),
    at,
    reachMm,
  )
}

/** Drawing begins at a free end: it is met, and what is drawn leads on from it. */
export function fromNode(node: MapNode): Partial<Picked> {
  return {
    into: '',
    across: '',
    from: node.id,
    to: '',
    start: node.at,
    end: node.at,
    ...(node.heading === undefined ? {} : { heading: node.heading }),
  }
}

/** A turnout or crossing goes into a section at a place of it, to the nearest 10 mm. */
export function intoTrack(track: MapTrack, atMm: number = track.lengthMm / 2, stepMm = 10): Partial<Picked> {
  const intoMm = Math.round(atMm / stepMm) * stepMm
  const [x, y] = pointOn(track, intoMm)
  return {
    from: '',
    into: track.name,
    intoMm,
    start: [x, y],
    heading: headingOn(track, intoMm),
    across: '',
  }
}

/** A crossing goes where two sections cross, if they do near a place, else into the section that is there. */
function intoCrossed(sections: readonly MapTrack[], at: Xy, reachMm: number): Partial<Picked> | undefined {
  const near = sections.filter((t) => nearestPlace([t], at)!.off <= reachMm)
  const crossed = crossedAt(near, at, reachMm)
  if (crossed) {
    const [first, second] = crossed
    const other = near[second.track]!
    return {
      // Exactly where the drawing has it: both must be cut at one place.
      ...intoTrack(near[first.track]!, first.atMm, 1),
      across: other.name,
      acrossMm: Math.round(second.atMm),
      acrossHeading: headingOn(other, second.atMm),
    }
  }
  const place = nearestPlace(near, at)
  return place && intoTrack(near[place.track]!, place.atMm)
}

/** Which way it diverges, when the pointer leads from the place on the section to another. */
function divergence({ start, heading }: Picked, at: Xy): Partial<Picked> {
  const off = within180(headingOf(start, at) - heading)
  const towards = Math.abs(off) <= 90 ? 'to' : 'from'
  // Seen from its points, which are at the other end.
  const isRight = towards === 'to' ? off > 0 : off < 0
  return { towards, hand: isRight ? 'right' : 'left' }
}

export function beginDraft(tool: DrawingTool, picked: Picked, ends: Ends, at: Xy): Partial<Picked> {
  if (tool === 'bus') {
    const last = picked.way.at(-1)
    const start = isSnapping.value ? snapPlace(at, 0) : at
    const goesOn = last && distance(last, at) <= ends.reachMm
    return { way: goesOn ? [...picked.way, last] : [start, start] }
  }
  const node = freeEnd(ends, at)
  if (node) return fromNode(node)
  if (tool === 'turnout' || tool === 'crossing') {
    const sections = ends.map.tracks.filter((t) => t.part === 'sections')
    const place = nearestPlace(sections, at)
    if (place && place.off <= ends.reachMm)
      return tool === 'crossing'
        ? intoCrossed(sections, at, ends.reachMm)!
        : intoTrack(sections[place.track]!, place.atMm)
  }
  const start = isSnapping.value ? snapPlace(at, 0) : at
  return { into: '', across: '', from: '', to: '', start, end: start }
}

export function moveDraft(tool: DrawingTool, picked: Picked, ends: Ends, at: Xy): Partial<Picked> {
  if (tool === 'bus') {
    const end = isSnapping.value ? snapPlace(at, 0) : at
    return { way: [...picked.way.slice(0, -1), end] }
  }
  if (tool === 'turnout' || tool === 'crossing') {
    if (picked.into !== '')
      return tool === 'crossing' || distance(picked.start, at) < ends.reachMm ? {} : divergence(picked, at)
    // In the open the drag gives its direction.
    if (picked.from !== '' || distance(picked.start, at) < ends.reachMm) return {}
    const deg = headingOf(picked.start, at)
    return { heading: within180(isSnapping.value ? Math.round(deg / 15) * 15 : Math.round(deg)) }
  }
  const node = freeEnd(ends, at)
  const isOther = node && node.id !== picked.from
  if (tool === 'section') {
    if (isOther) return { to: node.id, end: node.at }
    const line = picked.from === '' ? undefined : { start: picked.start, heading: picked.heading }
    return { to: '', end: isSnapping.value ? snapPlace(at, ends.reachMm, line) : at }
  }
  const heading = picked.from === '' ? nearestAxis(picked.start, at) : picked.heading
  if (isOther) return { to: node.id, end: node.at, heading }
  const arc = arcThrough(picked.start, heading, at)
  if (!arc || !isSnapping.value) return { to: '', end: at, heading }
  const round = roundArc(arc)
  return { to: '', end: arcFrom(picked.start, heading, round.radiusMm, round.turn).end, heading }
}

/** Length of the bus run as it is drawn. */
export function wayMm(way: readonly Xy[]): number {
  return way.slice(1).reduce((sum, p, i) => sum + distance(way[i]!, p), 0)
}

/** What is said when the pointer is let go. */
export function draftSays(tool: DrawingTool, picked: Picked): string {
  const from = picked.from || `${picked.start.map(Math.round).join(', ')} mm`
  const to = picked.to || `${picked.end.map(Math.round).join(', ')} mm`
  const next = 'look at the form, then add it.'
  const part = tool === 'crossing' && picked.isSlip ? 'slip' : tool
  switch (tool) {
    case 'section':
      return `A section of ${Math.round(distance(picked.start, picked.end))} mm, from ${from} to ${to}: ${next}`
    case 'curve': {
      const arc = arcThrough(picked.start, picked.heading, picked.end)
      if (!arc) return 'A curve must end beside the line that it leaves along.'
      const side = arc.turn < 0 ? 'left' : 'right'
      return `A curve of ${Math.round(arc.radiusMm)} mm radius, ${Math.round(Math.abs(arc.turn))} degrees to the ${side}, from ${from}: ${next}`
    }
    case 'bus':
      return `A bus run of ${Math.round(wayMm(picked.way))} mm: ${next} Drag on from its end to lengthen it.`
    case 'turnout':
    case 'crossing':
      if (tool === 'turnout' && picked.into !== '')
        return `A turnout in ${picked.into}, ${picked.intoMm} mm from its start, diverging to the ${picked.hand}: ${next}`
      if (picked.into !== '')
        return `A ${part} in ${picked.into}, ${picked.intoMm} mm from its start${picked.across === '' ? '' : `, across ${picked.across}`}: ${next}`
      return `A ${part} at ${from}: ${next}`
  }
}
