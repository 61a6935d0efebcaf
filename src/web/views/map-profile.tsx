/** The voltage along the rails, track by track and district by district: how near each comes to the least it must keep. */
import { useMemo, useState } from 'preact/hooks'
import { niceTicks } from '../../plot/index.js'
import { formatNumber } from '../../units/index.js'
import { useSize } from '../parts/size.js'
import type { MapTrack, TrackMapData } from '../worker/map-data.js'

const HIGH = 118
const [TOP, BOTTOM] = [20, 22]
const LEFT = 44
/** Room for the names of the lines. */
const RIGHT = 52
/** Between districts, px. */
const APART = 6
/** Of a letter of the figure's text, px. */
const LETTER = 6.4

interface ProfileProps {
  map: TrackMapData
  layer: 'planned' | 'worst'
  chosen: string | undefined
  choose(name: string): void
}

/** A track with where it begins and ends on the axis, mm of rails and px of gaps before it. */
interface Place {
  track: MapTrack
  fromMm: number
  gaps: number
}

export function MapProfile({ map, layer, chosen, choose }: ProfileProps) {
  const [box, { width }] = useSize<HTMLDivElement>()
  const [pointed, setPointed] = useState<Place | undefined>(undefined)
  const { places, lengthMm, districts } = useMemo(() => placesOf(map), [map])
  const perMm = (width - LEFT - RIGHT - APART * (districts - 1)) / Math.max(1, lengthMm)
  const x = (p: Place, share = 0) => LEFT + (p.fromMm + share * p.track.lengthMm) * perMm + p.gaps * APART
  const volts = map.tracks.flatMap(({ planned, worst }) =>
    [planned.volt, planned.leastVolt, ...(layer === 'worst' ? [worst.volt, worst.leastVolt] : [])].filter(
      (v): v is number => v !== undefined,
    ),
  )
  if (volts.length === 0) return null
  const [least, most] = [Math.min(...volts), Math.max(...volts)]
  const room = Math.max(0.2, 0.08 * (most - least))
  const y = (volt: number) => TOP + ((most + room - volt) / (most - least + 2 * room)) * (HIGH - TOP - BOTTOM)
  const line = (value: (t: MapTrack) => number | undefined) => stepsOf(places, value, x, y)
  const lines = [
    ...(layer === 'worst'
      ? [{ look: 'parked-volt', name: 'parked', of: (t: MapTrack) => t.planned.volt }]
      : []),
    { look: 'volt', name: layer === 'worst' ? 'worst' : 'parked', of: (t: MapTrack) => t[layer].volt },
    { look: 'least-volt', name: 'limit', of: (t: MapTrack) => t[layer].leastVolt },
  ]
  const ends = namesAtEnd(
    lines.map(({ name, look, of }) => ({ name, look, at: y(of(places.at(-1)!.track) ?? least) })),
  )
  const under = (event: MouseEvent): Place | undefined => {
    const at = event.clientX - (event.currentTarget as Element).getBoundingClientRect().left
    return places.find((p) => at >= x(p) && at < x(p, 1))
  }
  const shown = pointed ?? places.find((p) => p.track.name === chosen)
  return (
    <div class="map-profile">
      <p>
        <strong>Along the rails</strong>{' '}
        <span class="unseen">
          {formatNumber(least, 3)} to {formatNumber(most, 3)} V; each track of the map says its own.
        </span>{' '}
        <span class="quiet" aria-live="polite">
          {shown ? wordsOf(shown.track, layer) : 'lowest voltage of each track, lengths to scale'}
        </span>
      </p>
      <div ref={box}>
        {width > 0 && (
          <svg
            width={width}
            height={HIGH}
            aria-hidden="true"
            onPointerMove={(event) => setPointed(under(event))}
            onPointerLeave={() => setPointed(undefined)}
            onClick={(event) => {
              const p = under(event)
              if (p) choose(p.track.name)
            }}
          >
            {niceTicks(least - room, most + room, 3).map((t, i, all) => (
              <>
                <line class="grid" x1={LEFT} x2={width - RIGHT} y1={y(t)} y2={y(t)} />
                <text class="tick" x={LEFT - 6} y={y(t) + 4} text-anchor="end">
                  {formatNumber(t, 4)}
                  {i === all.length - 1 ? ' V' : ''}
                </text>
              </>
            ))}
            {shown && (
              <rect
                class="here"
                x={x(shown)}
                width={Math.max(2, x(shown, 1) - x(shown))}
                y={TOP}
                height={HIGH - TOP - BOTTOM}
              />
            )}
            {lines.map(({ look, of }) => (
              <path class={look} d={line(of)} />
            ))}
            {ends.map(({ name, look, at }) => (
              <text class={look} x={width - RIGHT + 5} y={at + 4}>
                {name}
              </text>
            ))}
            {labelsOf(places, (p) => p.track.district, x, districts > 1 ? TOP - 6 : undefined)}
            {labelsOf(
              places,
              (p) => (p.track.part === 'sections' ? p.track.group : p.track.part),
              x,
              HIGH - 6,
            )}
          </svg>
        )}
      </div>
    </div>
  )
}

