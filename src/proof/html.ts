/** The proof as one HTML file: no scripts, nothing loaded, light and dark, fit to print. */
import { xml } from './junit.js'
import { type Cell, ORIGINS, type Proof, type Row } from './proof.js'
import { inputText, marginText, placeText, rowName, valueText, verdictText } from './words.js'

const STYLE = `
:root{color-scheme:light dark;--paper:#f7f5f0;--sheet:#fffefb;--ink:#1b2733;--quiet:#54616e;--rule:#d4d0c5;--met:#17643a;--broken:#a3212f;--undecided:#6b5300}
@media(prefers-color-scheme:dark){:root{--paper:#0f1a26;--sheet:#15232f;--ink:#e7edf3;--quiet:#a3b2c0;--rule:#2c4052;--met:#84d6a4;--broken:#ff9aa2;--undecided:#ecd27b}}
*{box-sizing:border-box}body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.45 system-ui,"DejaVu Sans",sans-serif}
main{max-width:76rem;margin:0 auto;padding:1.5rem}h1{font-size:1.5rem;margin:0 0 .3rem}h2{font-size:1.15rem;margin:2rem 0 .5rem}
.verdict{font-weight:600;padding:.6rem .9rem;border-left:.5rem solid;background:var(--sheet)}
.met{color:var(--met)}.broken{color:var(--broken)}.undecided{color:var(--undecided)}.none{color:var(--quiet)}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .9rem;margin:1rem 0}dt{color:var(--quiet)}dd{margin:0;overflow-wrap:anywhere}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;background:var(--sheet)}th,td{text-align:left;vertical-align:top;padding:.4rem .6rem;border-bottom:1px solid var(--rule)}
thead th{position:sticky;top:0;background:var(--sheet)}tbody th{font-weight:600}small{color:var(--quiet);display:block;font-weight:400}
svg{display:block;margin-top:.2rem}details{max-width:30rem}summary{cursor:pointer}ul{padding-left:1.2rem}
@media print{body{background:#fff;color:#000}main{max-width:none;padding:0}thead th{position:static}details>*{display:block}tr{break-inside:avoid}}
`

export function proofHtml(proof: Proof): string {
  const { about, profile } = proof
  const facts: [string, string][] = [
    ['Standard', `${profile.title}, edition ${profile.edition} (${profile.documents})`],
    ['Scale', profile.scale],
    ...inputText(proof).map((text): [string, string] => ['Input', text]),
    ['Made by', `Halfbit ${about.version}${about.date ? `, ${about.date}` : ''}`],
  ]
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Proof of ${xml(about.name)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
<h1>Proof of ${xml(about.name)}</h1>
<p class="verdict ${classOf(proof.verdict)}">${xml(verdictText(proof))}</p>
<dl>${facts.map(([term, text]) => `<dt>${xml(term)}</dt><dd>${xml(text)}</dd>`).join('')}</dl>
<h2>Clause by clause</h2>
<div class="wide" tabindex="0" role="region" aria-label="Clauses">
<table>
<thead><tr><th scope="col">Clause</th><th scope="col">Demand</th>${ORIGINS.map((o) => `<th scope="col">${capital(o)}</th>`).join('')}</tr></thead>
<tbody>
${proof.rows.map(rowHtml).join('\n')}
</tbody>
</table>
</div>
<p><small>The bar is the margin: full in the centre of the window, empty at its limit; below 0 is outside. An empty cell was not shown, which is not the same as met.</small></p>
${(about.notes ?? []).map((note) => `<p>Note: ${xml(note)}</p>`).join('\n')}
</main>
</body>
</html>
`
}

function rowHtml(row: Row): string {
  const cells = ORIGINS.map((origin) => cellHtml(row.cells[origin]))
  return `<tr><th scope="row">${xml(rowName(row))}<small>${xml(row.title)}</small></th><td>${xml(row.demand)}<small>${xml(row.source)}</small></td>${cells.join('')}</tr>`
}

function cellHtml(cell: Cell | undefined): string {
  if (cell === undefined) return '<td class="none">not shown</td>'
  const [worst] = cell.evidence
  const details = cell.evidence.map((e) => {
    const place = placeText(e)
    return `<p>${xml(valueText(e))}: ${xml(e.because)}.${place ? ` <small>${xml(place)}</small>` : ''}</p>`
  })
  const open = cell.verdict === 'met' ? '' : ' open'
  return `<td><strong class="${classOf(cell.verdict)}">${cell.verdict}</strong> <small>margin ${marginText(cell.margin)}, ${xml(valueText(worst!))}</small>${bar(cell.margin, cell.verdict)}<details${open}><summary>why</summary>${details.join('')}</details></td>`
}

/** A margin as a bar; outside the window it is drawn as a dashed outline, so that colour is not needed. */
function bar(margin: number, verdict: string): string {
  const width = Math.round(Math.min(1, Math.max(0, margin)) * 100)
  const outside = margin < 0
  return `<svg width="102" height="8" viewBox="0 0 102 8" aria-hidden="true" class="${classOf(verdict)}"><rect x=".5" y=".5" width="101" height="7" fill="none" stroke="currentColor"${outside ? ' stroke-dasharray="3 2"' : ' stroke-opacity=".4"'}/><rect x="1" y="1" width="${width}" height="6" fill="currentColor"/></svg>`
}

function classOf(verdict: string): string {
  return verdict === 'not shown' ? 'none' : verdict
}

function capital(text: string): string {
  return text[0]!.toUpperCase() + text.slice(1)
}
