/** What lies on the map beside the rails: feeders, gaps, parked trains, the weakest place, and a scale. */
import type { Signal } from '@preact/signals'
import type { MapNode, TrackMapData } from '../worker/map-data.js'
import type { Scaled } from './map-geometry.js'
import { Labels, type Layer, lookAt, MARKS, weakestOf } from './map-marks.js'
import { headingOn, pointOn } from './map-place.js'
import type { Tool } from './map-tools.js'
import { type MapView, outside, type Size } from './map-view.js'

interface SceneryProps {
  map: TrackMapData
  layer: Layer
  tool: Tool
  view: MapView
  /** So many of the drawing's units are one pixel on the screen. */
  px: number
  x: Scaled
  y: Scaled
  size: Size
}

/** Up to this width marks are smaller. */
const NARROW_PX = 600
/** Of the labels, on the screen. */
const FONT_PX = 11.5

/** None of it takes the pointer: tracks are chosen through it. */
export function Scenery({ map, layer, tool, view, px, x, y, size }: SceneryProps) {
  const [hasFeeders, hasGaps] = [tool !== 'feeder', tool !== 'joint']
  // In the worst arrangement trains are not where they are parked.
  const hasTrains = layer !== 'worst' && tool !== 'stand'
  const bottom = view.y + size.height / view.zoom
  const weakest = weakestOf(map, layer)
  const at = weakest && pointOn(map.tracks[weakest.track]!, weakest.atMm)
  return (
    <g class="scenery" stroke-width={1.5 * px}>
      {hasGaps && map.nodes.slice(0, MARKS).map((n) => <GapMark node={n} px={px} x={x} y={y} />)}
      {hasFeeders &&
        map.feeders.slice(0, MARKS).map((f) => {
          const r = (size.width / px < NARROW_PX ? 3 : 4.5) * px
          return (
            <path class="feeder" d={`M${x(f.at[0]) - r} ${y(f.at[1])}l${r} ${-r}l${r} ${r}l${-r} ${r}z`}>
              <title>{`feeder ${f.name}, from bus run ${f.bus}`}</title>
            </path>
          )
        })}
      {hasTrains &&
        map.stands.slice(0, MARKS).map((s) => {
          if (s.track === undefined || s.what !== 'train') return null
          const t = map.tracks[s.track]!
          const [cx, cy] = pointOn(t, s.atMm)
          return (
            <rect
              class="parked"
              x={-11 * px}
              y={-4.5 * px}
              width={22 * px}
              height={9 * px}
              rx={2 * px}
              transform={`translate(${x(cx)} ${y(cy)}) rotate(${headingOn(t, s.atMm)})`}
            />
          )
        })}
      {at && <circle class="weakest" cx={x(at[0])} cy={y(at[1])} r={10 * px} stroke-width={2.5 * px} />}
      <Labels
        map={map}
        layer={layer}
        lookOf={(t) => lookAt(map, layer, t)}
        fontSize={FONT_PX * px}
        x={x}
        y={y}
        size={size}
        taken={[
          ...outside(view, size),
          { left: view.x, right: view.x + SCALE_ROOM_PX * px, top: bottom - SCALE_HIGH_PX * px, bottom },
        ]}
        hasTrains={hasTrains}
      />
    </g>
  )
}

function GapMark({ node, px, x, y }: { node: MapNode; px: number; x: Scaled; y: Scaled }) {
  const { joint, at, heading } = node
  if (!joint || joint.gap === 'none') return null
  const bar = (by: number) => `M${by * px} ${-8 * px}v${16 * px}`
  return (
    <path
      class="gap"
      stroke-width={2.5 * px}
      d={joint.gap === 'both' ? bar(-3) + bar(3) : bar(0)}
      transform={`translate(${x(at[0])} ${y(at[1])}) rotate(${heading ?? 0})`}
    />
  )
}

const ROUND_MM = [100, 200, 500, 1000, 2000, 5000, 10_000, 20_000]
const SCALE_PX = 140
/** With its figure, px. */
const [SCALE_ROOM_PX, SCALE_HIGH_PX] = [200, 26]

/** How long a metre is, in a corner of what is on screen, whatever moves under it. @param perMm pixels at zoom 1. */
export function ScaleBar({ perMm, live }: { perMm: number; live: Signal<MapView> }) {
  const now = perMm * live.value.zoom
  const mm = ROUND_MM.findLast((v) => v * now <= SCALE_PX)
  if (mm === undefined) return null
  return (
    <svg class="scale-bar" width={SCALE_ROOM_PX} height={SCALE_HIGH_PX} aria-hidden="true">
      <path d={`M14 10v8M14 14h${mm * now}m0 -4v8`} />
      <text x={20 + mm * now} y="18">
        {mm >= 1000 ? `${mm / 1000} m` : `${mm} mm`}
      </text>
    </svg>
  )
}

/** What the marks mean, in the key below the map. */
export function MarkKeys({ map, layer }: { map: TrackMapData; layer: Layer }) {
  const hasGap = map.nodes.some((n) => n.joint && n.joint.gap !== 'none')
  const hasTrain = layer !== 'worst' && map.stands.some((s) => s.what === 'train' && s.track !== undefined)
  const keys: [boolean, string, string, string][] = [
    [map.feeders.length > 0, 'feeder', 'M5 5l5 -5l5 5l-5 5z', 'feeder'],
    [hasGap, 'gap', 'M8 0v10M13 0v10', 'gap'],
    [hasTrain, 'parked', 'M2 2h16v7h-16z', 'parked train'],
  ]
  return (
    <>
      {keys.map(([isThere, look, d, says]) =>
        isThere ? (
          <span class="map-key">
            <svg viewBox="-1 -1 22 12" width="22" height="12" aria-hidden="true" class="track-map mark">
              <g class="scenery" stroke-width="1.5">
                <path class={look} d={d} />
              </g>
            </svg>{' '}
            {says}
          </span>
        ) : null,
      )}
    </>
  )
}
