/** The proof by stage: clause × origin, districts folded. A cell opens its reasons and the place they came from. */
import { Fragment } from 'preact'
import { useState } from 'preact/hooks'
import {
  cellText,
  isShownCell,
  ORIGINS,
  type Proof,
  type Row,
  reasonsNotShown,
  rowName,
  sentences,
  staleText,
  verdictText,
} from '../../proof/index.js'
import type { Origin } from '../../standard/index.js'
import { AboutClause } from '../parts/about-clause.js'
import { download } from '../parts/download.js'
import { List } from '../parts/list.js'
import { classOf, marginWords, Sign } from '../parts/margin.js'
import { type ClauseGroup, groupRows, isWorse } from '../parts/must-meet.js'
import { usePrinted } from '../parts/printed.js'
import { Reasons } from '../parts/reasons.js'
import { RunStatus } from '../parts/run-status.js'
import { STAGES, type Stage, stageOf } from '../stages.js'
import { desk, lastValid } from '../state/consequences.js'
import { text } from '../state/design.js'
import { go } from '../state/route.js'
import { chosenRow } from '../state/selection.js'
import { standingOf } from '../state/standings.js'
import type { ExportForm } from '../worker/calls.js'
import { Mark, Marks } from './proof-marks.js'
import { Variants } from './variants.js'

const FILTERS = ['all', 'broken', 'undecided', 'met', 'not shown'] as const
type Filter = (typeof FILTERS)[number]

const SHORT: Record<Origin, string> = { calculated: 'calc.', simulated: 'sim.', measured: 'meas.' }

interface Open {
  row: string
  origin: Origin
}

export function ProofView() {
  const proof = lastValid.value!.proof!
  const isPending = lastValid.value!.complete === false
  const [filter, setFilter] = useState<Filter>('all')
  const [words, setWords] = useState('')
  const [open, setOpen] = useState<Open | undefined>(undefined)
  const wanted = words.trim().toLowerCase()
  const rows = proof.rows.filter(
    (row) =>
      (filter === 'all' || row.verdict === filter) &&
      (wanted === '' ||
        `${rowName(row)} ${row.title} ${row.demand} ${row.source}`.toLowerCase().includes(wanted)),
  )
  const toggle = (row: Row, origin: Origin) => {
    const name = rowName(row)
    setOpen(open?.row === name && open.origin === origin ? undefined : { row: name, origin })
    chosenRow.value = name
  }
  return (
    <div class="proof stage-body">
      <div class="figures">
        {proof.stale && !isPending && <p class="whole undecided">{staleText(proof)}</p>}
        {isPending ? (
          // In the same place: a line more for a moment would push all below it down and up again.
          <p class="whole undecided">{staleText(proof)}</p>
        ) : (
          <p class={`whole ${classOf(proof.verdict)}`}>
            <Sign verdict={proof.verdict} /> {verdictText(proof)}
          </p>
        )}
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
            <caption class="unseen">Clauses by stage, with the margin that each origin shows</caption>
            <thead>
              <tr>
                <th scope="col">clause</th>
                {ORIGINS.map((origin) => (
                  <th scope="col">
                    <abbr title={origin}>{SHORT[origin]}</abbr>
                  </th>
                ))}
                <th scope="col" class="marks-head">
                  <span>at the limit</span>
                  <span>centre</span>
                </th>
              </tr>
            </thead>
            {STAGES.map((stage) => {
              const own = rows.filter((row) => stage.clauses.includes(row.clause))
              return own.length === 0 ? null : (
                <StageRows
                  key={stage.id}
                  stage={stage}
                  rows={own}
                  open={open}
                  toggle={toggle}
                  isFiltered={filter !== 'all' || wanted !== ''}
                />
              )
            })}
          </table>
        </div>
        {rows.length === 0 && <p class="quiet">No clause matches. Choose “all” to see every clause.</p>}
        <p class="legend quiet">
          <Mark origin="calculated" /> calculated <Mark origin="simulated" /> simulated{' '}
          <Mark origin="measured" /> measured. A bar reaches from the limit (0) to the centre of the window
          (1); dashed, it is outside. A clause that is not shown is not met.
        </p>
        <Variants />
        <List title="Notes" sentences={sentences(proof.about.notes)} />
        <List title="Cautions" sentences={sentences(proof.about.cautions)} />
      </div>
      <div class="beside" tabIndex={0} role="group" aria-label="The proof as a whole">
        <section aria-labelledby="counts">
          <h3 id="counts">The proof</h3>
          <p class="counts">
            <span class={proof.verdict === 'met' ? 'met' : undefined}>{proof.counts.met} met</span>
            <span>{proof.counts['not shown']} not shown</span>
          </p>
          <p>
            <span class={proof.counts.broken > 0 ? 'broken' : 'quiet'}>{proof.counts.broken} broken</span>,{' '}
            <span class={proof.counts.undecided > 0 ? 'undecided' : 'quiet'}>
              {proof.counts.undecided} undecided
            </span>
          </p>
          <p class="quiet">
            {proof.profile.title}, edition {proof.profile.edition} ({proof.profile.documents}), scale{' '}
            {proof.profile.scale}.
          </p>
        </section>
        <RunStatus />
        <NotShownAtAll rows={proof.rows} />
        <section aria-labelledby="made-from">
          <h3 id="made-from">Made from</h3>
          <dl class="facts">
            {proof.about.inputs.map(({ role, file, sha256 }) => (
              <>
                <dt>{role}</dt>
                <dd>
                  {file} {sha256 && <code title={sha256}>{sha256.slice(0, 8)}</code>}
                </dd>
              </>
            ))}
          </dl>
        </section>
      </div>
    </div>
  )
}

