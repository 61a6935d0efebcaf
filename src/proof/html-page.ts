/** The page that every HTML report is: no scripts, nothing loaded, light and dark, fit to print. */
import { typeset } from '../units/index.js'
import { xml } from './junit.js'
import { oneLine } from './words.js'

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
a{color:inherit}ol{padding-left:1.4rem}li{margin:.5rem 0;overflow-wrap:anywhere}:focus-visible{outline:2px solid currentColor;outline-offset:2px}
@media print{:root{--paper:#fff;--sheet:#fff;--ink:#000;--quiet:#333;--rule:#999;--met:#0b4a27;--broken:#7d0f1c;--undecided:#4a3a00}body{font-size:11px}main{max-width:none;padding:0}.wide{overflow:visible}tr,li{break-inside:avoid}thead{display:table-header-group}details::details-content{display:block;content-visibility:visible}summary{display:none}td.demand,td.cell,tbody th{min-width:0}}
`

/** @param body HTML of the main part. */
export function htmlPage(title: string, body: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${text(title)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
${body}</main>
</body>
</html>
`
}

/** A margin as a bar; outside the window it is a dashed outline, so that colour is not needed. */
export function marginBar(margin: number, verdict: string): string {
  const width = Math.round(Math.min(1, Math.max(0, margin)) * 100)
  const outline = margin < 0 ? ' stroke-dasharray="3 2"' : ' stroke-opacity=".45"'
  return `<svg width="102" height="8" viewBox="0 0 102 8" aria-hidden="true" class="${classOf(verdict)}"><rect x=".5" y=".5" width="101" height="7" fill="none" stroke="currentColor"${outline}/><rect x="1" y="1" width="${width}" height="6" fill="currentColor"/></svg>`
}

export function classOf(verdict: string): string {
  return verdict === 'not shown' ? 'none' : verdict
}

/** Words as text or an attribute of a page. */
export function pageText(words: string): string {
  return xml(typeset(words))
}

/** Words of a user or a file, as one line of text in HTML. */
export function text(words: string): string {
  return pageText(oneLine(words))
}
