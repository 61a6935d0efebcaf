/** Words and figures that every report shares. */
import type { Evidence, Origin } from '../standard/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'
import type { Cell, Proof, Row } from './proof.js'

/** `met 0.78`, `BROKEN -0.3`, `undecided`, `not shown`. */
export function cellText(cell: Cell | undefined): string {
  if (cell === undefined) return 'not shown'
  const word = cell.verdict === 'broken' ? 'BROKEN' : cell.verdict
  return `${word} ${marginText(cell.margin)}`
}

export function marginText(margin: number): string {
  return Number.isFinite(margin) ? formatNumber(margin, Math.abs(margin) < 0.995 ? 2 : 3) : '-'
}

/** `one-half` or `one-half (main)`. */
export function rowName(row: Row): string {
  return row.about === undefined ? row.clause : `${row.clause} (${row.about})`
}

export function valueText(e: Evidence): string {
  const { low, high, unit } = e.value
  const a = formatNumber(low, 5)
  const b = formatNumber(high, 5)
  return `${a === b ? a : `${a} to ${b}`} ${unit}`.trim()
}

/** Where the worst of it is: `main.vcd, 1.234 s`, `halfbit.yaml:12`. */
export function placeText(e: Evidence): string {
  const { where } = e
  if (!where) return ''
  const parts: string[] = []
  if (where.file) parts.push(where.line === undefined ? where.file : `${where.file}:${where.line}`)
  else if (where.line !== undefined) parts.push(`line ${where.line}`)
  if (where.channel) parts.push(where.channel)
  if (where.timeUs !== undefined) parts.push(`at ${formatTimeUs(where.timeUs, 7)}`)
  if (where.section) parts.push(where.section)
  if (where.register) parts.push(where.register)
  if (where.packet) parts.push(`packet ${where.packet}`)
  return parts.join(', ')
}

/** The proof in one sentence. */
export function verdictText(proof: Proof): string {
  const { counts } = proof
  const shown = counts.met + counts.broken + counts.undecided
  const tail = `${counts.met} met, ${counts.broken} broken, ${counts.undecided} undecided, ${counts['not shown']} not shown`
  if (counts.broken > 0) return `BROKEN: ${tail}`
  if (counts.undecided > 0) return `undecided: nothing shown is broken, but not all of it is decided; ${tail}`
  return shown > 0 ? `All shown clauses are met: ${tail}` : `nothing shown: ${tail}`
}

export function inputText(proof: Proof): string[] {
  return proof.about.inputs.map(
    ({ role, file, sha256 }) => `${role}: ${file}${sha256 ? ` (SHA-256 ${sha256.slice(0, 16)}…)` : ''}`,
  )
}

/** Statements that need a reader: broken first, then undecided. */
export function troubles(proof: Proof): { row: Row; origin: Origin; evidence: Evidence }[] {
  const list = proof.rows.flatMap((row) =>
    Object.entries(row.cells).flatMap(([origin, cell]) =>
      cell.evidence
        .filter((e) => e.verdict !== 'met')
        .map((evidence) => ({ row, origin: origin as Origin, evidence })),
    ),
  )
  return list.sort(
    (a, b) => Number(b.evidence.verdict === 'broken') - Number(a.evidence.verdict === 'broken'),
  )
}
