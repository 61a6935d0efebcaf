/** The comparison as Markdown and as one HTML file. */
import { formatNumber } from '../units/index.js'
import {
  type ComparedFigure,
  type ComparedRow,
  type ComparedSide,
  type Comparison,
  comparedName,
  comparisonText,
} from './compare.js'
import { classOf, htmlPage, marginBar, text } from './html-page.js'
import { inputText, marginText, plain, verdictWord } from './words.js'

export interface ComparisonReport {
  /** Leave out what is the same. */
  onlyDifferences?: boolean
  /** SVG drawings to stand in the HTML. */
  drawings?: readonly string[]
}

const kept = (c: Comparison, { onlyDifferences }: ComparisonReport) => ({
  rows: c.rows.filter((row) => (onlyDifferences ? row.change !== 'same' : row.a || row.b)),
  figures: c.figures.filter((f) => !onlyDifferences || f.change !== 'same'),
})

/** `55 to 61 us`, or both when they differ: `55 to 61 us (A), 52 to 64 us (B)`. */
export function comparedLimits({ limitsA, limitsB }: ComparedRow): string {
  if (limitsA === undefined || limitsB === undefined || limitsA === limitsB) return limitsA ?? limitsB ?? ''
  return `${limitsA || 'none'} (A), ${limitsB || 'none'} (B)`
}

/** `58.2 us`; what is not there is `not seen`. */
export function figureText(value: number | undefined, unit: string): string {
  return value === undefined ? 'not seen' : `${formatNumber(value, 6)} ${unit}`.trim()
}

/** `+0.3 us`; empty where only one side has it. */
export function figureChange({ a, b, unit }: ComparedFigure): string {
  if (a === undefined || b === undefined) return ''
  const by = b - a
  return `${by > 0 ? '+' : ''}${formatNumber(by, 3)} ${unit}`.trim()
}

const cellWords = (cell: ComparedRow['a']) =>
  cell
    ? `${verdictWord(cell.verdict)} ${marginText(cell.margin)}, ${cell.value} (${cell.origin})`
    : 'not shown'

const sideFacts = (side: ComparedSide) => [
  side.design,
  `${side.standard}, scale ${side.scale}`,
  ...side.inputs.map((input) => inputText(input)),
]

export function comparisonMarkdown(c: Comparison, options: ComparisonReport = {}): string {
  const { rows, figures } = kept(c, options)
  const lines = [
    `# ${plain(c.a.label)} (A) against ${plain(c.b.label)} (B)`,
    '',
    `**${comparisonText(c)}**`,
    '',
    ...(['a', 'b'] as const).flatMap((k) =>
      sideFacts(c[k]).map((fact) => `- ${k.toUpperCase()}: ${plain(fact)}`),
    ),
    `- made by halfbit ${plain(c.version)}`,
    '',
    '| clause | limit | A | B | B against A | source |',
    '|---|---|---|---|---|---|',
    ...rows.map((row) => {
      const change = [row.change, ...row.unshared].join('; ')
      return `| ${[comparedName(row), comparedLimits(row), cellWords(row.a), cellWords(row.b), change, row.source].map(plain).join(' | ')} |`
    }),
    '',
    'The figure behind a verdict is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside. What is not shown is not met.',
  ]
  if (figures.length > 0)
    lines.push(
      '',
      '| figure | A | B | B minus A |',
      '|---|---|---|---|',
      ...figures.map((f) => {
        const name = f.about === undefined ? f.name : `${f.name} (${f.about})`
        return `| ${[name, figureText(f.a, f.unit), figureText(f.b, f.unit), figureChange(f)].map(plain).join(' | ')} |`
      }),
    )
  const notes = (['a', 'b'] as const).flatMap((k) =>
    c[k].notes.map((note) => `${k.toUpperCase()}: ${note.sentence}`),
  )
  if (notes.length > 0) lines.push('', '## Notes', '', ...notes.map((note) => `- ${plain(note)}`))
  return `${lines.join('\n')}\n`
}

