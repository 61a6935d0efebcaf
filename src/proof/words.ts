/** Words and figures that every report shares. */
import type { Evidence, Origin } from '../standard/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'
import { type Cell, ORIGINS, type Proof, type ProofInput, type Row } from './proof.js'

/** `met 0.78`, `BROKEN -0.3`, `UNDECIDED 0.1`, `not shown`. */
export function cellText(cell: Cell | undefined): string {
  return cell === undefined ? 'not shown' : `${verdictWord(cell.verdict)} ${marginText(cell.margin)}`
}

/** Only `met` is written small: what is not met must not be overlooked. */
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

export function valueText(e: Evidence): string {
  const share = e.value.unit === 'share'
  const unit = share ? '%' : e.value.unit
  // Never tripping is an hour or more: nobody counts the digits of that.
  if (unit === 'us' && Math.abs(e.value.high) >= 1e6 && Number.isFinite(e.value.high)) {
    const [low, high] = [e.value.low, e.value.high].map((x) => formatTimeUs(x, 5))
    return low === high ? low! : `${low} to ${high}`
  }
  const [a, b] = [e.value.low, e.value.high].map((x) => formatNumber(share ? 100 * x : x, 5))
  return `${a === b ? a : `${a} to ${b}`} ${unit}`.trim()
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

/** The proof in one sentence. */
export function verdictText(proof: Proof): string {
  const { counts } = proof
  const tail = `${counts.met} met, ${counts.broken} broken, ${counts.undecided} undecided, ${counts['not shown']} not shown`
  if (proof.verdict === 'broken') return `BROKEN: ${tail}`
  if (proof.verdict === 'undecided') {
    return `UNDECIDED: nothing that is shown is broken, but not all of it could be decided; ${tail}`
  }
  return proof.verdict === 'met' ? `All shown clauses are met: ${tail}` : `Nothing is shown: ${tail}`
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
      (row.cells[origin]?.evidence ?? [])
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
