/** What a reading says, for the terminal. */
import { textBar } from '../plot/text.js'
import type { HalfBitStats, SignalReading } from '../signal/index.js'
import { formatNumber, formatRange, formatTimeUs } from '../units/index.js'

export function readingText(reading: SignalReading): string[] {
  const { packets, preamble, shift } = reading
  const lines = [halfBitLine('Ones ', reading.one), halfBitLine('Zeros', reading.zero)]
  if (reading.zeroTotal.stretched > 0)
    lines.push(
      `Stretched ${reading.zeroTotal.stretched} zeros, the longest ${formatTimeUs(reading.zeroTotal.high)}`,
    )
  if (shift.constant) {
    lines.push(
      `Polarity  high halves are ${formatNumber(Math.abs(shift.highUs), 3)} us ${shift.highUs > 0 ? 'longer' : 'shorter'} than their share, on ones and zeros alike: probe or driver`,
    )
  }
  const spoiled = packets.spoiled > 0 ? `; ${packets.spoiled} more were spoiled` : ''
  const sent =
    preamble.sent.count > 0 ? `, preambles of ${preamble.sent.low} to ${preamble.sent.high} ones` : ''
  lines.push(`Packets   ${packets.total}, of which ${packets.valid} valid${spoiled}${sent}`)
  lines.push(...histogramText(reading))
  return lines
}

function halfBitLine(name: string, stats: HalfBitStats): string {
  if (stats.count === 0) return `${name}     none seen`
  const range = formatRange(stats.minUs, stats.maxUs, 'us', 4)
  return `${name}     ${stats.count} halves of ${range}, mean ${formatTimeUs(stats.meanUs)}, spread ${formatTimeUs(stats.spreadUs, 2)}`
}

/** Half-bits by duration and polarity, one line a microsecond, empty stretches left out. */
function histogramText({ histogram }: SignalReading): string[] {
  const per = Math.round(1 / histogram.binUs)
  const rows: { us: number; high: number; low: number }[] = []
  for (let us = 0; us * per < histogram.high.length; us++) {
    const sum = (list: number[]) => list.slice(us * per, (us + 1) * per).reduce((a, b) => a + b, 0)
    const row = { us, high: sum(histogram.high), low: sum(histogram.low) }
    if (row.high + row.low > 0) rows.push(row)
  }
  if (rows.length === 0) return []
  const most = Math.max(...rows.flatMap((r) => [r.high, r.low]))
  const shown =
    rows.length > 24
      ? [...rows]
          .sort((a, b) => b.high + b.low - a.high - a.low)
          .slice(0, 24)
          .sort((a, b) => a.us - b.us)
      : rows
  // A logarithm, so that one stray half-bit among millions shows.
  const bar = (n: number) =>
    n === 0 ? ' '.repeat(16) : textBar((1 + Math.log10(n)) / (1 + Math.log10(most)), 16)
  const last = Math.floor(histogram.high.length / per) - 1
  return [
    '',
    '    us  high (logarithmic)          low',
    ...shown.map(
      (r) =>
        `${r.us === last ? '≥' : ' '}${String(r.us).padStart(5)}  ${bar(r.high)} ${String(r.high).padStart(8)}  ${bar(r.low)} ${String(r.low).padStart(8)}`,
    ),
    ...(rows.length > shown.length ? [`        and ${rows.length - shown.length} more durations`] : []),
  ]
}

const FINDINGS = 12
const FINDINGS_PER_CLAUSE = 3

/** The first findings of every clause with their times. */
export function findingsText({ findings, unlisted }: SignalReading): string[] {
  if (findings.length === 0) return []
  const seen: Partial<Record<string, number>> = {}
  const first = findings
    .filter((f) => {
      const nth = (seen[f.clause] ?? 0) + 1
      seen[f.clause] = nth
      return nth <= FINDINGS_PER_CLAUSE
    })
    .slice(0, FINDINGS)
  const more = findings.length - first.length + Object.values(unlisted).reduce((a, b) => a + b, 0)
  return [
    '',
    'First findings:',
    ...first.map(
      (f) =>
        `  ${formatTimeUs(f.timeUs, 8).padStart(14)}  ${f.clause.padEnd(16)} ${f.text}${f.packet ? ` (${f.packet})` : ''}`,
    ),
    ...(more > 0 ? [`  and ${more} more`] : []),
  ]
}
