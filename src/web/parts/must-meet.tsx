/** What a stage must meet: one line a clause, districts as columns, worst first; one is looked at below. */
import { isShownCell, ORIGINS, type Row, rowName } from '../../proof/index.js'
import type { Stage } from '../stages.js'
import { chosenRow } from '../state/selection.js'
import { standingOf, standings } from '../state/standings.js'
import { AboutClause } from './about-clause.js'
import { classOf, marginWords, Sign } from './margin.js'
import { Reasons } from './reasons.js'
import { WhatDecides } from './what-decides.js'

const RANK = { broken: 0, undecided: 1, met: 2, 'not shown': 3 } as const

/** More parts than this have no columns: the worst of them stands for all. */
const MOST_COLUMNS = 4

export interface ClauseGroup {
  title: string
  rows: Row[]
  worst: Row
}

export function marginOf(row: Row): number | undefined {
  const shown = Object.values(row.cells).flatMap((cell) => (isShownCell(cell) ? [cell.margin] : []))
  return shown.length === 0 ? undefined : Math.min(...shown)
}

export function isWorse(a: Row, b: Row): number {
  return RANK[a.verdict] - RANK[b.verdict] || (marginOf(a) ?? 9) - (marginOf(b) ?? 9)
}

/** The part whose column a row is in: `main` for `main, to trip` too. */
const partOf = (row: Row) => row.about?.split(', ')[0]

/** Rows of one clause together, worst first. */
export function groupRows(rows: readonly Row[]): ClauseGroup[] {
  const groups = new Map<string, Row[]>()
  for (const row of rows) groups.set(row.clause, [...(groups.get(row.clause) ?? []), row])
  return [...groups.values()].map((list) => {
    return { title: list[0]!.title, rows: list, worst: [...list].sort(isWorse)[0]! }
  })
}

export function MustMeet({ stage }: { stage: Stage }) {
  const { rows } = standings.value[stage.id]
  const chosen = chosenRow.value
  const setChosen = (name: string) => (chosenRow.value = name)
  if (rows.length === 0) return null
  const groups = groupRows(rows).sort((a, b) => isWorse(a.worst, b.worst))
  // Parts that several rows share a clause by, such as districts.
  const several = groups.flatMap((group) => (group.rows.length > 1 ? group.rows : []))
  const abouts = [...new Set(several.flatMap((row) => partOf(row) ?? []))]
  const columns = abouts.length >= 2 && abouts.length <= MOST_COLUMNS ? abouts : undefined
  const open = rows.find((row) => rowName(row) === chosen) ?? groups[0]!.worst
  const cell = (row: Row | undefined, label: string) => (
    <td>{row && <RowButton row={row} label={label} isOpen={row === open} choose={setChosen} />}</td>
  )
  const { notShown } = standingOf(rows)
  return (
    <>
      <section class="must" aria-labelledby="owes">
        <h3 id="owes">What this stage must meet</h3>
        <p class="quiet">
          {rows.length - notShown} shown, {notShown} not shown; worst first
        </p>
        <div class="wide" tabIndex={0} role="region" aria-label="Clauses of this stage">
          <table>
            <thead>
              <tr>
                <th scope="col">clause</th>
                {columns ? (
                  columns.map((c) => <th scope="col">{c}</th>)
                ) : (
                  <th scope="col">smallest margin</th>
                )}
              </tr>
            </thead>
            <tbody>
              {groups.map(({ title, rows: own, worst }) => (
                <tr key={worst.clause} class={own.includes(open) ? 'chosen' : undefined}>
                  <th scope="row">
                    {title}
                    {!columns && own.length > 1 && <span class="badge">{own.length}</span>}
                  </th>
                  {!columns ? (
                    cell(worst, title)
                  ) : own.some((row) => columns.includes(partOf(row) ?? '')) ? (
                    columns.map((part) => {
                      const row = own.filter((r) => partOf(r) === part).sort(isWorse)[0]
                      return cell(row, `${title}, ${row?.about ?? part}`)
                    })
                  ) : (
                    <td colSpan={columns.length}>
                      <RowButton row={worst} label={title} isOpen={worst === open} choose={setChosen} />
                    </td>
                  )}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      </section>
      <section class="inspector" aria-label="The chosen clause">
        <h3>
          {open.title}
          {open.about !== undefined && <span class="quiet">, {open.about}</span>}
        </h3>
        <p>
          <span class={classOf(open.verdict)}>
            <Sign verdict={open.verdict} /> {open.verdict}
          </span>
          {open.limits && <span class="quiet">; {open.limits}</span>}
          {open.because && <span class="quiet">; {open.because}</span>}
        </p>
        <dl class="facts">
          {ORIGINS.map((origin) => {
            const c = open.cells[origin]
            return c ? (
              <>
                <dt>{origin}</dt>
                <dd class={classOf(c.verdict)}>
                  <Sign verdict={c.verdict} /> {isShownCell(c) ? marginWords(c.margin) : 'not shown'}
                </dd>
              </>
            ) : null
          })}
        </dl>
        <WhatDecides row={open} />
        <Reasons row={open} />
        <AboutClause clause={open.clause} />
      </section>
    </>
  )
}

interface RowButtonProps {
  row: Row
  label: string
  isOpen: boolean
  choose(name: string): unknown
}

function RowButton({ row, label, isOpen, choose }: RowButtonProps) {
  const margin = marginOf(row)
  return (
    <button type="button" class="cell" aria-pressed={isOpen} onClick={() => choose(rowName(row))}>
      <span class={classOf(row.verdict)}>
        <Sign verdict={row.verdict} />{' '}
        {row.verdict === 'not shown' || margin === undefined ? '' : marginWords(margin)}
      </span>
      <span class="unseen">
        {row.verdict}: {label}
      </span>
    </button>
  )
}