function NotShownAtAll({ rows }: { rows: readonly Row[] }) {
  const because = new Map<string, string[]>()
  for (const row of rows) {
    if (row.verdict !== 'not shown') continue
    const why = row.because ?? [...new Set(reasonsNotShown(row).map((r) => r.because))].join('; ')
    const name = row.about === undefined ? row.title : `${row.title}, ${row.about}`
    because.set(why, [...(because.get(why) ?? []), name])
  }
  if (because.size === 0) return null
  return (
    <section aria-labelledby="silent">
      <h3 id="silent">Not shown</h3>
      <ul class="plain-list">
        {[...because].map(([why, names]) => (
          <li>
            {names.join('; ')}: <span class="quiet">{why}</span>
          </li>
        ))}
      </ul>
    </section>
  )
}

interface StageRowsProps {
  stage: Stage
  rows: readonly Row[]
  open: Open | undefined
  toggle(row: Row, origin: Origin): void
  /** What was searched for is not folded away. */
  isFiltered: boolean
}

function StageRows({ stage, rows, open, toggle, isFiltered }: StageRowsProps) {
  const [unfolded, setUnfolded] = useState<ReadonlySet<string>>(new Set())
  const { margin } = standingOf(rows)
  const openOf = (row: Row) => (open?.row === rowName(row) ? open.origin : undefined)
  return (
    <tbody>
      <tr class="stage-head">
        <th colSpan={4} scope="rowgroup">
          <a href={`#/${stage.id}`}>{stage.title}</a>{' '}
          <span class="quiet">
            {margin === undefined ? 'nothing shown' : `smallest margin ${marginWords(margin)}`}
          </span>
        </th>
        <td class="scale" aria-hidden="true">
          <span>0</span>
          <span>0.5</span>
          <span>1</span>
        </td>
      </tr>
      {groupRows(rows).map((group) => {
        const id = group.worst.clause
        const isOpen = isFiltered || unfolded.has(id)
        const several = group.rows.length > 1
        return (
          <Fragment key={id}>
            {(!several || !isFiltered) && (
              <ClauseRow
                row={group.worst}
                group={several ? group : undefined}
                open={isOpen && several ? undefined : openOf(group.worst)}
                toggle={toggle}
                fold={
                  several
                    ? {
                        isOpen,
                        toggle() {
                          const next = new Set(unfolded)
                          if (!next.delete(id)) next.add(id)
                          setUnfolded(next)
                        },
                      }
                    : undefined
                }
              />
            )}
            {several &&
              isOpen &&
              [...group.rows]
                .sort(isWorse)
                .map((row) => (
                  <ClauseRow key={rowName(row)} row={row} open={openOf(row)} toggle={toggle} isPart />
                ))}
          </Fragment>
        )
      })}
    </tbody>
  )
}

