/** The windows of the half-bits, and what the design, the firmware and the captures each make of them. */
import { useRef } from 'preact/hooks'
import { isShownCell, ORIGINS, type Row, rowName, valueText } from '../../proof/index.js'
import { formatNumber } from '../../units/index.js'
import { classOf, Sign } from '../parts/margin.js'
import { pageSvg } from '../parts/page-svg.js'
import { TakeFigure } from '../parts/take-figure.js'
import { lastValid, standings } from '../state/consequences.js'

const DRAWN = ['one-half', 'one-difference', 'zero-half'] as const

export function Windows({ output }: { output: string }) {
  const rows = standings.value.controller.rows.filter(
    (row) => DRAWN.some((id) => id === row.clause) && (row.about === undefined || row.about === output),
  )
  return (
    <section aria-labelledby="windows">
      <h3 id="windows">Windows of the half-bits</h3>
      <div class="windows">
        {rows.map((row) => (
          <Window key={rowName(row)} row={row} />
        ))}
      </div>
    </section>
  )
}

const WIDTH = 520
const LEFT = 92
const RIGHT = 16
/** Room that the longest verdict takes. */
const VERDICT = 66

function Window({ row }: { row: Row }) {
  const drawing = useRef<SVGSVGElement>(null)
  const [min, max] = limitsOf(row)
  const shownCells = ORIGINS.flatMap((origin) => {
    const cell = row.cells[origin]
    return isShownCell(cell) ? [{ origin, cell }] : []
  })
  const values = shownCells.flatMap(({ cell }) => cell.evidence.map((e) => e.value))
  // A window that is open far to one side is drawn near what was found.
  const high = Math.max(...values.map((v) => v.high), min)
  const low = Math.min(...values.map((v) => v.low), min)
  const width = Math.min(max - min, Math.max(high - min, 0.2 * min, 1) * 1.5)
  const from = Math.min(low, min - 0.15 * width)
  const to = Math.max(high, min + width * (max - min > width * 1.01 ? 1 : 1.15))
  const x = (value: number) => LEFT + ((value - from) / (to - from)) * (WIDTH - LEFT - RIGHT)
  const height = 30 + shownCells.length * 24
  const open = max > to
  const says = shownCells
    .map(({ origin, cell }) => `${origin} ${valueText(cell.evidence[0]!)}, ${cell.verdict}`)
    .join('; ')
  return (
    <figure>
      <figcaption>
        <strong>{row.title}</strong> <span class="quiet">{row.limits}</span>
      </figcaption>
      <svg
        ref={drawing}
        viewBox={`0 0 ${WIDTH} ${height}`}
        role="img"
        aria-label={`${row.title}, ${row.limits}: ${says || 'nothing shown'}`}
      >
        <rect class="room" x={x(min)} y="0" width={x(Math.min(max, to)) - x(min)} height={height - 22} />
        <line class="limit" x1={x(min)} x2={x(min)} y1="0" y2={height - 18} />
        <text x={x(min)} y={height - 5} text-anchor="middle">
          {formatNumber(min)}
        </text>
        {open ? (
          <text x={WIDTH - RIGHT} y={height - 5} text-anchor="end">
            to {formatNumber(max)} us
          </text>
        ) : (
          <>
            <line class="limit" x1={x(max)} x2={x(max)} y1="0" y2={height - 18} />
            <text x={x(max)} y={height - 5} text-anchor="middle">
              {formatNumber(max)} us
            </text>
          </>
        )}
        {shownCells.map(({ origin, cell }, i) => {
          const lowest = Math.min(...cell.evidence.map((e) => e.value.low))
          const highest = Math.max(...cell.evidence.map((e) => e.value.high))
          const a = x(lowest)
          const b = Math.max(a + 3, x(highest))
          const y = 6 + i * 24
          return (
            <g class={classOf(cell.verdict)}>
              <text x={LEFT - 10} y={y + 12} text-anchor="end">
                {origin}
              </text>
              <rect x={a} y={y} width={b - a} height="14" fill="currentColor" />
              {cell.verdict !== 'met' && (
                <text
                  x={b + 4 < WIDTH - VERDICT ? b + 4 : a - 4}
                  y={y + 12}
                  text-anchor={b + 4 < WIDTH - VERDICT ? 'start' : 'end'}
                  fill="currentColor"
                >
                  {cell.verdict}
                </text>
              )}
            </g>
          )
        })}
      </svg>
      <ul class="plain">
        {shownCells.map(({ origin, cell }) => (
          <li>
            <Sign verdict={cell.verdict} /> {origin} {valueText(cell.evidence[0]!)}
          </li>
        ))}
        {shownCells.length === 0 && <li class="quiet">nothing shown yet</li>}
      </ul>
      <TakeFigure
        name={`window-${row.clause}`}
        title={row.title}
        caption={`${row.title}${row.about === undefined ? '' : `, ${row.about}`}, ${row.limits}: ${says || 'nothing shown'}. Clause: ${row.source}. Source: ${lastValid.value?.facts?.name ?? 'the design'}, by Halfbit.`}
        svg={(scheme) => pageSvg(drawing.current!, scheme)}
      />
    </figure>
  )
}

/** `55 to 61 us`, `at most 3 us`. */
function limitsOf(row: Row): [number, number] {
  const numbers = row.limits.match(/\d+(\.\d+)?/g)?.map(Number) ?? []
  if (row.limits.startsWith('at most')) return [0, numbers[0] ?? 1]
  if (row.limits.startsWith('at least')) return [numbers[0] ?? 0, Number.POSITIVE_INFINITY]
  return [numbers[0] ?? 0, numbers[1] ?? Number.POSITIVE_INFINITY]
}
