/** The proof as one HTML file: no scripts, nothing loaded, light and dark, fit to print. */

import { CLAUSE_EXPLAINED, type Origin } from '../standard/index.js'
import { capital } from '../units/index.js'
import { changeText, sinceText } from './baseline/changes.js'
import { classOf, htmlPage, marginBar, text } from './html-page.js'
import { isShownCell, ORIGINS, type Proof, type Row } from './proof.js'
import {
  countText,
  inputText,
  marginText,
  missingText,
  placeText,
  rowName,
  sentence,
  sentences,
  staleText,
  stationName,
  troubles,
  valueText,
  verdictText,
  verdictWord,
} from './words.js'

export function proofHtml(proof: Proof): string {
  const { about, profile } = proof
  const facts: [string, string][] = [
    ['Standard', `${profile.title}, edition ${profile.edition} (${profile.documents})`],
    ['Scale', profile.scale],
    ...about.inputs.map((input): [string, string] => ['Input', inputText(input)]),
    ['Made by', `halfbit ${about.version}${about.date === undefined ? '' : `, ${about.date}`}`],
  ]
  const list = (title: string, all: readonly string[]) =>
    all.length === 0 ? '' : `<h2>${title}</h2>\n<ul>${all.map((s) => `<li>${text(s)}</li>`).join('')}</ul>\n`
  const missing = missingText(proof)
  return htmlPage(
    `Proof of ${stationName(about)}`,
    `<h1>Proof of ${text(stationName(about))}</h1>
${proof.stale ? `<p class="verdict undecided">${text(staleText(proof))}</p>\n` : ''}<p class="verdict ${missing.length > 0 ? 'broken' : classOf(proof.verdict)}">${text(verdictText(proof))}</p>
<dl>${facts.map(([term, fact]) => `<dt>${term}</dt><dd>${text(fact)}</dd>`).join('')}</dl>
${sinceHtml(proof)}${list('Required, and not shown', missing)}${troubleHtml(proof)}<h2 id="clauses">Clause by clause</h2>
<div class="wide" tabindex="0" role="region" aria-labelledby="clauses">
<table>
<caption>The bar is the margin: full in the centre of the window, empty at its limit, dashed outside of it. What is not shown is not met. A dash: this origin cannot show the clause.</caption>
<thead><tr><th scope="col">Clause</th><th scope="col">Demand</th>${ORIGINS.map((o) => `<th scope="col">${capital(o)}</th>`).join('')}</tr></thead>
<tbody>
${proof.rows.map(rowHtml).join('\n')}
</tbody>
</table>
</div>
${list('Notes', sentences(about.notes))}${list('Care', sentences(about.cautions))}${aboutClauses(proof)}`,
  )
}

/** What differs from the accepted proof. */
function sinceHtml({ since }: Proof): string {
  if (!since) return ''
  const look = since.worse.length > 0 ? 'broken' : 'met'
  const items = [
    ...since.worse.map((c) => `<li><strong class="broken">worse</strong>: ${text(changeText(c))}</li>`),
    ...since.better.map((c) => `<li><strong class="met">better</strong>: ${text(changeText(c))}</li>`),
    ...since.others.map((c) => `<li>neither: ${text(changeText(c))}</li>`),
  ]
  return `<h2>Since the accepted proof</h2>
<p class="${look}">${text(sinceText(since))}</p>
${items.length > 0 ? `<ul>${items.join('')}</ul>\n` : ''}`
}

/** What each clause of the table means, in the same file, so that it can be read without a network. */
function aboutClauses(proof: Proof): string {
  const rows = new Map(proof.rows.map((row) => [row.clause, row]))
  const parts = [...rows.values()].map(({ clause, title }) => {
    const { means, why, usually } = CLAUSE_EXPLAINED[clause]
    const texts = [
      means,
      `Why it matters: ${why}`,
      `What people usually do (common practice, no source): ${usually}`,
    ]
    return `<details id="about-${clause}"><summary><strong>${clause}</strong>, ${text(title)}</summary>${texts.map((t) => `<p>${text(t)}</p>`).join('')}</details>`
  })
  return `<h2>What the clauses mean</h2>\n${parts.join('\n')}\n`
}

/** What needs the reader's eye stands before the table. */
function troubleHtml(proof: Proof): string {
  const items = troubles(proof).map(({ row, origin, evidence: e }) => {
    const found = [valueText(e), row.limits ? `limit ${row.limits}` : '', countText(e)]
      .filter(Boolean)
      .join(', ')
    const tail = [row.source, placeText(e)].filter(Boolean).join('; ')
    return `<li><strong class="${classOf(e.verdict)}">${verdictWord(e.verdict)} ${text(rowName(row))}</strong>, ${origin}: ${text(found)}. ${text(sentence(e.because))} <small>${text(tail)}</small></li>`
  })
  return items.length > 0 ? `<h2>What is broken or undecided</h2>\n<ol>${items.join('\n')}</ol>\n` : ''
}

function rowHtml(row: Row): string {
  const cells = ORIGINS.map((origin) => cellHtml(row, origin))
  const only =
    row.because === undefined ? '' : `<small class="undecided">${text(sentence(row.because))}</small>`
  return `<tr><th scope="row"><a href="#about-${row.clause}">${text(rowName(row))}</a><small>${text(row.title)}</small>${only}</th><td class="demand">${text(row.demand)}<small>${text(row.source)}</small></td>${cells.join('')}</tr>`
}

function cellHtml(row: Row, origin: Origin): string {
  const cell = row.cells[origin]
  if (cell === undefined) return '<td class="cell none">-</td>'
  const further = (cell.unshown ?? []).map((e) => `<p>${text(sentence(e.because))}</p>`)
  if (!isShownCell(cell))
    return `<td class="cell none">not shown<details><summary>why</summary><p>${text(sentence(cell.because))}</p>${further.join('')}</details></td>`
  const details = cell.evidence.map((e) => {
    const tail = [countText(e), placeText(e)].filter(Boolean).join('; ')
    return `<p>${text(valueText(e))}: ${text(sentence(e.because))}${tail ? ` <small>${text(tail)}</small>` : ''}</p>`
  })
  const only = row.finding !== undefined
  const words = only ? `(${verdictWord(cell.verdict)})` : verdictWord(cell.verdict)
  const look = only ? 'not shown' : cell.verdict
  return `<td class="cell"><strong class="${classOf(look)}">${words}</strong>${marginBar(cell.margin, look)}<small>margin ${text(marginText(cell.margin))}, ${text(valueText(cell.evidence[0]!))}</small><details><summary>why</summary>${[...details, ...further].join('')}</details></td>`
}