interface ClauseRowProps {
  row: Row
  /** Of several districts or outputs, of which the row is the worst. */
  group?: ClauseGroup | undefined
  open: Origin | undefined
  toggle(row: Row, origin: Origin): void
  fold?: { isOpen: boolean; toggle(): void } | undefined
  isPart?: boolean
}

function ClauseRow({ row, group, open, toggle, fold, isPart }: ClauseRowProps) {
  const stage = stageOf(row.clause)
  return (
    <>
      <tr class={isPart ? 'part-row' : undefined}>
        <th scope="row">
          {fold ? (
            <button type="button" class="cell fold-row" aria-expanded={fold.isOpen} onClick={fold.toggle}>
              <span aria-hidden="true">{fold.isOpen ? '▾' : '▸'}</span> {row.title}
              <span class="badge">{group!.rows.length}</span>
              <span class="unseen"> parts</span>
            </button>
          ) : (
            <span title={`${row.demand} ${row.source}`}>
              {isPart ? row.about : row.title}
              {!isPart && row.about !== undefined && <span class="quiet"> ({row.about})</span>}
            </span>
          )}
        </th>
        {ORIGINS.map((origin) => {
          const shown = group ? worstFor(group, origin) : row
          const cell = shown.cells[origin]
          return (
            <td class="origin" data-origin={origin}>
              {cell ? (
                <button
                  type="button"
                  class="cell"
                  aria-expanded={open === origin}
                  onClick={() => toggle(shown, origin)}
                >
                  <span
                    class={shown.finding && isShownCell(cell) ? 'quiet' : classOf(cell.verdict)}
                    title={cellText(shown, origin)}
                  >
                    <Sign verdict={cell.verdict} /> {isShownCell(cell) ? marginWords(cell.margin) : ''}
                  </span>
                  <span class="unseen">
                    {cellText(shown, origin)}: {row.title}, {origin}
                  </span>
                </button>
              ) : (
                <span class="quiet">–</span>
              )}
            </td>
          )
        })}
        <td class="marks">
          <Marks row={row} group={group} />
        </td>
      </tr>
      {open !== undefined && row.cells[open] && (
        <tr class="opened">
          <td colSpan={5}>
            <Reasons row={row} origin={open} />
            <AboutClause clause={row.clause} />
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

/** The row of a group whose cell of an origin is the worst. */
function worstFor(group: ClauseGroup, origin: Origin): Row {
  const rank = (row: Row) => {
    const cell = row.cells[origin]
    return isShownCell(cell) ? { broken: 0, undecided: 1, met: 2 }[cell.verdict] * 10 + cell.margin : 99
  }
  return [...group.rows].sort((a, b) => rank(a) - rank(b))[0]!
}

const FORMS: { form: ExportForm; says: string; ending: string; type: string }[] = [
  { form: 'html', says: 'HTML', ending: 'html', type: 'text/html' },
  { form: 'md', says: 'Markdown', ending: 'md', type: 'text/markdown' },
  { form: 'json', says: 'JSON', ending: 'json', type: 'application/json' },
  { form: 'junit', says: 'JUnit', ending: 'xml', type: 'application/xml' },
]

function Exports({ proof }: { proof: Proof }) {
  const exported = (form: ExportForm) => desk().call('export', { proof, text: text.value, form })
  const printReport = usePrinted(() => exported('html'), [proof, text.value])
  return (
    <div class="acts" role="group" aria-label="Export the proof">
      {FORMS.map(({ form, says, ending, type }) => (
        <button type="button" onClick={async () => download(`proof.${ending}`, await exported(form), type)}>
          {says}
        </button>
      ))}
      <button type="button" onClick={() => void printReport()}>
        Print or PDF
      </button>
    </div>
  )
}
