/** The clauses that a stop owes, each with what is shown of it. */
import {
  countText,
  evidenceOf,
  isShownCell,
  ORIGINS,
  placeText,
  type Row,
  reasonsNotShown,
  rowName,
  valueText,
} from '../../proof/index.js'
import { showLine } from '../edit/pane.js'
import type { Stage } from '../stages.js'
import { standings } from '../state/consequences.js'
import { fileName } from '../state/design.js'
import { go } from '../state/route.js'
import { chosenReading, readingOf, wantedTime } from '../state/runs.js'
import { Verdict } from './margin.js'

const RANK = { broken: 0, undecided: 1, met: 2, 'not shown': 3 } as const

export function Clauses({ stage }: { stage: Stage }) {
  const { rows } = standings.value[stage.id]
  if (rows.length === 0) return null
  const sorted = [...rows].sort((a, b) => RANK[a.verdict] - RANK[b.verdict])
  const silent = sorted.filter((row) => row.verdict === 'not shown')
  return (
    <section class="clauses" aria-labelledby="owes">
      <h3 id="owes">What this stage must meet</h3>
      <ul>
        {sorted
          .filter((row) => row.verdict !== 'not shown')
          .map((row) => (
            <ClauseItem key={rowName(row)} row={row} />
          ))}
      </ul>
      {silent.length > 0 && <p class="quiet">Not shown: {silent.map((row) => row.title).join('; ')}.</p>}
    </section>
  )
}

export function ClauseItem({ row }: { row: Row }) {
  return (
    <li>
      <details>
        <summary>
          <span class="what">
            {row.title}
            {row.about !== undefined && <span class="quiet"> ({row.about})</span>}
            {row.limits && <span class="quiet">, {row.limits}</span>}
          </span>
          <span class="shown">
            {ORIGINS.map((origin) => {
              const cell = row.cells[origin]
              return isShownCell(cell) ? (
                <span>
                  <span class="quiet">{origin}</span> <Verdict verdict={cell.verdict} margin={cell.margin} />
                </span>
              ) : null
            })}
          </span>
        </summary>
        <Reasons row={row} />
      </details>
    </li>
  )
}

/** Every statement with its reason and the place it came from. */
export function Reasons({ row, origin }: { row: Row; origin?: (typeof ORIGINS)[number] }) {
  return (
    <div class="reasons">
      <p>
        {row.demand} <span class="quiet">{row.source}.</span>
      </p>
      {ORIGINS.filter((o) => origin === undefined || o === origin).map((o) =>
        evidenceOf(row.cells[o]).map((e) => (
          <p>
            <strong>{o}</strong>: {valueText(e)}. {e.because}
            {e.because.endsWith('.') ? '' : '.'}{' '}
            <span class="quiet">{[countText(e), placeText(e)].filter(Boolean).join('; ')}</span>{' '}
            {e.where?.line !== undefined && e.where.file === fileName.value && (
              <button type="button" class="link" onClick={() => showLine(e.where!.line!)}>
                Show line {e.where.line}
              </button>
            )}{' '}
            {readingOf(e) && (
              <button
                type="button"
                class="link"
                onClick={() => {
                  chosenReading.value = readingOf(e)!.key
                  wantedTime.value = e.where!.timeUs
                  go('waveform')
                }}
              >
                Show it in the waveform
              </button>
            )}
          </p>
        )),
      )}
      {reasonsNotShown(row)
        .filter((r) => origin === undefined || r.origin === undefined || r.origin === origin)
        .map((r) => (
          <p>
            <strong>{r.origin ?? 'not shown'}</strong>: {r.origin === undefined ? '' : 'not shown, '}
            {r.because}.
          </p>
        ))}
    </div>
  )
}
