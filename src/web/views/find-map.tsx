/** The railroad with the places of the next reading, of readings that were taken, and of the likeliest faults. */
import { useRef, useState } from 'preact/hooks'
import type { FindPlace, FindPlaces } from '../worker/find-calls.js'

const WIDTH = 900
const MARGIN = 36
/** Marks keep so far from each other, in the drawing's units. */
const APART = 22

export interface MapMark {
  place: string
  kind: 'next' | 'taken' | 'suspect'
  label: string
}

const SAYS = {
  next: 'Next reading at',
  taken: 'Reading taken at',
  suspect: 'Likely fault at',
} as const satisfies Record<MapMark['kind'], string>

interface FindMapProps {
  places: FindPlaces
  marks: readonly MapMark[]
  chosen: string
  choose(place: string): void
}

export function FindMap({ places, marks, chosen, choose }: FindMapProps) {
  const svg = useRef<SVGSVGElement>(null)
  const [focus, setFocus] = useState(0)
  const { tracks } = places
  const all = tracks.flatMap((t) => t.points)
  if (all.length === 0) return null
  const [minX, maxX] = [Math.min(...all.map((p) => p[0])), Math.max(...all.map((p) => p[0]))]
  const [minY, maxY] = [Math.min(...all.map((p) => p[1])), Math.max(...all.map((p) => p[1]))]
  const scale = (WIDTH - 2 * MARGIN) / Math.max(1, maxX - minX)
  const height = Math.max(120, (maxY - minY) * scale + 2 * MARGIN)
  const at = ([x, y]: readonly [number, number]): [number, number] => [
    MARGIN + (x - minX) * scale,
    MARGIN + (y - minY) * scale,
  ]
  const line = (points: readonly [number, number][]) =>
    `M${points
      .map((p) =>
        at(p)
          .map((v) => v.toFixed(1))
          .join(' '),
      )
      .join('L')}`
  const onKey = (event: KeyboardEvent, i: number, place: string) => {
    if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault()
      choose(place)
      return
    }
    const last = tracks.length - 1
    const to: Record<string, number> = {
      ArrowRight: Math.min(last, i + 1),
      ArrowDown: Math.min(last, i + 1),
      ArrowLeft: Math.max(0, i - 1),
      ArrowUp: Math.max(0, i - 1),
      Home: 0,
      End: last,
    }
    const next = to[event.key]
    if (next === undefined) return
    event.preventDefault()
    setFocus(next)
    svg.current!.querySelectorAll<SVGGElement>('g.track')[next]?.focus()
  }
  const known = new Map(places.places.map((p) => [p.text, p]))
  return (
    <div class="wide" tabIndex={0} role="region" aria-label="Map of the railroad">
      <svg
        ref={svg}
        class="track-map find-map"
        viewBox={`0 0 ${WIDTH} ${height.toFixed(0)}`}
        role="group"
        aria-label="Tracks to read at, with the next reading, readings taken and likely faults"
      >
        {tracks.map((t, i) => {
          const place = `track ${t.name}`
          return (
            <g
              key={`${t.name} ${i}`}
              class={`track plain${chosen === place ? ' chosen' : ''}`}
              role="button"
              tabindex={i === Math.min(focus, tracks.length - 1) ? 0 : -1}
              aria-pressed={chosen === place}
              aria-label={`Read at ${place}`}
              onFocus={() => setFocus(i)}
              onClick={() => choose(place)}
              onKeyDown={(event) => onKey(event, i, place)}
            >
              <path class="reach" d={line(t.points)} />
              <path class="line" d={line(t.points)} />
            </g>
          )
        })}
        {spread(marks, known, at).map(({ mark, x, y, own }) => (
          <g class={`find-mark ${mark.kind}`}>
            <title>{`${SAYS[mark.kind]} ${mark.place}`}</title>
            <path
              class="lead"
              d={`M${own[0].toFixed(1)} ${own[1].toFixed(1)}L${x.toFixed(1)} ${y.toFixed(1)}`}
            />
            {mark.kind === 'suspect' ? (
              <rect x={x - 9} y={y - 9} width="18" height="18" rx="3" />
            ) : (
              <circle cx={x} cy={y} r={mark.kind === 'next' ? 11 : 8} />
            )}
            <text x={x} y={y + 4.5}>
              {mark.label}
            </text>
          </g>
        ))}
      </svg>
    </div>
  )
}

/** Marks beside their places, none on another: each goes round its own place until it is free. */
function spread(
  marks: readonly MapMark[],
  known: ReadonlyMap<string, FindPlace>,
  at: (p: readonly [number, number]) => [number, number],
) {
  const set: [number, number][] = []
  return marks.flatMap((mark) => {
    const place = known.get(mark.place)?.at
    if (!place) return []
    const own = at(place)
    const tries = [1, 2, 3].flatMap((ring) =>
      Array.from({ length: 8 }, (_, i): [number, number] => {
        const angle = (i * Math.PI) / 4 - Math.PI / 2
        return [own[0] + ring * APART * Math.cos(angle), own[1] + ring * APART * Math.sin(angle)]
      }),
    )
    const isFree = ([x, y]: [number, number]) =>
      x > 12 && y > 12 && x < WIDTH - 12 && set.every((s) => Math.hypot(s[0] - x, s[1] - y) >= APART)
    const [x, y] = tries.find(isFree) ?? own
    set.push([x, y])
    return [{ mark, x, y, own }]
  })
}
