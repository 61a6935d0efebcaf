/** The railroad to touch: choose a section to short it, drag the points it is drawn by; every edit goes to the file. */
import { useRef, useState } from 'preact/hooks'
import { raw, setValue } from '../state/design.js'
import type { MapTrack, TrackMapData } from '../worker/calls.js'

type Shown = 'planned' | 'worst' | 'short'

const SHOWN: Record<Shown, string> = {
  planned: 'Volts, trains where they stand',
  worst: 'Volts, where they hurt most',
  short: 'What a short draws',
}

const WIDTH = 1000
const MARGIN = 40
/** What the arrow keys move a point by, mm. */
const STEP_MM = 10

interface Handle {
  path: (string | number)[]
  name: string
  at: [number, number]
}

export function TrackMap({ map }: { map: TrackMapData }) {
  const [shown, setShown] = useState<Shown>('planned')
  const [chosen, setChosen] = useState<string | undefined>(undefined)
  const [drag, setDrag] = useState<Handle | undefined>(undefined)
  const [moving, setMoving] = useState(false)
  const svg = useRef<SVGSVGElement>(null)
  const all = map.tracks.flatMap((t) => t.points)
  const [minX, maxX] = bounds(all.map((p) => p[0]))
  const [minY, maxY] = bounds(all.map((p) => p[1]))
  const scale = (WIDTH - 2 * MARGIN) / Math.max(1, maxX - minX)
  const height = (maxY - minY) * scale + 2 * MARGIN
  const x = (mm: number) => MARGIN + (mm - minX) * scale
  const y = (mm: number) => MARGIN + (mm - minY) * scale
  const track = map.tracks.find((t) => t.name === chosen)
  const handles = moving ? handlesOf(raw.value) : []

  const mmAt = (event: PointerEvent): [number, number] => {
    const box = svg.current!.getBoundingClientRect()
    const px = ((event.clientX - box.left) / box.width) * WIDTH
    const py = ((event.clientY - box.top) / box.height) * height
    return [Math.round((px - MARGIN) / scale + minX), Math.round((py - MARGIN) / scale + minY)]
  }
  return (
    <section aria-labelledby="track-map">
      <h3 id="track-map">The railroad</h3>
      <div class="switch" role="group" aria-label="The map shows">
        {(Object.keys(SHOWN) as Shown[]).map((key) => (
          <button type="button" aria-pressed={shown === key} onClick={() => setShown(key)}>
            {SHOWN[key]}
          </button>
        ))}
        <button type="button" aria-pressed={moving} onClick={() => setMoving(!moving)}>
          Move its points
        </button>
      </div>
      <div class="wide" tabIndex={0} role="region" aria-label="Map of the railroad">
        <svg
          ref={svg}
          class="track-map"
          viewBox={`0 0 ${WIDTH} ${height}`}
          role="group"
          aria-label={SHOWN[shown]}
          onPointerMove={(event) => {
            if (drag) setDrag({ ...drag, at: mmAt(event) })
          }}
          onPointerUp={() => {
            if (!drag) return
            move(drag)
            setDrag(undefined)
          }}
        >
          {map.tracks.map((t) => (
            <g
              key={t.name}
              class={`track ${t[shown].grade}${t.name === chosen ? ' chosen' : ''}`}
              role="button"
              tabindex={0}
              aria-pressed={t.name === chosen}
              aria-label={`Short ${t.name}: ${t[shown].label || 'no figure'}`}
              onClick={() => setChosen(t.name === chosen ? undefined : t.name)}
              onKeyDown={(event) => {
                if (event.key !== 'Enter' && event.key !== ' ') return
                event.preventDefault()
                setChosen(t.name === chosen ? undefined : t.name)
              }}
            >
              <path class="reach" d={lineOf(t, x, y)} />
              <path class="line" d={lineOf(t, x, y)} />
            </g>
          ))}
          {track && <ShortMark track={track} x={x} y={y} />}
          {handles.map((handle) => {
            const now = drag && drag.path.join() === handle.path.join() ? drag.at : handle.at
            return (
              <circle
                key={handle.path.join()}
                class="handle"
                cx={x(now[0])}
                cy={y(now[1])}
                r="8"
                role="button"
                tabindex={0}
                aria-label={`${handle.name} at ${now[0]}, ${now[1]} mm; arrow keys move it`}
                onPointerDown={(event) => {
                  event.preventDefault()
                  svg.current!.setPointerCapture(event.pointerId)
                  setDrag(handle)
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
                  move({ ...handle, at: [handle.at[0] + way[0], handle.at[1] + way[1]] })
                }}
              />
            )
          })}
        </svg>
      </div>
      <p class="quiet">
        {Object.entries(shown === 'short' ? map.legend.short : map.legend.volt)
          .filter(([grade]) => map.tracks.some((t) => t[shown].grade === grade))
          .map(([grade, says]) => (
            <span class={`key ${grade}`}>
              <svg viewBox="0 0 40 10" width="40" height="10" aria-hidden="true" class="track-map">
                <g class={`track ${grade}`}>
                  <path class="line" d="M2 5H38" />
                </g>
              </svg>{' '}
              {says}
            </span>
          ))}
        {moving
          ? 'Drag a point, or move it with the arrow keys. The drawing changes; lengths stay as they are written.'
          : 'Choose a section to see what a short there would do.'}
      </p>
      {track && (
        <p class="card" role="status">
          {track.says} Volts on it: {track.planned.label} with the trains where they stand
          {track.worst.label ? `, ${track.worst.label} where they hurt most` : ''}.
        </p>
      )}
    </section>
  )
}