/** A sign for each change, so that neither colour nor reading of every word is needed. */
export const CHANGE_SIGN: Record<ComparedRow['change'], string> = {
  worse: '▼▼',
  better: '▲▲',
  'less margin': '▽',
  'more margin': '△',
  'other figures': '≠',
  'other demand': '≠',
  'only A': '◧',
  'only B': '◨',
  same: '=',
}

export function comparisonHtml(c: Comparison, options: ComparisonReport = {}): string {
  const { rows, figures } = kept(c, options)
  const cell = (side: ComparedRow['a']) =>
    side === undefined
      ? '<td class="cell none">not shown</td>'
      : `<td class="cell"><strong class="${classOf(side.verdict)}">${verdictWord(side.verdict)}</strong>${marginBar(side.margin, side.verdict)}<small>margin ${text(marginText(side.margin))}, ${text(side.value)}, ${side.origin}</small></td>`
  const facts = (['a', 'b'] as const).flatMap((k) =>
    sideFacts(c[k]).map((fact) => `<dt>${k.toUpperCase()}</dt><dd>${text(fact)}</dd>`),
  )
  const notes = (['a', 'b'] as const).flatMap((k) =>
    c[k].notes.map((note) => `<li>${k.toUpperCase()}: ${text(note.sentence)}</li>`),
  )
  const rowLine = (row: ComparedRow) =>
    `<tr><th scope="row">${text(comparedName(row))}<small>${text(row.title)}</small></th><td>${text(comparedLimits(row))}<small>${text(row.source)}</small></td>${cell(row.a)}${cell(row.b)}<td>${CHANGE_SIGN[row.change]} ${row.change === 'same' ? 'same' : `<strong>${row.change}</strong>`}${row.unshared.length > 0 ? `<small>${text(row.unshared.join('; '))}</small>` : ''}</td></tr>`
  const figureLine = (f: ComparedFigure) =>
    `<tr><th scope="row">${text(f.name)}${f.about === undefined ? '' : `<small>${text(f.about)}</small>`}</th><td>${text(figureText(f.a, f.unit))}</td><td>${text(figureText(f.b, f.unit))}</td><td>${text(f.change === 'same' ? 'same' : figureChange(f) || f.change)}</td></tr>`
  return htmlPage(
    `${c.a.label} against ${c.b.label}`,
    `<h1>${text(c.a.label)} (A) against ${text(c.b.label)} (B)</h1>
<p class="verdict">${text(comparisonText(c))}</p>
<dl>${facts.join('')}<dt>Made by</dt><dd>halfbit ${text(c.version)}</dd></dl>
<h2 id="clauses">Clause by clause</h2>
<div class="wide" tabindex="0" role="region" aria-labelledby="clauses">
<table>
<caption>The bar is the margin: full in the centre of the window, empty at its limit, dashed outside of it. What is not shown is not met.</caption>
<thead><tr><th scope="col">Clause</th><th scope="col">Limit</th><th scope="col">A</th><th scope="col">B</th><th scope="col">B against A</th></tr></thead>
<tbody>
${rows.map(rowLine).join('\n')}
</tbody>
</table>
</div>
${
  figures.length === 0
    ? ''
    : `<h2 id="figures">Figures</h2>
<div class="wide" tabindex="0" role="region" aria-labelledby="figures">
<table>
<thead><tr><th scope="col">Figure</th><th scope="col">A</th><th scope="col">B</th><th scope="col">B minus A</th></tr></thead>
<tbody>
${figures.map(figureLine).join('\n')}
</tbody>
</table>
</div>
`
}${(options.drawings ?? []).map((svg) => `<div class="wide">${svg}</div>\n`).join('')}${notes.length > 0 ? `<h2>Notes</h2>\n<ul>${notes.join('')}</ul>\n` : ''}`,
  )
}
