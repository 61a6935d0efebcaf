/** What a reading says, for the terminal. */
import type { HalfBitStats, SignalReading } from '../signal/index.js'
import type { Evidence } from '../standard/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'

export function readingText(reading: SignalReading): string[] {
  const { packets } = reading
  const lines = [halfBitLine('Ones ', reading.one), halfBitLine('Zeros', reading.zero)]
  lines.push(
    `Packets   ${packets.total}, of which ${packets.valid} valid${packets.spoiled > 0 ? `; ${packets.spoiled} more were spoiled` : ''}`,
  )
  return lines
}

function halfBitLine(name: string, stats: HalfBitStats): string {
  if (stats.count === 0) return `${name}     none seen`
  const range = `${formatTimeUs(stats.minUs)} to ${formatTimeUs(stats.maxUs)}`
  return `${name}     ${stats.count} halves of ${range}, mean ${formatTimeUs(stats.meanUs)}, spread ${formatTimeUs(stats.spreadUs, 2)}`
}

/** One line per clause: verdict, clause, margin, reason. */
export function evidenceText(evidence: readonly Evidence[]): string[] {
  const width = Math.max(0, ...evidence.map((e) => e.clause.length))
  return evidence.map(
    (e) =>
      `${e.verdict.padEnd(9)} ${e.clause.padEnd(width)}  margin ${formatNumber(e.margin, 2).padStart(6)}  ${e.because}`,
  )
}