function ShortMark({
  track,
  x,
  y,
}: {
  track: MapTrack
  x: (mm: number) => number
  y: (mm: number) => number
}) {
  const middle = track.points[Math.floor(track.points.length / 2)]!
  const before = track.points[Math.max(0, Math.floor(track.points.length / 2) - 1)]!
  const cx = x((middle[0] + before[0]) / 2)
  const cy = y((middle[1] + before[1]) / 2)
  return <path class="short" d={`M${cx + 4} ${cy - 16}l-10 18h8l-4 16l14 -22h-9z`} />
}

function move(handle: Handle): void {
  setValue([...handle.path, 0], handle.at[0])
  setValue([...handle.path, 1], handle.at[1])
}

/** Points of sections and places of turnouts that the file gives. */
function handlesOf(data: unknown): Handle[] {
  const track = (data as { track?: Record<string, Record<string, unknown>> } | undefined)?.track ?? {}
  const list: Handle[] = []
  const isPoint = (p: unknown): p is [number, number] =>
    Array.isArray(p) && p.length === 2 && p.every((n) => typeof n === 'number')
  for (const [name, section] of Object.entries(track['sections'] ?? {})) {
    const points = (section as { points?: unknown } | null)?.points
    if (!Array.isArray(points)) continue
    points.forEach((p, i) => {
      if (isPoint(p))
        list.push({
          path: ['track', 'sections', name, 'points', i],
          name: `Point ${i + 1} of ${name}`,
          at: p,
        })
    })
  }
  for (const part of ['turnouts', 'crossings', 'turntables']) {
    for (const [name, one] of Object.entries(track[part] ?? {})) {
      const at = (one as { at?: unknown } | null)?.at
      if (isPoint(at)) list.push({ path: ['track', part, name, 'at'], name, at })
    }
  }
  return list
}

function lineOf(t: MapTrack, x: (mm: number) => number, y: (mm: number) => number): string {
  return t.points.map(([a, b], i) => `${i === 0 ? 'M' : 'L'}${x(a).toFixed(1)} ${y(b).toFixed(1)}`).join('')
}

function bounds(values: number[]): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const v of values) {
    if (v < low) low = v
    if (v > high) high = v
  }
  return low <= high ? [low, high] : [0, 1]
}
