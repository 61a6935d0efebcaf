/** Words and figures that every report shares. */
import type { Finding } from '../finding/index.js'
import type { Evidence, NotShown, Origin } from '../standard/index.js'
import { formatNumber, formatRange, formatTimeUs } from '../units/index.js'
import { type Cell, isShownCell, ORIGINS, type Proof, type ProofInput, type Row } from './proof.js'

/**
 * `met 0.78`, `BROKEN -0.3`, `UNDECIDED 0.1`, `not shown`; `(met 0.78)` where that alone does not make the row met; a dash
 * where the origin cannot show the clause.
 */
export function cellText({ cells, finding }: Row, origin: Origin): string {
  const cell = cells[origin]
  if (cell === undefined) return '-'
  if (!isShownCell(cell)) return 'not shown'
  const words = `${verdictWord(cell.verdict)} ${marginText(cell.margin)}`
  return finding === undefined ? words : `(${words})`
}

/** `Mill Lane`, `Mill Lane, variant small board`. */
export function stationName({ name, variant }: { name: string; variant?: string | undefined }): string {
  return variant === undefined ? name : `${name}, variant ${variant}`
}

/** The statements of a cell, worst first; none where nothing is shown. */
export function evidenceOf(cell: Cell | undefined): readonly Evidence[] {
  return isShownCell(cell) ? cell.evidence : []
}

/** Why nothing is shown of a clause: of the whole row, and of each origin that could show it. */
export function reasonsNotShown(row: Row): { origin?: Origin; because: string }[] {
  const own = row.because === undefined ? [] : [{ because: row.because }]
  const further = (origin: Origin, list: readonly NotShown[] = []) =>
    list.map(({ because }) => ({ origin, because }))
  const cells = ORIGINS.flatMap((origin) => {
    const cell = row.cells[origin]
    if (cell === undefined) return []
    return [
      ...(isShownCell(cell) ? [] : [{ origin, because: cell.because }]),
      ...further(origin, cell.unshown),
    ]
  })
  return [...own, ...cells]
}

/** Only `met` is lower case: what is not met must not be overlooked. */
export function verdictWord(verdict: string): string {
  return verdict === 'broken' || verdict === 'undecided' ? verdict.toUpperCase() : verdict
}

/** Two digits, at most 1; far outside, `< -9` is all there is to say. */
export function marginText(margin: number): string {
  if (!Number.isFinite(margin)) return 'n/a'
  if (margin < -9) return '< -9'
  if (margin >= 1) return '1'
  if (Math.abs(margin) < 0.005) return margin < 0 ? '< 0' : '0'
  return formatNumber(Math.round(margin * 100) / 100, 2)
}

/** `one-half` or `one-half (main)`. */
export function rowName(row: Row): string {
  return row.about === undefined ? row.clause : `${row.clause} (${row.about})`
}

export function valueText({ value: { low, high, unit } }: Evidence): string {
  return unit === 'share' ? formatRange(100 * low, 100 * high, '%') : formatRange(low, high, unit)
}

/** With a full stop, but not with two. */
export function sentence(text: string): string {
  return /[.!?]$/.test(text) ? text : `${text}.`
}

/** `3 of 2000 outside`, where the statement counts. */
export function countText({ count }: Evidence): string {
  return count === undefined ? '' : `${count.outside} of ${count.seen} outside`
}

/** Where the worst of it is: `main.vcd, at 1.234 s`, `halfbit.yaml:12`. */
export function placeText(e: Evidence): string {
  const { where } = e
  if (!where) return ''
  const parts: string[] = []
  const line = where.column === undefined ? where.line : `${where.line}:${where.column}`
  if (where.file) parts.push(where.line === undefined ? where.file : `${where.file}:${line}`)
  else if (where.line !== undefined) parts.push(`line ${line}`)
  if (where.channel) parts.push(where.channel)
  if (where.timeUs !== undefined) parts.push(`at ${formatTimeUs(where.timeUs, 7)}`)
  if (where.section) parts.push(where.section)
  if (where.register) parts.push(where.register)
  if (where.address) parts.push(`address ${where.address}`)
  if (where.packet) parts.push(`packet ${where.packet}`)
  return parts.join(', ')
}

