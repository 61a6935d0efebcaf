/** The proof as JUnit XML, for continuous integration: one test case per clause and origin. */
import { ORIGINS, type Proof } from './proof.js'
import { placeText, rowName, valueText } from './words.js'

/** Not shown is skipped, broken a failure, undecided an error: neither passes. */
export function proofJunit(proof: Proof): string {
  const suites = ORIGINS.map((origin) => {
    let failures = 0
    let errors = 0
    let skipped = 0
    const cases = proof.rows.map((row) => {
      const head = `    <testcase classname="${xml(`${proof.about.name}.${origin}`)}" name="${xml(rowName(row))}"`
      const cell = row.cells[origin]
      if (cell === undefined) {
        skipped++
        return `${head}><skipped message="not shown"/></testcase>`
      }
      const [worst] = cell.evidence
      if (cell.verdict === 'met') return `${head}/>`
      const kind = cell.verdict === 'broken' ? 'failure' : 'error'
      if (kind === 'failure') failures++
      else errors++
      const message = `${cell.verdict}: ${valueText(worst!)}, limit ${row.limits || 'none'}`
      const detail = cell.evidence
        .map((e) => [e.because, placeText(e), row.source].filter(Boolean).join('; '))
        .join('\n')
      return `${head}><${kind} type="${row.clause}" message="${xml(message)}">${xml(detail)}</${kind}></testcase>`
    })
    const counts = `tests="${cases.length}" failures="${failures}" errors="${errors}" skipped="${skipped}"`
    return `  <testsuite name="${origin}" ${counts}>\n${cases.join('\n')}\n  </testsuite>`
  })
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="${xml(proof.about.name)}">\n${suites.join('\n')}\n</testsuites>\n`
}

/** Escaped; characters that XML 1.0 does not allow at all become a replacement character. */
export function xml(text: string): string {
  return text
    .replace(
      /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g,
      '\ufffd',
    )
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
}
