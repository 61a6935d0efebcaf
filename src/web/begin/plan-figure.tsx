/** The plan that the answers make, to scale, with the lowest voltage at each section and the figures that matter. */
import { marginWords } from '../parts/margin.js'
import { drawnLength } from '../views/map-place.js'
import { placeLabels } from '../views/map-view.js'
import type { Begun } from '../worker/calls.js'

type Plan = NonNullable<Begun['started']>

const MARGIN = 44
const FONT = 12
/** In the drawing's units, so that its letters stay readable where it is shown small. */
const WIDE = 760
const NARROW = 380

export function PlanFigure({ started, withTrains }: { started: Plan; withTrains: boolean }) {
  const WIDTH = innerWidth < 900 ? NARROW : WIDE
  const all = started.tracks.flatMap((t) => t.points)
  const [minX, maxX] = [Math.min(...all.map((p) => p[0])), Math.max(...all.map((p) => p[0]))]
  const [minY, maxY] = [Math.min(...all.map((p) => p[1])), Math.max(...all.map((p) => p[1]))]
  const scale = (WIDTH - 2 * MARGIN) / Math.max(1, maxX - minX)
  const height = (maxY - minY) * scale + 2 * MARGIN + 22
  const x = (mm: number) => MARGIN + (mm - minX) * scale
  const y = (mm: number) => MARGIN + (mm - minY) * scale
  const size = { width: WIDTH, height }
  const labels = placeLabels(
    started.tracks.map((t) => ({
      text: t.label === '' ? t.name : `${t.name} ${t.label}`,
      line: t.points.map(([a, b]): [number, number] => [x(a), y(b)]),
    })),
    FONT,
    size,
  )
  const metres = (mm: number) => `${(mm / 1000).toFixed(2)} m`
  const base = height - 14
  return (
    <figure class="begin-plan">
      <figcaption>
        <b>The plan</b>{' '}
        <span class="quiet">
          {metres(started.trackMm)} of track, {started.feeders.length} feeders; lowest voltage with trains at
          their worst places
        </span>
      </figcaption>
      <svg viewBox={`0 0 ${WIDTH} ${height.toFixed(0)}`} role="img" aria-label="Plan of the railroad">
        {started.tracks.map((t) => (
          <path
            class="begin-rail"
            d={t.points
              .map(([a, b], i) => `${i === 0 ? 'M' : 'L'}${x(a).toFixed(1)} ${y(b).toFixed(1)}`)
              .join('')}
          />
        ))}
        {started.feeders.map(([a, b]) => (
          <rect
            class="begin-feeder"
            x={x(a) - 4}
            y={y(b) - 4}
            width="8"
            height="8"
            transform={`rotate(45 ${x(a).toFixed(1)} ${y(b).toFixed(1)})`}
          />
        ))}
        {withTrains &&
          started.trains.map((train) => {
            const t = started.tracks[train.track]!
            const [a, b] = along(t.points, 0.5)
            return (
              <g class="begin-train">
                <circle cx={x(a)} cy={y(b)} r="8" />
                <text x={x(a)} y={y(b) + 20} text-anchor="middle" font-size={FONT}>
                  {train.name}
                </text>
              </g>
            )
          })}
        <g class="begin-labels" font-size={FONT}>
          {labels.map((l) => (
            <text x={l.x} y={l.y} text-anchor="middle">
              {l.text}
            </text>
          ))}
        </g>
        <path class="begin-size" d={`M${x(minX)} ${base}H${x(maxX)}`} />
        <text
          class="begin-size-text"
          x={(x(minX) + x(maxX)) / 2}
          y={base + 4}
          text-anchor="middle"
          font-size={FONT}
        >
          {metres(maxX - minX)}
        </text>
      </svg>
      <dl class="begin-figures">
        {started.figures.map((f) => (
          <div>
            <dt class="quiet">{f.label}</dt>
            <dd>
              <b>{f.value}</b>{' '}
              {f.margin === undefined ? (
                <span class="quiet">calculated only</span>
              ) : (
                <span class="met">✓ {marginWords(f.margin)}</span>
              )}
            </dd>
          </div>
        ))}
      </dl>
    </figure>
  )
}

/** A place on a drawn line, by its share of the way. */
function along(points: readonly [number, number][], share: number): [number, number] {
  let left = drawnLength({ points } as Parameters<typeof drawnLength>[0]) * share
  for (let i = 1; i < points.length; i++) {
    const [a, b] = [points[i - 1]!, points[i]!]
    const size = Math.hypot(b[0] - a[0], b[1] - a[1])
    if (left <= size || i === points.length - 1) {
      const part = size > 0 ? Math.min(1, left / size) : 0
      return [a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part]
    }
    left -= size
  }
  return points[0]!
}
