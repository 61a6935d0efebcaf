/** The table of proofs as JUnit XML: a suite for each variant, a test case for each cell. */
import { junitCounts, xml } from '../junit.js'
import { inputText, marginText } from '../words.js'
import type { Matrix, MatrixCell, MatrixRow } from './matrix.js'

type Outcome = 'failure' | 'error' | 'skipped' | 'passed'

/** Broken is a failure, undecided an error; a cell with a clause that is not shown is skipped and never passes. */
export function matrixJunit(matrix: Matrix): string {
  const total = { tests: 0, failures: 0, errors: 0, skipped: 0 }
  const suites = matrix.rows.map((row) => {
    const count = { tests: 0, failures: 0, errors: 0, skipped: 0 }
    const tell = (outcome: Outcome) => {
      count.tests++
      if (outcome === 'failure') count.failures++
      if (outcome === 'error') count.errors++
      if (outcome === 'skipped') count.skipped++
    }
    const head = (name: string) =>
      `    <testcase classname="${xml(`${matrix.design}.${row.variant}`)}" name="${xml(name)}" time="0"`
    const cases = matrix.columns.flatMap((column) => {
      const cell = row.cells[column]
      if (cell === undefined) return []
      const [outcome, body] = outcomeOf(column, cell, row)
      tell(outcome)
      return outcome === 'passed' ? [`${head(column)}/>`] : [`${head(column)}>${body}</testcase>`]
    })
    for (const what of row.missing) {
      tell('failure')
      cases.push(
        `${head(`required: ${what}`)}><failure type="required" message="${xml(`required, not shown: ${what}`)}"/></testcase>`,
      )
    }
    for (const key of ['tests', 'failures', 'errors', 'skipped'] as const) total[key] += count[key]
    const facts: [string, string][] = [
      ['advice', row.finding.sentence],
      ...row.inputs.map((input): [string, string] => ['input', inputText(input)]),
      ['halfbit', matrix.version],
    ]
    const stamp = matrix.date === undefined ? '' : ` timestamp="${xml(matrix.date)}"`
    return [
      `  <testsuite name="${xml(row.variant)}" ${junitCounts(count)} time="0"${stamp}>`,
      '    <properties>',
      ...facts.map(([name, value]) => `      <property name="${name}" value="${xml(value)}"/>`),
      '    </properties>',
      ...cases,
      '  </testsuite>',
    ].join('\n')
  })
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="${xml(matrix.design)}" ${junitCounts(total)} time="0">\n${suites.join('\n')}\n</testsuites>\n`
}

function outcomeOf(column: string, cell: MatrixCell, row: MatrixRow): [Outcome, string] {
  const told = row.troubles
    .filter((t) => t.column === column)
    .map((t) => `${t.verdict} ${t.clause}, ${t.origin}: ${t.value}, limit ${t.limits}. ${t.because}`)
    .join('\n')
  const margin =
    cell.margin === undefined ? '' : `, smallest margin ${marginText(cell.margin)} (${cell.worst})`
  if (cell.verdict === 'broken')
    return [
      'failure',
      `<failure type="broken" message="${xml(`${cell.counts.broken} broken${margin}`)}">${xml(told)}</failure>`,
    ]
  if (cell.verdict === 'undecided')
    return [
      'error',
      `<error type="undecided" message="${xml(`${cell.counts.undecided} undecided${margin}`)}">${xml(told)}</error>`,
    ]
  if (cell.verdict === 'not shown')
    return ['skipped', `<skipped message="${xml(`not shown: ${cell.notShown.join(', ')}`)}"/>`]
  return ['passed', '']
}
