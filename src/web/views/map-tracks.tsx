/** The tracks themselves, each to choose. A large railroad has thousands: they are made anew only where something of them changed. */
import { memo } from 'preact/compat'
import type { MapTrack, TrackMapData } from '../worker/map-data.js'
import type { Picked } from './map-fields.js'
import { type Layer, lookAt } from './map-marks.js'
import { TOOLS, type Tool } from './map-tools.js'

interface TracksProps {
  map: TrackMapData
  /** Of each track, as drawn. */
  lines: readonly string[]
  layer: Layer
  tool: Tool
  pressed: ReadonlySet<string>
  /** The one that the tab key comes to. */
  focus: number
  /** Stays the same object. */
  on: {
    current: {
      focus(i: number): void
      touch(t: MapTrack, event: MouseEvent): void
      key(event: KeyboardEvent, i: number, t: MapTrack): void
    }
  }
}

export const Tracks = memo(function Tracks({ map, lines, layer, tool, pressed, focus, on }: TracksProps) {
  return (
    <>
      {map.tracks.map((t, i) => {
        const look = lookAt(map, layer, t)
        const isPressed = pressed.has(t.name)
        return (
          <g
            key={t.name + t.points[0]}
            class={`track ${look.grade}${isPressed ? (tool === 'district' ? ' picked chosen' : ' chosen') : ''}`}
            role="button"
            tabindex={i === Math.min(focus, map.tracks.length - 1) ? 0 : -1}
            aria-pressed={isPressed}
            aria-label={`${TOOLS[tool].does} ${t.name}: ${look.label || 'no figure'}`}
            onFocus={() => on.current.focus(i)}
            onClick={(event) => on.current.touch(t, event)}
            onKeyDown={(event) => on.current.key(event, i, t)}
          >
            <path class="reach" d={lines[i]!} />
            <path class="line" d={lines[i]!} />
          </g>
        )
      })}
    </>
  )
})

/** Names of the tracks that are chosen, for what the tool does. */
export function pressedTracks(
  { tracks }: TrackMapData,
  tool: Tool,
  { groups, track, into, across }: Picked,
  chosen: string | undefined,
): ReadonlySet<string> {
  if (tool === 'district') return new Set(tracks.filter((t) => groups.includes(t.group)).map((t) => t.name))
  if (tool === 'feeder' || tool === 'stand' || tool === 'ringing') return new Set([track])
  if (tool === 'turnout') return new Set([into])
  if (tool === 'crossing') return new Set(into === '' ? [into] : [into, across])
  return new Set(chosen === undefined ? [] : [chosen])
}
