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
  /** The time column counts samples: its title says so. Without a title that says otherwise, whole numbers may. */
  isIndex: boolean
  mayBeIndex: boolean
  /** Length of one unit of the time column, us; undefined when the file does not tell. */
  unitUs: number | undefined
  /** Sampling rate the file states, Hz. */
  rateHz: number | undefined
  /** Length of one unit of each column, V: a column of mV has 0.001. */
  voltsPerUnit: number[]
  /** Length of one unit of each column, A; undefined where it is not the ampere. */
  ampsPerUnit: (number | undefined)[]
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
const LEVEL = /^(x|u|z|h|l|high|low|true|false)$/i
const UNIT_US: Record<string, number> = {
  s: 1e6,
  sec: 1e6,
  second: 1e6,
  seconds: 1e6,
  ms: 1e3,
  msec: 1e3,
  millisecond: 1e3,
  milliseconds: 1e3,
  us: 1,
  usec: 1,
  usecs: 1,
  µs: 1,
  µsec: 1,
  μsec: 1,
  μs: 1,
  microsecond: 1,
  microseconds: 1,
  ns: 1e-3,
  nsec: 1e-3,
  nanosecond: 1e-3,
  nanoseconds: 1e-3,
  ps: 1e-6,
}
const AMPS: Readonly<Record<string, number>> = { A: 1, mA: 1e-3, uA: 1e-6, µA: 1e-6, μA: 1e-6 }
const TIME_OF_DAY = /^(\d{4}-\d\d-\d\d[T ])?\d\d?:\d\d:\d\d([.,]\d+)?(Z|[+-]\d\d:?\d\d)?$/
const HEAD_LINES_MOST = 600
const TRIAL_LINES = 40

/**
 * @param text the head of the file. @param complete it is the whole file, so its last line is whole too.
 * @throws InputError when no rows of numbers can be found.
 */
