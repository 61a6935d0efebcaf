/** Marks of the map that are dragged, or moved with the arrow keys: trains, loads and vertices. */
import { news } from '../state/design.js'
import { raw, setValue } from '../state/values.js'
import type { MapStand, MapTrack } from '../worker/map-data.js'
import { type Handle, handlesOf, type Scaled } from './map-geometry.js'
import { pointOn } from './map-place.js'

/** What the arrow keys move a point by, mm. */
export const STEP_MM = 10

interface MarkProps {
  x: Scaled
  y: Scaled
  onGrab(event: PointerEvent): void
}

interface StandMarkProps extends MarkProps {
  stand: MapStand
  track: MapTrack
  atMm: number
  chosen: boolean
  onKey(event: KeyboardEvent): void
}

export function StandMark({ stand, track, atMm, chosen, x, y, onGrab, onKey }: StandMarkProps) {
  const [px, py] = pointOn(track, atMm)
  return (
    <g
      class={`stand${chosen ? ' chosen' : ''}`}
      role="button"
      tabindex={0}
      aria-label={`${stand.what} ${stand.name} on ${track.name} at ${Math.round(atMm)} mm; arrow keys move it`}
      onPointerDown={(event) => {
        event.preventDefault()
        event.stopPropagation()
        onGrab(event)
      }}
      onKeyDown={onKey}
    >
      <circle class="touch" cx={x(px)} cy={y(py)} r="24" />
      <rect x={x(px) - 12} y={y(py) - 12} width="24" height="24" rx={stand.what === 'train' ? 4 : 12} />
      <text x={x(px)} y={y(py) - 16} text-anchor="middle">
        {stand.name}
      </text>
    </g>
  )
}

interface HandleMarkProps extends MarkProps {
  handle: Handle
  at: readonly [number, number]
  onRefused(why: string): void
}

export function HandleMark({ handle, at: now, x, y, onGrab, onRefused }: HandleMarkProps) {
  return (
    <g
      class="handle"
      role="button"
      tabindex={0}
      aria-label={`${handle.name} at ${now[0]}, ${now[1]} mm; arrow keys move it`}
      onPointerDown={(event) => {
        event.preventDefault()
        onGrab(event)
      }}
      onKeyDown={(event) => {
        const by = event.shiftKey ? 10 * STEP_MM : STEP_MM
        const step: Record<string, [number, number]> = {
          ArrowLeft: [-by, 0],
          ArrowRight: [by, 0],
          ArrowUp: [0, -by],
          ArrowDown: [0, by],
        }
        const way = step[event.key]
        if (!way) return
        event.preventDefault()
        const now = handlesOf(raw.value).find((h) => h.path.join() === handle.path.join()) ?? handle
        const at = [now.at[0] + way[0], now.at[1] + way[1]]
        onRefused(setValue(handle.path, at) ?? '')
        news.value = `${handle.name} at ${at.join(', ')} mm`
      }}
    >
      <circle class="touch" cx={x(now[0])} cy={y(now[1])} r="24" />
      <circle cx={x(now[0])} cy={y(now[1])} r="10" />
    </g>
  )
}

/** Where a train or load is while it is moved. */
export function isMoved<T extends { stand: MapStand }>(stand: MapStand, by: T | undefined): T | undefined {
  return by?.stand.name === stand.name && by.stand.what === stand.what ? by : undefined
}
