/** The proof: clause × origin. A cell opens its reasons and the place they came from. */
import { useState } from 'preact/hooks'
import {
  cellText,
  isShownCell,
  ORIGINS,
  type Proof,
  type Row,
  rowName,
  sentences,
  staleText,
  verdictText,
} from '../../proof/index.js'
import { Reasons } from '../parts/clauses.js'
import { download } from '../parts/download.js'
import { classOf, Sign, Verdict } from '../parts/margin.js'
import { stageOf } from '../stages.js'
import { desk, lastValid } from '../state/consequences.js'
import { text } from '../state/design.js'
import { go } from '../state/route.js'
import type { ExportForm } from '../worker/calls.js'

const FILTERS = ['all', 'broken', 'undecided', 'met', 'not shown'] as const
type Filter = (typeof FILTERS)[number]

export function ProofView() {
  const proof = lastValid.value!.proof!
  const [filter, setFilter] = useState<Filter>('all')
  const [words, setWords] = useState('')
  const [open, setOpen] = useState<{ row: string; origin: (typeof ORIGINS)[number] } | undefined>(undefined)
  const wanted = words.trim().toLowerCase()
  const rows = proof.rows.filter(
    (row) =>
      (filter === 'all' || row.verdict === filter) &&
      (wanted === '' ||
        `${rowName(row)} ${row.title} ${row.demand} ${row.source}`.toLowerCase().includes(wanted)),
  )
  const toggle = (row: Row, origin: (typeof ORIGINS)[number]) => {
    const name = rowName(row)
    setOpen(open?.row === name && open.origin === origin ? undefined : { row: name, origin })
  }
  return (
    <div class="proof">
      {proof.stale && <p class="whole undecided">{staleText(proof)}</p>}
      <p class={`whole ${classOf(proof.verdict)}`}>
        <Sign verdict={proof.verdict} /> {verdictText(proof)}
      </p>
      <p class="quiet">
        {proof.profile.title}, edition {proof.profile.edition} ({proof.profile.documents}), scale{' '}
        {proof.profile.scale}.
      </p>
      <div class="tools">
        <div class="switch" role="group" aria-label="Show clauses that are">
          {FILTERS.map((f) => (
            <button type="button" aria-pressed={filter === f} onClick={() => setFilter(f)}>
              {f}
              <span class="quiet"> {f === 'all' ? proof.rows.length : proof.counts[f]}</span>
            </button>
          ))}
        </div>
        <label class="find">
          <span>Find</span>
          <input
            type="search"
            value={words}
            onInput={(event) => setWords((event.currentTarget as HTMLInputElement).value)}
          />
        </label>
        <Exports proof={proof} />
      </div>
      <div class="wide" tabIndex={0} role="region" aria-label="Clause by clause">
        <table class="matrix">
          <caption>
            A bar is full at the centre of the window and empty at its limit; dashed, it is outside. A clause
            that is not shown is not met.
          </caption>
          <thead>
            <tr>
              <th scope="col">Clause</th>
              {ORIGINS.map((origin) => (
                <th scope="col">{origin}</th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <RowLines
                key={rowName(row)}
                row={row}
                open={open?.row === rowName(row) ? open.origin : undefined}
                toggle={toggle}
              />
            ))}
          </tbody>
        </table>
      </div>
      {rows.length === 0 && <p class="quiet">No clause matches. Choose “all” to see every clause.</p>}
      <List title="Notes" sentences={sentences(proof.about.notes)} />
      <List title="Cautions" sentences={sentences(proof.about.cautions)} />
    </div>
  )
}

interface RowProps {
  row: Row
  open: (typeof ORIGINS)[number] | undefined
  toggle(row: Row, origin: (typeof ORIGINS)[number]): void
}

function RowLines({ row, open, toggle }: RowProps) {
  const stage = stageOf(row.clause)
  return (
    <>
      <tr>
        <th scope="row">
          {row.title}
          {row.about !== undefined && <span class="quiet"> ({row.about})</span>}
          <small class="quiet">
            {row.limits ? `${row.limits}; ` : ''}
            {row.source}
            {row.because && `; ${row.because}`}
          </small>
        </th>
        {ORIGINS.map((origin) => {
          const cell = row.cells[origin]
          return (
            <td>
              {cell ? (
                <button
                  type="button"
                  class="cell"
                  aria-expanded={open === origin}
                  onClick={() => toggle(row, origin)}
                >
                  {row.finding && isShownCell(cell) ? (
                    <span class="quiet">{cellText(row, origin)}</span>
                  ) : (
                    <Verdict verdict={cell.verdict} margin={isShownCell(cell) ? cell.margin : undefined} />
                  )}
                  <span class="unseen">
                    : {row.title}, {origin}
                  </span>
                </button>
              ) : (
                <span class="quiet">–</span>
              )}
            </td>
          )
        })}
      </tr>
      {open !== undefined && row.cells[open] && (
        <tr class="opened">
          <td colSpan={4}>
            <Reasons row={row} origin={open} />
            {stage.id !== 'proof' && (
              <button type="button" onClick={() => go(stage.id)}>
                Go to {stage.title}
              </button>
            )}
          </td>
        </tr>
      )}
    </>
  )
}

const FORMS: { form: ExportForm; says: string; ending: string; type: string }[] = [
  { form: 'html', says: 'HTML', ending: 'html', type: 'text/html' },
  { form: 'md', says: 'Markdown', ending: 'md', type: 'text/markdown' },
  { form: 'json', says: 'JSON', ending: 'json', type: 'application/json' },
  { form: 'junit', says: 'JUnit', ending: 'xml', type: 'application/xml' },
]

function Exports({ proof }: { proof: Proof }) {
  return (
    <div class="acts" role="group" aria-label="Export the proof">
      {FORMS.map(({ form, says, ending, type }) => (
        <button
          type="button"
          onClick={async () =>
            download(`proof.${ending}`, await desk().call('export', { proof, text: text.value, form }), type)
          }
        >
          {says}
        </button>
      ))}
      <button type="button" onClick={() => print()}>
        Print or PDF
      </button>
    </div>
  )
}

export function List({ title, sentences }: { title: string; sentences: readonly string[] }) {
  if (sentences.length === 0) return null
  return (
    <section>
      <h3>{title}</h3>
      <ul class="sentences">
        {sentences.map((s) => (
          <li>{s}</li>
        ))}
      </ul>
    </section>
  )
}
