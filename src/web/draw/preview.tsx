/** What is being drawn, dashed on the map, and the grid it snaps to. */
import type { Picked } from '../views/map-fields.js'
import type { Bounds, Scaled } from '../views/map-geometry.js'
import { type DrawingTool, isSnapping } from './draft.js'
import {
  arcFrom,
  arcLine,
  arcThrough,
  crossingLegs,
  turnoutAt,
  turnoutLegs,
  USUAL_CURVE,
  type Xy,
} from './geometry.js'

interface PreviewProps {
  tool: DrawingTool
  picked: Picked
  x: Scaled
  y: Scaled
}

export function Preview({ tool, picked, x, y }: PreviewProps) {
  const d = linesOf(tool, picked)
    .map((line) => line.map(([a, b], i) => `${i === 0 ? 'M' : 'L'}${x(a)} ${y(b)}`).join(''))
    .join('')
  return d === '' ? null : <path class="drawn" d={d} />
}

function linesOf(tool: DrawingTool, picked: Picked): Xy[][] {
  const { start, end, heading, partMm, port, hand, way, across, acrossHeading } = picked
  switch (tool) {
    case 'section':
      return [[start, end]]
    case 'curve': {
      const { radiusMm, turn } = arcThrough(start, heading, end) ?? USUAL_CURVE
      return [arcLine(arcFrom(start, heading, radiusMm, turn))]
    }
    case 'turnout': {
      if (picked.into !== '') {
        const along = picked.towards === 'to' ? heading : heading + 180
        return turnoutLegs(start, along, partMm, hand).map((leg) => [leg, start])
      }
      const { at, along } = turnoutAt(start, heading, partMm, port, hand)
      return turnoutLegs(at, along, partMm, hand).map((leg) => [leg, at])
    }
    case 'crossing': {
      // Its ways are those of the sections that cross.
      if (across !== '')
        return [heading, acrossHeading].flatMap((along) =>
          crossingLegs(start, along, partMm)
            .slice(0, 2)
            .map((leg) => [leg, start]),
        )
      if (picked.into !== '') return crossingLegs(start, heading, partMm).map((leg) => [leg, start])
      const { at } = turnoutAt(start, heading, partMm, 'points', hand)
      return crossingLegs(at, heading, partMm).map((leg) => [leg, at])
    }
    case 'bus':
      return way.length > 1 ? [way] : []
  }
}

const GRID_MM = 100
/** Lines closer than this would hide the drawing. */
const LEAST_PX = 7

export function Grid({ bounds: { minX, minY, maxX, maxY }, x, y }: { bounds: Bounds; x: Scaled; y: Scaled }) {
  if (!isSnapping.value || x(GRID_MM) - x(0) < LEAST_PX) return null
  let d = ''
  for (let mm = Math.ceil(minX / GRID_MM) * GRID_MM; mm <= maxX; mm += GRID_MM)
    d += `M${x(mm)} ${y(minY)}V${y(maxY)}`
  for (let mm = Math.ceil(minY / GRID_MM) * GRID_MM; mm <= maxY; mm += GRID_MM)
    d += `M${x(minX)} ${y(mm)}H${x(maxX)}`
  return <path class="grid" d={d} />
}
