/** The proof as JUnit XML, for continuous integration: one test case per clause and origin. */
import { changeText } from './baseline/changes.js'
import { hasCell, isRequired, isShownCell, ORIGINS, type Proof } from './proof.js'
import {
  countText,
  inputText,
  placeText,
  rowName,
  staleText,
  stationName,
  valueText,
  verdictText,
} from './words.js'

/**
 * Not shown is skipped, with its reason, unless it was required: then it is a failure, as broken is. Undecided is an
 * error. A row that is calculated only is skipped too: it does not pass. There is one suite for each origin; its
 * properties name the standard, the inputs and the program.
 */
export function proofJunit(proof: Proof): string {
  const { about, profile } = proof
  const facts: [string, string][] = [
    [
      'standard',
      `${profile.title}, edition ${profile.edition} (${profile.documents}), scale ${profile.scale}`,
    ],
    ...about.inputs.map((input): [string, string] => ['input', inputText(input)]),
    ['halfbit', about.version],
    ['verdict', verdictText(proof)],
    ...(proof.stale ? [['out of date', staleText(proof)] as [string, string]] : []),
    ...(about.notes ?? []).map((note): [string, string] => ['note', note.sentence]),
  ]
  const properties = facts.map(([name, value]) => `      <property name="${name}" value="${xml(value)}"/>`)
  const total = { tests: 0, failures: 0, errors: 0, skipped: 0 }
  const suites = ORIGINS.map((origin) => {
    const count = { tests: 0, failures: 0, errors: 0, skipped: 0 }
    const head = (name: string) =>
      `    <testcase classname="${xml(`${stationName(about)}.${origin}`)}" name="${xml(name)}" time="0"`
    const cases = proof.rows.flatMap((row) => {
      const cell = row.cells[origin]
      if (cell === undefined) return []
      count.tests++
      const own = head(rowName(row))
      if (!isShownCell(cell)) {
        const message = `not shown: ${cell.because}`
        if (proof.required && isRequired(proof.required.origins, origin, row.clause)) {
          count.failures++
          return `${own}><failure type="${row.clause}" message="${xml(`required, ${message}`)}"/></testcase>`
        }
        count.skipped++
        return `${own}><skipped message="${xml(message)}"/></testcase>`
      }
      if (cell.verdict === 'met' && row.because !== undefined) {
        count.skipped++
        return `${own}><skipped message="${xml(row.because)}"/></testcase>`
      }
      if (cell.verdict === 'met') return `${own}/>`
      const kind = cell.verdict === 'broken' ? 'failure' : 'error'
      count[kind === 'failure' ? 'failures' : 'errors']++
      const [worst] = cell.evidence
      const message = `${cell.verdict}: ${valueText(worst!)}, limit ${row.limits || 'see the demand'}`
      const detail = [
        row.demand,
        ...cell.evidence.map((e) => [e.because, countText(e), placeText(e)].filter(Boolean).join('; ')),
        row.source,
      ].join('\n')
      return `${own}><${kind} type="${row.clause}" message="${xml(message)}">${xml(detail)}</${kind}></testcase>`
    })
    // Required by name, and owed by nothing in the design: no row has it.
    for (const m of proof.required?.missing ?? []) {
      if (m.origin !== origin || hasCell(proof.rows, m.clause, origin)) continue
      count.tests++
      count.failures++
      cases.push(
        `${head(m.clause)}><failure type="${m.clause}" message="${xml(`required, not shown: ${m.because}`)}"/></testcase>`,
      )
    }
    for (const key of ['tests', 'failures', 'errors', 'skipped'] as const) total[key] += count[key]
    return [
      `  <testsuite name="${origin}" ${junitCounts(count)} time="0"${stamp(proof)}>`,
      '    <properties>',
      ...properties,
      '    </properties>',
      ...cases,
      '  </testsuite>',
    ].join('\n')
  })
  if (proof.since) {
    const { worse, others } = proof.since
    const tests = Math.max(1, worse.length) + others.length
    const name = `${stationName(about)}.since the accepted proof`
    const head = (what: string) => `    <testcase classname="${xml(name)}" name="${xml(what)}" time="0"`
    const count = { tests, failures: worse.length, errors: 0, skipped: others.length }
    for (const key of ['tests', 'failures', 'errors', 'skipped'] as const) total[key] += count[key]
    const cases = worse.map(
      (c) => `${head(c.clause)}><failure type="worse" message="${xml(changeText(c))}"/></testcase>`,
    )
    if (cases.length === 0) cases.push(`${head('nothing is worse')}/>`)
    cases.push(
      ...others.map((c) => `${head(c.clause)}><skipped message="${xml(changeText(c))}"/></testcase>`),
    )
    suites.push(
      [
        `  <testsuite name="since the accepted proof" ${junitCounts(count)} time="0"${stamp(proof)}>`,
        ...cases,
        '  </testsuite>',
      ].join('\n'),
    )
  }
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="${xml(stationName(about))}" ${junitCounts(total)} time="0">\n${suites.join('\n')}\n</testsuites>\n`
}

export function junitCounts(count: Record<string, number>): string {
  return Object.entries(count)
    .map(([name, n]) => `${name}="${n}"`)
    .join(' ')
}

function stamp({ about }: Proof): string {
  return about.date === undefined ? '' : ` timestamp="${xml(about.date)}"`
}

/** Escaped; characters that XML 1.0 or HTML do not allow at all become a replacement character. */
export function xml(text: string): string {
  return text
    .replace(
      /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\p{Surrogate}\p{Noncharacter_Code_Point}]/gu,
      '\ufffd',
    )
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
    .replace(/'/g, '&#39;')
}
