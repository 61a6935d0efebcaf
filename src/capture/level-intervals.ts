/** How long levels last in rows of unknown times: half-bits of a track signal tell their unit. */
import { splitRow, toNumber } from './dialect.js'
import { textOf } from './text.js'

interface Columns {
  timeColumn: number
  column: number
  delimiter: string
  decimal: string
}

/** Rows that are looked at most: of a fast record every so many. */
const MOST_ROWS = 400_000

/** Times between changes of a level, in units of the time column. A voltage changes its level beyond a quarter of its swing. */
export function levelIntervals(bytes: Uint8Array, headLines: number, columns: Columns): number[] {
  const { timeColumn, column, delimiter, decimal } = columns
  const lines = textOf(bytes)
    .split('\n')
    .slice(headLines, headLines + MOST_ROWS)
  const times: number[] = []
  const values: number[] = []
  for (const line of lines) {
    if (line.trim() === '' || line.startsWith('#')) continue
    const cells = splitRow(line, delimiter)
    const time = toNumber(cells[timeColumn] ?? '', decimal)
    const value = levelOf(cells[column] ?? '', decimal)
    // The last line may be cut, and a damaged one is for the reader of the rows to report.
    if (Number.isNaN(time) || Number.isNaN(value)) continue
    times.push(time)
    values.push(value)
  }
  // A few values beyond the others are spikes or damage.
  const sorted = Float64Array.from(values).sort()
  const low = sorted[Math.floor(sorted.length * 0.005)] ?? 0
  const high = sorted[Math.ceil(sorted.length * 0.995) - 1] ?? 0
  const up = (low + high) / 2 + (high - low) / 4
  const down = (low + high) / 2 - (high - low) / 4
  const intervals: number[] = []
  let side = 0
  let since = Number.NaN
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!
    const now = v > up ? 1 : v < down ? -1 : side
    if (now === side) continue
    if (!Number.isNaN(since)) intervals.push(times[i]! - since)
    // The first level began before the record did.
    if (side !== 0) since = times[i]!
    side = now
  }
  return intervals
}

function levelOf(text: string, decimal: string): number {
  if (/^(h|high|true)$/i.test(text)) return 1
  if (/^(l|low|false)$/i.test(text)) return 0
  return text === '' ? Number.NaN : toNumber(text, decimal)
}

/** Intervals that could be half-bits, with this unit. */
export function halfBits(intervals: readonly number[], unitUs: number): number {
  return intervals.filter((g) => g * unitUs > 40 && g * unitUs < 140).length
}
