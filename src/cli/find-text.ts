/** A diagnosis on the terminal. */
import type { FindReport } from '../find/index.js'
import { textTable, wrapText } from '../plot/index.js'
import { capital, formatNumber, formatShare } from '../units/index.js'

/** More explanations than these are not listed. */
const MOST_LISTED = 8
/** Columns of what is expected. */
const EXPECTED = 22

export function diagnosisText(report: FindReport, width: number): string[] {
  const lines = [...wrapText(`${capital(report.finding.sentence)}.`, width)]
  for (const note of report.notes) lines.push(...wrapText(`Note: ${note.sentence}.`, width))
  const listed = report.ranking.slice(0, MOST_LISTED)
  if (report.outcome !== 'found' && listed.length > 0) {
    lines.push('')
    const rows = listed.map((r) => [
      formatShare(r.probability),
      r.words,
      r.misfits.length > 0 ? `${r.misfits.length} unexplained` : '',
    ])
    lines.push(
      ...textTable(
        [{ head: 'likely', align: 'right' }, { head: 'explanation', wrap: 30 }, { head: 'readings' }],
        rows,
        width,
      ),
    )
  }
  if (report.next.length > 0) lines.push('', ...nextText(report, width))
  return lines
}

/** The reading to take next, how, and what the leaders expect of it; nothing where there is none. */
export function nextText(report: FindReport, width: number): string[] {
  const [first, ...others] = report.next
  if (!first) return []
  const lines = wrapText(
    `Next reading (${first.minutes} min): ${first.place}, ${first.quantity}; with ${first.with}`,
    width,
  )
  lines.push(...wrapText(howOf(first), width - 2).map((line) => `  ${line}`))
  for (const e of first.expects) {
    const [own, ...more] = wrapText(`if ${wordsOf(report, e.id)}`, width - EXPECTED - 6)
    lines.push(`  ${e.says.padEnd(EXPECTED)} ${own}`)
    lines.push(...more.map((line) => `${' '.repeat(EXPECTED + 6)}${line}`))
  }
  if (others.length > 0)
    lines.push(
      ...wrapText(`Nearly as good: ${others.map((n) => `${n.place}, ${n.quantity}`).join('; ')}.`, width),
    )
  return lines
}

export function howOf(next: FindReport['next'][number]): string {
  return next.testOhm === undefined
    ? next.how
    : `${next.how} Test resistor: ${formatNumber(next.testOhm)} Ohm.`
}

function wordsOf(report: FindReport, id: string): string {
  return report.ranking.find((r) => r.id === id)?.words ?? id
}
