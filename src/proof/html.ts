/** The proof as one HTML file: no scripts, nothing loaded, light and dark, fit to print. */
import { xml } from './junit.js'
import { type Cell, ORIGINS, type Proof, type Row } from './proof.js'
import {
  countText,
  inputText,
  marginText,
  oneLine,
  placeText,
  rowName,
  troubles,
  valueText,
  verdictText,
  verdictWord,
} from './words.js'

const STYLE = `
:root{color-scheme:light dark;--paper:#f7f5f0;--sheet:#fffefb;--ink:#1b2733;--quiet:#54616e;--rule:#d4d0c5;--met:#17643a;--broken:#a3212f;--undecided:#6b5300}
@media(prefers-color-scheme:dark){:root{--paper:#0f1a26;--sheet:#15232f;--ink:#e7edf3;--quiet:#a3b2c0;--rule:#2c4052;--met:#84d6a4;--broken:#ff9aa2;--undecided:#ecd27b}}
*{box-sizing:border-box}body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.45 system-ui,"DejaVu Sans",sans-serif}
main{max-width:80rem;margin:0 auto;padding:1.5rem}h1{font-size:1.5rem;margin:0 0 .3rem}h2{font-size:1.15rem;margin:2rem 0 .5rem}
.verdict{font-weight:600;padding:.6rem .9rem;border-left:.5rem solid;background:var(--sheet)}
.met{color:var(--met)}.broken{color:var(--broken)}.undecided{color:var(--undecided)}.none{color:var(--quiet)}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .9rem;margin:1rem 0}dt{color:var(--quiet)}dd{margin:0;overflow-wrap:anywhere}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;background:var(--sheet)}
caption{text-align:left;color:var(--quiet);padding:0 0 .5rem}th,td{text-align:left;vertical-align:top;padding:.4rem .6rem;border-bottom:1px solid var(--rule)}
tbody th{font-weight:600;min-width:9rem}td.demand{min-width:14rem}td.cell{min-width:11rem}small{color:var(--quiet);display:block;font-weight:400;font-size:.87em}
svg{display:block;margin:.25rem 0}details{max-width:30rem;overflow-wrap:anywhere}summary{cursor:pointer;color:var(--quiet);font-size:.87em}details p{margin:.3rem 0}
ol{padding-left:1.4rem}li{margin:.5rem 0;overflow-wrap:anywhere}:focus-visible{outline:2px solid currentColor;outline-offset:2px}
@media print{:root{--paper:#fff;--sheet:#fff;--ink:#000;--quiet:#333;--rule:#999;--met:#0b4a27;--broken:#7d0f1c;--undecided:#4a3a00}body{font-size:11px}main{max-width:none;padding:0}.wide{overflow:visible}tr,li{break-inside:avoid}thead{display:table-header-group}details::details-content{display:block;content-visibility:visible}summary{display:none}td.demand,td.cell,tbody th{min-width:0}}
`

export function proofHtml(proof: Proof): string {
  const { about, profile } = proof
  const facts: [string, string][] = [
    ['Standard', `${profile.title}, edition ${profile.edition} (${profile.documents})`],
    ['Scale', profile.scale],
    ...about.inputs.map((input): [string, string] => ['Input', inputText(input)]),
    ['Made by', `halfbit ${about.version}${about.date === undefined ? '' : `, ${about.date}`}`],
  ]
  const list = (title: string, sentences: readonly string[] = []) =>
    sentences.length === 0
      ? ''
      : `<h2>${title}</h2>\n<ul>${sentences.map((s) => `<li>${text(s)}</li>`).join('')}</ul>\n`
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Proof of ${text(about.name)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
<h1>Proof of ${text(about.name)}</h1>
<p class="verdict ${classOf(proof.verdict)}">${text(verdictText(proof))}</p>
<dl>${facts.map(([term, fact]) => `<dt>${term}</dt><dd>${text(fact)}</dd>`).join('')}</dl>
${troubleHtml(proof)}<h2 id="clauses">Clause by clause</h2>
<div class="wide" tabindex="0" role="region" aria-labelledby="clauses">
<table>
<caption>The bar is the margin: full in the centre of the window, empty at its limit, dashed outside of it. What is not shown is not met.</caption>
<thead><tr><th scope="col">Clause</th><th scope="col">Demand</th>${ORIGINS.map((o) => `<th scope="col">${capital(o)}</th>`).join('')}</tr></thead>
<tbody>
${proof.rows.map(rowHtml).join('\n')}
</tbody>
</table>
</div>
${list('Notes', about.notes)}${list('Care', about.cautions)}</main>
</body>
</html>
`
}

/** What needs the reader's eye stands before the table. */
function troubleHtml(proof: Proof): string {
  const items = troubles(proof).map(({ row, origin, evidence: e }) => {
    const found = [valueText(e), row.limits ? `limit ${row.limits}` : '', countText(e)]
      .filter(Boolean)
      .join(', ')
    const tail = [row.source, placeText(e)].filter(Boolean).join('; ')
    return `<li><strong class="${classOf(e.verdict)}">${verdictWord(e.verdict)} ${text(rowName(row))}</strong>, ${origin}: ${text(found)}. ${text(e.because)}. <small>${text(tail)}</small></li>`
  })
  return items.length > 0 ? `<h2>What is broken or undecided</h2>\n<ol>${items.join('\n')}</ol>\n` : ''
}

function rowHtml(row: Row): string {
  const cells = ORIGINS.map((origin) => cellHtml(row.cells[origin]))
  return `<tr><th scope="row">${text(rowName(row))}<small>${text(row.title)}</small></th><td class="demand">${text(row.demand)}<small>${text(row.source)}</small></td>${cells.join('')}</tr>`
}

function cellHtml(cell: Cell | undefined): string {
  if (cell === undefined) return '<td class="cell none">not shown</td>'
  const details = cell.evidence.map((e) => {
    const tail = [countText(e), placeText(e)].filter(Boolean).join('; ')
    return `<p>${text(valueText(e))}: ${text(e.because)}.${tail ? ` <small>${text(tail)}</small>` : ''}</p>`
  })
  return `<td class="cell"><strong class="${classOf(cell.verdict)}">${verdictWord(cell.verdict)}</strong>${bar(cell)}<small>margin ${text(marginText(cell.margin))}, ${text(valueText(cell.evidence[0]!))}</small><details><summary>why</summary>${details.join('')}</details></td>`
}

/** A margin as a bar; outside the window it is a dashed outline, so that colour is not needed. */
function bar({ margin, verdict }: Cell): string {
  const width = Math.round(Math.min(1, Math.max(0, margin)) * 100)
  const outline = margin < 0 ? ' stroke-dasharray="3 2"' : ' stroke-opacity=".45"'
  return `<svg width="102" height="8" viewBox="0 0 102 8" aria-hidden="true" class="${classOf(verdict)}"><rect x=".5" y=".5" width="101" height="7" fill="none" stroke="currentColor"${outline}/><rect x="1" y="1" width="${width}" height="6" fill="currentColor"/></svg>`
}

function classOf(verdict: string): string {
  return verdict === 'not shown' ? 'none' : verdict
}

function capital(word: string): string {
  return word[0]!.toUpperCase() + word.slice(1)
}

function text(words: string): string {
  return xml(oneLine(words))
}