export function sniff(text: string, complete: boolean): Dialect {
  const lines = text.replace(/^\ufeff/, '').split(/\r?\n/)
  if (!complete || lines.at(-1) === '') lines.pop()
  const used = lines.slice(0, HEAD_LINES_MOST)
  // A few rows at the end tell the delimiter; the decimal point is looked for over the whole head.
  const trial = used.slice(-TRIAL_LINES)
  const tried = bestOf(trial, DELIMITERS, isPlainRow) ?? bestOf(trial, DELIMITERS, isMixedRow)
  const best =
    tried && (bestOf(used, [tried.delimiter], isPlainRow) ?? bestOf(used, [tried.delimiter], isMixedRow))
  if (best === undefined) {
    unreadable(used)
    const at = used.findIndex((l) => l.trim() !== '')
    const line = at < 0 ? 1 : at + 1
    const found = at < 0 ? 'nothing' : JSON.stringify(used[at]!.slice(0, 60))
    throw new InputError(`found ${found}; expected a CSV file with rows of numbers, such as "0.000058,1"`, {
      line,
      column: 1,
    })
  }
  const { delimiter, decimal, from, rows } = best
  const width = rows[0]!.length
  mustBeWhole(used, from, delimiter)
  const titles = used
    .slice(0, from)
    .map((l) => splitRow(l.replace(/^#\s*/, ''), delimiter))
    .filter((cells) => isTitle(cells, width))
  const units = titles.length > 1 && isUnits(titles.at(-1)!) ? titles.at(-1) : undefined
  const names = (units ? titles.at(-2) : titles.at(-1)) ?? []
  const columns = Array.from({ length: width }, (_, i) => names[i] || `column ${i + 1}`)
  const voltsPerUnit = columns.map((c, i) => voltsOf(units?.[i] ?? '') ?? voltsOf(c) ?? 1)
  const ampsPerUnit = columns.map((c, i) => AMPS[units?.[i]?.replace(/[[(\])\s]/g, '') ?? ''] ?? ampsOf(c))
  const numbers = (column: number) => rows.map((r) => toNumber(r[column]!, decimal))
  const timeColumn = findTime(columns, numbers, width)
  const times = timeColumn < 0 ? [] : numbers(timeColumn)
  const named =
    timeColumn >= 0 ? (unitOf(columns[timeColumn]!) ?? unitOf(units?.[timeColumn] ?? '')) : undefined
  const counts = times.length > 2 && times.every((t, i) => i === 0 || t === times[i - 1]! + 1)
  const title = columns[timeColumn] ?? ''
  const isIndex =
    timeColumn >= 0 &&
    named === undefined &&
    (isCounter(title) || /^sequence$/i.test(units?.[timeColumn] ?? '') || (counts && !isTimeTitle(title)))
  return {
    delimiter: delimiter.charCodeAt(0),
    decimal: decimal.charCodeAt(0),
    headLines: from,
    columns,
    timeColumn,
    isIndex,
    mayBeIndex: counts && !isTimeTitle(title),
    unitUs: named,
    rateHz: statedRate(used.slice(0, from), decimal) ?? columnRate(used.slice(0, from), delimiter, decimal),
    voltsPerUnit,
    ampsPerUnit,
    rows,
    firstLine: from + 1,
  }
}

/** Where no rows are found because of one cell: names it. */
function unreadable(lines: string[], before = 0): void {
  for (const [i, line] of lines.entries()) {
    for (const delimiter of DELIMITERS) {
      const cells = splitRow(line, delimiter)
      const clock = cells.findIndex((c) => TIME_OF_DAY.test(c))
      if (cells.length > 1 && clock >= 0 && cells.some((c) => NUMBER['.']!.test(c))) {
        throw new InputError(
          `found the time of day ${JSON.stringify(cells[clock]!.slice(0, 40))}; expected a time as one number, such as seconds from the start of the record`,
          {
            line: before + i + 1,
            column: cells.slice(0, clock).join(delimiter).length + (clock > 0 ? 2 : 1),
          },
        )
      }
      const wrong = cells.findIndex((c) => !NUMBER['.']!.test(c) && !LEVEL.test(c) && c !== '')
      if (cells.length < 2 || wrong < 1 || !NUMBER['.']!.test(cells[0]!)) continue
      const found = JSON.stringify(cells[wrong]!.slice(0, 40))
      throw new InputError(`found ${found} in column ${wrong + 1}; expected a number or a level`, {
        line: before + i + 1,
        column: cells.slice(0, wrong).join(delimiter).length + 2,
      })
    }
  }
}

/** A line without words in front of the first row, with columns or as long as it, is a damaged row and no title. */
function mustBeWhole(lines: string[], from: number, delimiter: string): void {
  const at = lines.slice(0, from).findLastIndex((l) => l.trim() !== '' && !l.startsWith('#'))
  if (at < 0) return
  const line = lines[at]!
  // A number in front makes it a row, not a title.
  const cells = splitRow(line, delimiter)
  if (at === from - 1 && cells.length === splitRow(lines[from]!, delimiter).length) unreadable([line], at)
  const isLikeRow = line.includes(delimiter) || Math.abs(line.length - lines[from]!.length) <= 1
  if (/[A-Za-z]/.test(line) || !isLikeRow) return
  throw new InputError(
    `found ${JSON.stringify(line.slice(0, 60))}; expected a row of numbers like the next one`,
    {
      line: at + 1,
      column: 1,
    },
  )
}

/** A line of words as wide as the rows, or one cell beside it (a delimiter at the end of every row). */
function isTitle(cells: string[], width: number): boolean {
  if (cells.length < Math.min(width, 2) || Math.abs(cells.length - width) > 1) return false
  return cells.some((c) => /[A-Za-z]/.test(c))
}

function isUnits(cells: string[]): boolean {
  const bare = cells.map((c) => c.replace(/^[[(]\s*|\s*[\])]$/g, '').toLowerCase())
  const known = bare.some((c) => Object.hasOwn(UNIT_US, c) || /^(v|mv|volts?|sequence)$/.test(c))
  return known && bare.every((c) => /^[a-zµμ%]{0,12}$/.test(c) || NUMBER['.']!.test(c))
}

type RowTest = (cells: string[], number: RegExp) => boolean

interface Rows {
  delimiter: string
  decimal: string
  /** Line of the first row, from 0. */
  from: number
  rows: string[][]
}

/** The delimiter and decimal point that make the most of the lines. */
function bestOf(lines: string[], delimiters: readonly string[], isRow: RowTest): Rows | undefined {
  let best: Rows | undefined
  let most = 0
  for (const delimiter of delimiters) {
    for (const decimal of ['.', ',']) {
      // "0,000058","1": a decimal comma beside commas needs quotes.
      if (decimal === delimiter && !lines.some((l) => l.includes('"'))) continue
      const found = rowsOf(lines, delimiter, decimal, isRow)
      if (found === undefined) continue
      // More columns say more; a decimal comma only where it is needed.
      const score = found.rows.length * found.rows[0]!.length - (decimal === ',' ? 0.5 : 0)
      if (score <= most) continue
      most = score
      best = { delimiter, decimal, ...found }
    }
  }
  return best
}

function isPlain(cell: string, number: RegExp): boolean {
  return cell === '' || number.test(cell) || LEVEL.test(cell)
}

function isPlainRow(cells: string[], number: RegExp): boolean {
  return cells.every((c) => isPlain(c, number)) && cells.some((c) => number.test(c))
}

/** Other columns may hold words or hexadecimal. */
function isMixedRow(cells: string[], number: RegExp): boolean {
  return cells.length > 1 && number.test(cells[0]!) && cells.filter((c) => isPlain(c, number)).length > 1
}

/**
 * The rows: from the first two neighbours that are rows of the usual width. What comes after them and is none is
 * damage, for the reader of the rows to report.
 */
function rowsOf(
  lines: string[],
  delimiter: string,
  decimal: string,
  isRow: RowTest,
): { from: number; rows: string[][] } | undefined {
  const number = NUMBER[decimal]!
  const found: { at: number; cells: string[] }[] = []
  const widths = new Map<number, number>()
  let lastText = -1
  let neighbour = -1
  lines.forEach((line, at) => {
    if (line === '' || line.startsWith('#')) return
    const cells = splitRow(line, delimiter)
    if (!isRow(cells, number)) lastText = at
    else {
      found.push({ at, cells })
      widths.set(cells.length, (widths.get(cells.length) ?? 0) + 1)
    }
  })
  if (found.length === 0) return undefined
  const width = [...widths].reduce((a, b) => (b[1] > a[1] ? b : a))[0]
  const usual = found.filter((f) => f.cells.length === width)
  // Numbers alone among the words in front are settings, not a row.
  for (let i = 0; i + 1 < usual.length && neighbour < 0; i++) {
    const between = lines.slice(usual[i]!.at + 1, usual[i + 1]!.at)
    if (between.every((l) => l === '' || l.startsWith('#'))) neighbour = i
  }
  const begin = neighbour >= 0 ? neighbour : usual.findIndex((f) => f.at > lastText)
  if (begin < 0) return undefined
  return { from: usual[begin]!.at, rows: usual.slice(begin).map((f) => f.cells) }
}

/** Cells without the blanks and quotes around them; a delimiter inside quotes is text. */
export function splitRow(line: string, delimiter: string): string[] {
  const cells = line.includes('"') ? splitQuoted(line, delimiter) : line.split(delimiter)
  return cells.map((c) =>
    c
      .trim()
      .replace(/^"(.*)"$/, '$1')
      .trim(),
  )
}

function splitQuoted(line: string, delimiter: string): string[] {
  const cells: string[] = []
  let start = 0
  let quoted = false
  for (let i = 0; i < line.length; i++) {
    if (line[i] === '"') quoted = !quoted
    else if (line[i] === delimiter && !quoted) {
      cells.push(line.slice(start, i))
      start = i + 1
    }
  }
  cells.push(line.slice(start))
  return cells
}

export function toNumber(text: string, decimal: string): number {
  return text === '' ? Number.NaN : Number(decimal === ',' ? text.replace(',', '.') : text)
}

/** A title of a time, or one with a unit of time. */
function isTimeTitle(title: string): boolean {
  return (
    /^\s*(time|t|zeit|timestamp|x|x-axis|seconds?)\b|time/i.test(title) ||
    (/[[(]/.test(title) && unitOf(title) !== undefined)
  )
}

/** A title of a column that counts rows or samples. */
function isCounter(title: string): boolean {
  return /^(#|n|no\.?|nr\.?|num(ber)?|index|idx|row|count(er)?|point|sample.*)$/i.test(title.trim())
}

/** The time is the column called so, or the first one if its numbers only rise. */
function findTime(columns: string[], numbers: (i: number) => number[], width: number): number {
  const named = columns.findIndex(isTimeTitle)
  if (named >= 0) return named
  if (width < 2) return -1
  // Some writers leave columns empty in front of it.
  for (let i = 0; i < width; i++) {
    const list = numbers(i)
    if (list.every(Number.isNaN)) continue
    // Samples are counted beside a time that is written too: that one is the time, whatever it is called.
    if (isCounter(columns[i]!) && i + 1 < width && rises(numbers(i + 1))) return i + 1
    const known = list.every((t) => !Number.isNaN(t))
    return known && rises(list) ? i : -1
  }
  return -1
}

/** Numbers that only rise; a step back here and there is damage, for the reader of the rows to report. */
function rises(list: number[]): boolean {
  const steps = list.slice(1).map((t, k) => t - list[k]!)
  const falls = steps.filter((d) => d < 0).length
  return (
    falls <= (steps.length >= 5 ? Math.max(1, steps.length / 20) : 0) &&
    new Set(list).size > Math.min(2, list.length - 1) &&
    list.some((t) => !Number.isNaN(t))
  )
}

/** Volts of one unit named in brackets or alone: `CH1 (mV)`, `Volt`. */
function voltsOf(title: string): number | undefined {
  const match = /[[(]\s*([A-Za-zµμ]+)\s*[\])]/.exec(title)?.[1] ?? title.trim()
  if (/^(v|volts?)$/i.test(match)) return 1
  if (/^(mv|millivolts?)$/.test(match) || match === 'mV') return 1e-3
  if (/^[uµμ]V$/.test(match)) return 1e-6
  return match === 'kV' ? 1e3 : undefined
}

/** Amperes of one unit named in brackets, `I (mA)`: a channel may be called A. */
function ampsOf(title: string): number | undefined {
  return AMPS[/[[(]\s*([A-Za-zµμ]+)\s*[\])]/.exec(title)?.[1] ?? '']
}

/** `X,CH1,Start,Increment` above `Sequence,Volt,-6e-4,1e-6`: the time of one sample, s, under its title. */
function columnRate(lines: string[], delimiter: string, decimal: string): number | undefined {
  for (let i = 0; i + 1 < lines.length; i++) {
    const at = splitRow(lines[i]!, delimiter).findIndex((c) => /^(x ?)?increment$/i.test(c))
    if (at < 0) continue
    const value = toNumber(splitRow(lines[i + 1]!, delimiter)[at] ?? '', decimal)
    if (value > 0 && value < 1) return 1 / value
  }
  return undefined
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
