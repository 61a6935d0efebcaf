/** How each stage is doing: its worst clause and its smallest margin. */
import { computed } from '@preact/signals'
import { isShownCell, type Row } from '../../proof/index.js'
import { STAGES, type StageId } from '../stages.js'
import { lastValid } from './consequences.js'

export interface Standing {
  verdict: Row['verdict']
  /** Rows that nothing shows. */
  notShown: number
  /** Smallest margin of what is shown; undefined when nothing is. */
  margin: number | undefined
  worst: Row | undefined
  rows: Row[]
}

const RANK = { 'not shown': 0, met: 1, undecided: 2, broken: 3 } as const

/** The state of each stage: that of its worst clause. */
export const standings = computed<Record<StageId, Standing>>(() => {
  const all = lastValid.value?.proof?.rows ?? []
  const entries = STAGES.map((stage): [StageId, Standing] => {
    const rows = stage.id === 'proof' ? all : all.filter((row) => stage.clauses.includes(row.clause))
    const standing = standingOf(rows)
    return [stage.id, standing]
  })
  return Object.fromEntries(entries) as Record<StageId, Standing>
})

export function standingOf(rows: readonly Row[]): Standing {
  let verdict: Row['verdict'] = 'not shown'
  let worst: Row | undefined
  let margin: number | undefined
  for (const row of rows) {
    if (row.verdict === 'not shown') continue
    const own = Math.min(
      ...Object.values(row.cells).map((cell) => (isShownCell(cell) ? cell.margin : Infinity)),
    )
    const worse =
      RANK[row.verdict] > RANK[verdict] ||
      (RANK[row.verdict] === RANK[verdict] && own < (margin ?? Number.POSITIVE_INFINITY))
    if (!worse) continue
    verdict = row.verdict
    margin = own
    worst = row
  }
  const notShown = rows.filter((row) => row.verdict === 'not shown').length
  return { verdict, margin, worst, notShown, rows: [...rows] }
}