function placesOf({ tracks }: TrackMapData): { places: Place[]; lengthMm: number; districts: number } {
  const byDistrict = new Map<string, MapTrack[]>()
  for (const t of tracks) byDistrict.set(t.district, [...(byDistrict.get(t.district) ?? []), t])
  const places: Place[] = []
  let lengthMm = 0
  let gaps = 0
  for (const list of byDistrict.values()) {
    for (const track of list) {
      places.push({ track, fromMm: lengthMm, gaps })
      lengthMm += track.lengthMm
    }
    gaps++
  }
  return { places, lengthMm, districts: gaps }
}

/** A level for each track, joined where one follows the other. */
function stepsOf(
  places: readonly Place[],
  value: (t: MapTrack) => number | undefined,
  x: (p: Place, share?: number) => number,
  y: (volt: number) => number,
): string {
  let d = ''
  let before: Place | undefined
  for (const p of places) {
    const volt = value(p.track)
    if (volt === undefined) {
      before = undefined
      continue
    }
    const isNext = before !== undefined && before.gaps === p.gaps
    d += `${isNext ? 'V' : `M${x(p).toFixed(1)} `}${y(volt).toFixed(1)}H${x(p, 1).toFixed(1)}`
    before = p
  }
  return d
}

/** Names beside the ends of the lines, moved apart where two would touch. */
function namesAtEnd<T extends { at: number }>(names: T[]): T[] {
  const sorted = [...names].sort((a, b) => a.at - b.at)
  for (const [i, n] of sorted.entries()) if (i > 0) n.at = Math.max(n.at, sorted[i - 1]!.at + 13)
  return sorted
}

/** One name for neighbours of one kind, where there is room for it. */
function labelsOf(
  places: readonly Place[],
  nameOf: (p: Place) => string,
  x: (p: Place, share?: number) => number,
  y: number | undefined,
) {
  if (y === undefined) return null
  const runs: { name: string; from: number; to: number }[] = []
  for (const p of places) {
    const last = runs.at(-1)
    if (last?.name === nameOf(p) && Math.abs(last.to - x(p)) < 0.1) last.to = x(p, 1)
    else runs.push({ name: nameOf(p), from: x(p), to: x(p, 1) })
  }
  return runs
    .filter(({ name, from, to }) => to - from > name.length * LETTER + 6)
    .map(({ name, from, to }) => (
      <text class="tick" x={(from + to) / 2} y={y} text-anchor="middle">
        {name}
      </text>
    ))
}

function wordsOf({ name, planned, worst }: MapTrack, layer: 'planned' | 'worst'): string {
  const volt = (value: number | undefined) => `${formatNumber(value ?? Number.NaN, 3)} V`
  const { leastVolt } = layer === 'worst' ? worst : planned
  const says = [
    ...(layer === 'worst' && worst.volt !== undefined ? [`at worst ${volt(worst.volt)}`] : []),
    ...(planned.volt !== undefined ? [`with trains as parked ${volt(planned.volt)}`] : []),
    ...(leastVolt !== undefined ? [`must keep ${volt(leastVolt)}`] : []),
  ]
  return `${name}: ${says.join(', ')}`
}
