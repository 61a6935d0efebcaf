/** Margins of a clause drawn to scale: a bar to the smallest, a mark for each origin. */
import { isShownCell, ORIGINS, type Row } from '../../proof/index.js'
import type { Origin } from '../../standard/index.js'
import { classOf } from '../parts/margin.js'
import { type ClauseGroup, marginOf } from '../parts/must-meet.js'

/** Margins to scale: the smallest as a bar, each origin as a mark, other districts as ticks. */
export function Marks({ row, group }: { row: Row; group?: ClauseGroup | undefined }) {
  const least = marginOf(row)
  if (least === undefined) return <span class="no-bar" />
  // Per cent of the width, with room for the marks at both ends.
  const x = (margin: number) => 5 + 90 * Math.min(1, Math.max(-0.04, margin))
  const others = (group?.rows ?? []).filter((r) => r !== row).flatMap((r) => marginOf(r) ?? [])
  return (
    <svg class="margins" aria-hidden="true">
      <line x1="5%" x2="95%" y1={9} y2={9} class="ground" />
      {least >= 0 ? (
        <rect
          x="5%"
          y={7}
          width={`${Math.max(0.8, x(least) - 5)}%`}
          height={4}
          class={classOf(row.verdict)}
          fill="currentColor"
        />
      ) : (
        <line x1="0.5%" x2="5%" y1={9} y2={9} class={`outside ${classOf(row.verdict)}`} />
      )}
      {others.map((m) => (
        <line x1={`${x(m)}%`} x2={`${x(m)}%`} y1={4} y2={14} class="other" />
      ))}
      {ORIGINS.map((origin) => {
        const cell = row.cells[origin]
        return isShownCell(cell) ? <MarkAt origin={origin} x={x(cell.margin)} /> : null
      })}
    </svg>
  )
}

function MarkAt({ origin, x }: { origin: Origin; x: number }) {
  return (
    <svg x={`${x}%`} overflow="visible">
      {origin === 'calculated' ? (
        <circle class="mark-calculated" cx={0} cy={5} r={3} />
      ) : origin === 'simulated' ? (
        <path class="mark-simulated" d="M0 4.5l4 4.5l-4 4.5l-4-4.5z" />
      ) : (
        <rect class="mark-measured" x={-3} y={12} width={6} height={5} />
      )}
    </svg>
  )
}

export function Mark({ origin }: { origin: Origin }) {
  return (
    <svg width="10" height="18" aria-hidden="true">
      <MarkAt origin={origin} x={50} />
    </svg>
  )
}
