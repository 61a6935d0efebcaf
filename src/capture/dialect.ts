/** What kind of CSV a file is, from its first lines. Slow and careful; the rows are read elsewhere. */
import { InputError } from '../units/index.js'

export interface Dialect {
  /** Byte between columns. */
  delimiter: number
  /** Byte of the decimal point. */
  decimal: number
  /** Lines before the first row. */
  headLines: number
  /** Names of all columns. */
  columns: string[]
  /** Column of the time; -1 when rows are samples at a stated rate. */
  timeColumn: number
  /** The time column counts samples. */
  isIndex: boolean
  /** Length of one unit of the time column, us; undefined when the file does not tell. */
  unitUs: number | undefined
  /** Sampling rate the file states, Hz. */
  rateHz: number | undefined
  /** Rows of the head, as text. */
  rows: string[][]
  /** Line of the first row, from 1. */
  firstLine: number
}

const DELIMITERS = [',', ';', '\t'] as const
const NUMBER: Record<string, RegExp> = {
  '.': /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/,
  ',': /^[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?$/,
}
/** Values other than numbers that digital columns may hold. */
const LEVEL = /^(x|z|h|l|high|low|true|false)$/i
const UNIT_US: Record<string, number> = {
  s: 1e6,
  sec: 1e6,
  second: 1e6,
  seconds: 1e6,
  ms: 1e3,
  millisecond: 1e3,
  milliseconds: 1e3,
  us: 1,
  µs: 1,
  μs: 1,
  microsecond: 1,
  microseconds: 1,
  ns: 1e-3,
  nanosecond: 1e-3,
  nanoseconds: 1e-3,
  ps: 1e-6,
}
const HEAD_LINES_MOST = 1000
const TRIAL_LINES = 40

/**
 * @param text the head of the file. @param complete it is the whole file, so its last line is whole too.
 * @throws InputError when no rows of numbers can be found.
 */
export function sniff(text: string, complete: boolean): Dialect {
  const lines = text.replace(/^\ufeff/, '').split(/\r?\n/)
  if (!complete || lines.at(-1) === '') lines.pop()
  const used = lines.slice(0, HEAD_LINES_MOST)
  // A few rows at the end tell delimiter and decimal point; only the best of them is read over the whole head.
  let best: { score: number; delimiter: string; decimal: string } | undefined
  for (const delimiter of DELIMITERS) {
    for (const decimal of ['.', ',']) {
      if (decimal === delimiter) continue
      const found = rowsOf(used.slice(-TRIAL_LINES), delimiter, decimal)
      if (found === undefined) continue
      // More columns say more; a decimal comma only where it is needed.
      const score = found.rows.length * found.rows[0]!.length - (decimal === ',' ? 0.5 : 0)
      if (best === undefined || score > best.score) best = { score, delimiter, decimal }
    }
  }
  if (best === undefined) {
    const at = used.findIndex((l) => l.trim() !== '')
    const line = at < 0 ? 1 : at + 1
    const found = at < 0 ? 'nothing' : JSON.stringify(used[at]!.slice(0, 60))
    throw new InputError(`found ${found}; expected a CSV file with rows of numbers, such as "0.000058,1"`, {
      line,
      column: 1,
    })
  }
  const { delimiter, decimal } = best
  const { from, rows } = rowsOf(used, delimiter, decimal)!
  const head = used.slice(0, from).map((l) => split(l, delimiter))
  const width = rows[0]!.length
  const titles = head.filter((cells) => cells.length === width && cells.some((c) => /[A-Za-z]/.test(c)))
  const units =
    titles.length > 1 && titles.at(-1)!.every((c) => /^[[(]?[A-Za-zµμ%]{0,12}[\])]?$/.test(c))
      ? titles.at(-1)
      : undefined
  const names = (units ? titles.at(-2) : titles.at(-1)) ?? []
  const columns = Array.from({ length: width }, (_, i) => names[i] || `column ${i + 1}`)
  const numbers = (column: number) => rows.map((r) => toNumber(r[column]!, decimal))
  const timeColumn = findTime(columns, numbers, width)
  const times = timeColumn < 0 ? [] : numbers(timeColumn)
  const named =
    timeColumn >= 0 ? (unitOf(columns[timeColumn]!) ?? unitOf(units?.[timeColumn] ?? '')) : undefined
  const counts = times.length > 2 && times.every((t, i) => i === 0 || t === times[i - 1]! + 1)
  const isIndex =
    timeColumn >= 0 && named === undefined && (/^(#|n|index|sample.*)$/i.test(columns[timeColumn]!) || counts)
  return {
    delimiter: delimiter.charCodeAt(0),
    decimal: decimal.charCodeAt(0),
    headLines: from,
    columns,
    timeColumn,
    isIndex,
    unitUs: named,
    rateHz: statedRate(used.slice(0, from), decimal),
    rows,
    firstLine: from + 1,
  }
}

/** The longest run of rows of one width at the end of the head. */
function rowsOf(
  lines: string[],
  delimiter: string,
  decimal: string,
): { from: number; rows: string[][] } | undefined {
  const rows: string[][] = []
  let from = lines.length
  for (let i = lines.length - 1; i >= 0; i--) {
    if (lines[i] === '' && rows.length === 0) {
      from = i
      continue
    }
    const cells = split(lines[i]!, delimiter)
    const number = NUMBER[decimal]!
    const isRow =
      cells.every((c) => c === '' || number.test(c) || LEVEL.test(c)) && cells.some((c) => number.test(c))
    if (!isRow || (rows.length > 0 && cells.length !== rows.at(-1)!.length)) break
    rows.push(cells)
    from = i
  }
  return rows.length > 0 ? { from, rows: rows.reverse() } : undefined
}

function split(line: string, delimiter: string): string[] {
  return line.split(delimiter).map((c) =>
    c
      .trim()
      .replace(/^"(.*)"$/, '$1')
      .trim(),
  )
}

export function toNumber(text: string, decimal: string): number {
  return text === '' ? Number.NaN : Number(decimal === ',' ? text.replace(',', '.') : text)
}

/** The time is the column called so, or the first one if its numbers only rise. */
function findTime(columns: string[], numbers: (i: number) => number[], width: number): number {
  const named = columns.findIndex((c) =>
    /^\s*(time|t|zeit|timestamp|x|x-axis|seconds?)\b|time|\[s\]|\((s|ms|us|ns)\)/i.test(c),
  )
  if (named >= 0) return named
  if (width < 2) return -1
  const first = numbers(0)
  const rises = first.every((t, i) => !Number.isNaN(t) && (i === 0 || t >= first[i - 1]!))
  return rises && (first.length < 3 || first.at(-1)! > first[0]!) ? 0 : -1
}

/** A unit in brackets or at the end of a title: `Time [us]`, `time_ms`, `(s)`. */
function unitOf(title: string): number | undefined {
  const match =
    /[[(]\s*([A-Za-zµμ]+)\s*[\])]/.exec(title)?.[1] ??
    /[_ /]([A-Za-zµμ]+)\s*$/.exec(title)?.[1] ??
    (title in UNIT_US ? title : undefined)
  const key = match?.toLowerCase()
  return key !== undefined && Object.hasOwn(UNIT_US, key) ? UNIT_US[key] : undefined
}

/** A sampling rate or interval among the lines in front. */
function statedRate(lines: string[], decimal: string): number | undefined {
  for (const line of lines) {
    const match =
      /sampl\w*\s*_?(rate|frequency|freq|interval|period)[^0-9+-]*([0-9.,eE+-]+)\s*([A-Za-zµ/]*)/i.exec(line)
    if (!match) continue
    const value = toNumber(match[2]!.replace(/[,.]$/, ''), decimal)
    if (!(value > 0)) continue
    const unit = match[3]!.replace(/\/s$|s$/i, (u) => (/interval|period/i.test(match[1]!) ? u : ''))
    if (/interval|period/i.test(match[1]!)) return 1e6 / (value * (UNIT_US[unit.toLowerCase()] ?? 1e6))
    const prefix = /^([kMG])/.exec(match[3]!)?.[1]
    return value * ({ k: 1e3, M: 1e6, G: 1e9 }[prefix ?? ''] ?? 1)
  }
  return undefined
}
