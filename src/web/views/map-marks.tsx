/** What is drawn on the map and below it: labels, marks, keys of the colours. */
import type { MapLook, MapNode, MapTrack, TrackMapData } from '../worker/map-data.js'
import type { Scaled } from './map-geometry.js'
import { pointOn } from './map-place.js'
import { type Box, type LabelWish, placeLabels, type Size } from './map-view.js'

export type Layer = 'planned' | 'worst' | 'short' | 'district' | 'polarity'
/** More marks than these would hide the drawing. */
export const MARKS = 1500
const LOOKS = 4

export interface LabelsProps {
  map: TrackMapData
  layer: Layer
  lookOf(t: MapTrack): MapLook
  /** In the drawing's units. */
  fontSize: number
  x(mm: number): number
  y(mm: number): number
  size: Size
  taken: readonly Box[]
  hasTrains: boolean
}

interface NamedWish extends LabelWish {
  name: string
  figure: string
  look: 'weakest' | 'section' | 'train' | 'turnout'
}

/** Figures longer than this stay with the pointer. */
const LONGEST_FIGURE = 12

/** The place that decides, in a layer that has one. */
export function weakestOf(map: TrackMapData, layer: Layer) {
  return layer === 'planned' || layer === 'worst' || layer === 'short' ? map.weakest?.[layer] : undefined
}

/** Names and figures, the weakest place first, as far as there is room; more come with zoom. */
export function Labels({ map, layer, lookOf, fontSize, x, y, size, taken, hasTrains }: LabelsProps) {
  const place = (t: MapTrack, atMm: number): [number, number][] => {
    const [px, py] = pointOn(t, atMm)
    return [[x(px), y(py)]]
  }
  const wish = (
    look: NamedWish['look'],
    name: string,
    figure: string,
    line: [number, number][],
  ): NamedWish => ({
    look,
    name,
    figure,
    text: figure ? `${name} ${figure}` : name,
    line,
    isFar: look === 'weakest',
    // What decides is always named by its figure at least.
    ...(look === 'weakest' ? { short: figure } : {}),
  })
  const weakest = weakestOf(map, layer)
  const named = map.tracks.slice(0, MARKS)
  // Every line is in the way of labels, named or not.
  const others = named
    .filter((t) => t.part !== 'sections')
    .map((t) => wish('turnout', t.name.endsWith('.points') ? t.group : '', '', lineXy(t, x, y)))
  const wishes: NamedWish[] = [
    ...(weakest
      ? [wish('weakest', weakest.name, weakest.says, place(map.tracks[weakest.track]!, weakest.atMm))]
      : []),
    ...named
      .filter((t) => t.part === 'sections')
      .map((t) => {
        const { label } = lookOf(t)
        const figure = label && label.length <= LONGEST_FIGURE ? label : ''
        return wish('section', t.name, figure, lineXy(t, x, y))
      }),
    ...(hasTrains
      ? map.stands.flatMap((s) =>
          s.track === undefined ? [] : [wish('train', s.name, '', place(map.tracks[s.track]!, s.atMm))],
        )
      : []),
    ...others,
  ]
  return (
    <g class="labels" font-size={fontSize}>
      {placeLabels(wishes, fontSize, size, taken).map((l) => {
        const { name, figure, look, text } = wishes[l.of]!
        return (
          <g class={look}>
            {l.leader && <path d={`M${l.leader[0]} ${l.leader[1]}L${l.leader[2]} ${l.leader[3]}`} />}
            <text x={l.x} y={l.y} text-anchor="middle">
              {l.text === text && name}
              {figure && <tspan class="figure-of"> {figure}</tspan>}
            </text>
          </g>
        )
      })}
    </g>
  )
}

const lineXy = (t: MapTrack, x: Scaled, y: Scaled) => t.points.map(([a, b]): [number, number] => [x(a), y(b)])

export function NodeMark({
  node,
  chosen,
  x,
  y,
  onChoose,
}: {
  node: MapNode
  chosen: boolean
  x: Scaled
  y: Scaled
  onChoose(): void
}) {
  const { joint } = node
  const state = joint
    ? joint.gap === 'none'
      ? `no gap, joiner ${joint.joiner}`
      : `gap ${joint.gap}, joiner ${joint.joiner}`
    : 'free end'
  const cut = joint && joint.gap !== 'none'
  const name = `${joint ? `Joint ${joint.name}` : node.id}: ${state}`
  const cls = `node${cut ? ' cut' : ''}${joint ? '' : ' open'}${chosen ? ' chosen' : ''}`
  const [cx, cy] = [x(node.at[0]), y(node.at[1])]
  return (
    <rect
      class={cls}
      x={cx - (cut ? 5 : 8)}
      y={cy - (cut ? 11 : 8)}
      width={cut ? 10 : 16}
      height={cut ? 22 : 16}
      rx={joint ? 2 : 8}
      role="button"
      tabindex={0}
      aria-pressed={chosen}
      aria-label={joint ? name : `Start at ${name}`}
      onKeyDown={(event) => {
        if (event.key !== 'Enter' && event.key !== ' ') return
        event.preventDefault()
        onChoose()
      }}
    />
  )
}

export function PlaceMark({ at, x, y }: { at: readonly [number, number]; x: Scaled; y: Scaled }) {
  return <circle class="place" cx={x(at[0])} cy={y(at[1])} r="11" />
}

/** The name of its district once at every row of sections. */
export function DistrictNames({ map, x, y }: { map: TrackMapData; x: Scaled; y: Scaled }) {
  const seen = new Set<string>()
  return (
    <>
      {map.tracks.map((t) => {
        if (t.part !== 'sections' || seen.has(t.group) || seen.size > 150) return null
        seen.add(t.group)
        const [px, py] = pointOn(t, t.lengthMm / 2)
        return (
          <text x={x(px)} y={y(py) - 10} text-anchor="middle">
            {t.district}
          </text>
        )
      })}
    </>
  )
}

export function Key({ grade, says }: { grade: string; says: string }) {
  return (
    <span class={`map-key ${grade}`}>
      <svg viewBox="0 0 40 10" width="40" height="10" aria-hidden="true" class="track-map">
        <g class={`track ${grade}`}>
          <path class="line" d="M2 5H38" />
        </g>
      </svg>{' '}
      {says}
    </span>
  )
}

export function Keys({ map, layer }: { map: TrackMapData; layer: Exclude<Layer, 'district'> }) {
  const legend = map.legend[layer === 'short' ? 'short' : layer === 'polarity' ? 'polarity' : 'volt']
  return (
    <>
      {Object.entries(legend)
        .filter(([grade]) => map.tracks.some((t) => t[layer].grade === grade))
        .map(([grade, says]) => (
          <Key grade={grade} says={says} />
        ))}
    </>
  )
}

export function DistrictKeys({ map }: { map: TrackMapData }) {
  return (
    <>
      {map.districts.map((name, i) => (
        <Key grade={`d${i % LOOKS}`} says={`district ${name}`} />
      ))}
    </>
  )
}

export function ShortMark({ track, x, y }: { track: MapTrack; x: Scaled; y: Scaled }) {
  const [px, py] = pointOn(track, track.lengthMm / 2)
  return <path class="short" d={`M${x(px) + 4} ${y(py) - 16}l-10 18h8l-4 16l14 -22h-9z`} />
}

/** How a track looks in a layer. */
export function lookAt(map: TrackMapData, layer: Layer, t: MapTrack): MapLook {
  if (layer !== 'district') return t[layer]
  const grade = `d${Math.max(0, map.districts.indexOf(t.district)) % LOOKS}`
  return { grade, label: `district ${t.district}` }
}