/** The proof in one sentence: what is shown and what is not, side by side. */
export function verdictText(proof: Proof): string {
  const { counts, rows, behaviour, required, verdict } = proof
  const missing = required?.missing.length ?? 0
  const all = rows.length
  const head =
    missing > 0 && verdict !== 'broken'
      ? 'NOT ALL THAT WAS REQUIRED IS SHOWN'
      : {
          broken: 'BROKEN',
          undecided: 'UNDECIDED',
          'not shown': counts.met > 0 ? 'NOT ALL SHOWN' : 'NOTHING SHOWN',
          met: `All ${all} clauses are met`,
        }[verdict]
  const parts =
    verdict === 'met' && missing === 0
      ? [head]
      : [
          `${head}: ${counts.met} met and ${counts['not shown']} not shown, ${counts.broken} broken, ${counts.undecided} undecided, of ${all} clauses`,
        ]
  if (behaviour === 'not shown') parts.push('the firmware’s behaviour is not shown')
  if (missing > 0) parts.push(`${missing} required and not shown (${required!.origins.join(', ')})`)
  return parts.join('; ')
}

/** What has changed since the proof was made; empty where it belongs to the present design. */
export function staleText({ stale }: Proof): string {
  return stale === undefined ? '' : `OUT OF DATE: ${stale.since.map((f) => f.sentence).join('; ')}`
}

/** `one-half (main), simulated: the design names no firmware to run`. */
export function missingText(proof: Proof): string[] {
  return (proof.required?.missing ?? []).map(({ clause, about, origin, because }) => {
    const name = about === undefined ? clause : `${clause} (${about})`
    return `${name}, ${origin}: ${because}`
  })
}

/** Reasons why rows are not shown, each with the clauses it holds for. */
export function silences(proof: Proof): { because: string; rows: string[] }[] {
  const list = new Map<string, string[]>()
  for (const row of proof.rows) {
    if (row.verdict !== 'not shown') continue
    const because = reasonsNotShown(row)
      .map((r) => (r.origin === undefined ? r.because : `${r.origin}: ${r.because}`))
      .join('; ')
    list.set(because, [...(list.get(because) ?? []), rowName(row)])
  }
  return [...list].map(([because, rows]) => ({ because, rows }))
}

export function sentences(findings: readonly Finding[] = []): string[] {
  return findings.map((f) => f.sentence)
}

/** `firmware: station.elf (SHA-256 0123…)`; a report that is kept gives the whole sum. */
export function inputText({ role, file, sha256 }: ProofInput, digits = 64): string {
  if (sha256 === undefined) return `${role}: ${file}`
  return `${role}: ${file} (SHA-256 ${sha256.slice(0, digits)}${digits < sha256.length ? '…' : ''})`
}

/** Statements that need a reader: broken first, then undecided. */
export function troubles(proof: Proof): { row: Row; origin: Origin; evidence: Evidence }[] {
  const list = proof.rows.flatMap((row) =>
    ORIGINS.flatMap((origin) =>
      evidenceOf(row.cells[origin])
        .filter((e) => e.verdict !== 'met')
        .map((evidence) => ({ row, origin, evidence })),
    ),
  )
  return list.sort(
    (a, b) => Number(b.evidence.verdict === 'broken') - Number(a.evidence.verdict === 'broken'),
  )
}

/** Source → the clauses that rest on it, in the order of the table. */
export function sources(rows: readonly Row[]): Map<string, string[]> {
  const list = new Map<string, string[]>()
  for (const { source, clause } of rows) {
    const clauses = list.get(source) ?? []
    list.set(source, clauses)
    if (!clauses.includes(clause)) clauses.push(clause)
  }
  return list
}

/** A name from a file or a user on one line, without what a terminal would obey. */
export function oneLine(text: string): string {
  return text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069]+/g, ' ')
}

/** Text for Markdown: file and output names are the user's, nothing in them is markup. */
export function plain(text: string): string {
  return oneLine(text)
    .replace(/&/g, '&amp;')
    .replace(/[\\`*_{}[\]<>#|~!]/g, '\\$&')
    .replace(/\s+/g, ' ')
}
