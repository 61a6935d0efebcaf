/** The table of proofs as text, Markdown and one HTML file. */
import { wrapText } from '../../plot/index.js'
import { classOf, htmlPage, text } from '../html-page.js'
import { inputText, marginText, oneLine, plain, sentence, verdictWord } from '../words.js'
import type { Matrix, MatrixCell, MatrixRow, MatrixTrouble } from './matrix.js'

const LEGEND =
  'The figure is the smallest margin of the cell: 1 in the centre of the window, 0 at its limit, below 0 outside. A cell with a clause that is not shown is not shown; in brackets is the smallest margin of what is shown in it. A dash: no clause applies there.'

/** `met 0.4`, `BROKEN -0.3`, `not shown (0.4)`, `-`. */
export function matrixCellText(cell: MatrixCell | undefined): string {
  if (cell === undefined) return '-'
  const word = verdictWord(cell.verdict)
  if (cell.margin === undefined) return word
  const margin = marginText(cell.margin)
  return cell.verdict === 'not shown' ? `${word} (${margin})` : `${word} ${margin}`
}

function troubleText(t: MatrixTrouble): string {
  const limit = t.limits ? `, limit ${t.limits}` : ''
  return `${verdictWord(t.verdict)} ${t.clause}, ${t.origin}: ${t.value}${limit}. ${sentence(t.because)}${t.place ? ` (${t.place})` : ''}`
}

function gapsText({ cells }: MatrixRow): string[] {
  return Object.entries(cells)
    .filter(([, cell]) => cell.notShown.length > 0)
    .map(([column, cell]) => {
      const names = cell.notShown.join(', ')
      return names === column ? names : `${column}: ${names}`
    })
}

/** Heads and lines of the table: variants down, or, where the columns are many, variants across. */
function tableOf({ rows, columns, by }: Matrix): string[][] {
  if (by === 'stages')
    return [
      ['variant', ...columns],
      ...rows.map((row) => [row.variant, ...columns.map((c) => matrixCellText(row.cells[c]))]),
    ]
  return [
    ['clause', ...rows.map((row) => row.variant)],
    ...columns.map((c) => [c, ...rows.map((row) => matrixCellText(row.cells[c]))]),
  ]
}

export function matrixText(matrix: Matrix, width: number): string[] {
  const wrap = (words: string) => wrapText(oneLine(words), Math.max(40, width), '  ')
  const lines = [...wrap(`Variants of ${matrix.design}`), '', ...alignedTable(tableOf(matrix), width), '']
  lines.push(...wrap(LEGEND), '')
  lines.push(...matrix.rows.flatMap(({ finding }) => wrap(sentence(finding.sentence))))
  for (const row of matrix.rows) {
    if (row.troubles.length + row.missing.length > 0)
      lines.push('', ...wrap(`What speaks against ${row.variant}:`))
    lines.push(...row.troubles.flatMap((t) => wrap(`- ${troubleText(t)}`)))
    lines.push(...row.missing.flatMap((m) => wrap(`- required, and not shown: ${m}`)))
  }
  lines.push('', ...wrap(sentence(matrix.choice.sentence)))
  return lines
}

/** Each column as wide as it needs; where that is too wide for the terminal, each line of the table on several. */
function alignedTable(table: readonly string[][], width: number): string[] {
  const clean = table.map((line) => line.map(oneLine))
  const widths = clean[0]!.map((_, i) => Math.max(...clean.map((line) => line[i]!.length)))
  const total = widths.reduce((sum, w) => sum + w + 2, -2)
  if (total > width) {
    const [heads = [], ...rest] = clean
    const longest = Math.max(...heads.slice(1).map((h) => h.length))
    return rest.flatMap(([name = '', ...cells]) => [
      name,
      ...cells.map((cell, i) => `  ${heads[i + 1]!.padEnd(longest)}  ${cell}`),
    ])
  }
  const lines = clean.map((line) =>
    line
      .map((word, i) => word.padEnd(widths[i]!))
      .join('  ')
      .trimEnd(),
  )
  return [lines[0]!, widths.map((w) => '─'.repeat(w)).join('  '), ...lines.slice(1)]
}

export function matrixMarkdown(matrix: Matrix): string {
  const [heads = [], ...rest] = tableOf(matrix)
  const line = (words: readonly string[]) => `| ${words.map(plain).join(' | ')} |`
  const lines = [
    `# Variants of ${plain(matrix.design)}`,
    '',
    `**${plain(sentence(matrix.choice.sentence))}**`,
    '',
    line(heads),
    `|${'---|'.repeat(heads.length)}`,
    ...rest.map(line),
    '',
    LEGEND,
    '',
    '## Which to build',
    '',
    ...matrix.rows.map(({ finding }) => `- ${plain(sentence(finding.sentence))}`),
  ]
  for (const row of matrix.rows) {
    const gaps = gapsText(row)
    const broken = [
      ...row.troubles.map((t) => troubleText(t)),
      ...row.missing.map((m) => `required, and not shown: ${m}`),
    ]
    lines.push('', `## ${plain(row.variant)}`, '')
    lines.push(...row.inputs.map((input) => `- ${plain(inputText(input))}`))
    lines.push(...broken.map((b) => `- ${plain(b)}`))
    lines.push(...gaps.map((gap) => `- not shown, ${plain(gap)}`))
  }
  lines.push('', `Made by halfbit ${plain(matrix.version)}${matrix.date ? `, ${plain(matrix.date)}` : ''}.`)
  return `${lines.join('\n')}\n`
}

export function matrixHtml(matrix: Matrix): string {
  const { rows, columns, by } = matrix
  const cell = (c: MatrixCell | undefined) =>
    c === undefined
      ? '<td class="cell none">-</td>'
      : `<td class="cell"><strong class="${classOf(c.verdict)}">${text(matrixCellText(c))}</strong>${c.worst === undefined ? '' : `<small>${text(c.worst)}</small>`}${c.notShown.length === 0 ? '' : `<small>${c.notShown.length} of ${Object.values(c.counts).reduce((a, b) => a + b, 0)} not shown</small>`}</td>`
  const head = (names: readonly string[]) =>
    `<thead><tr>${names.map((name) => `<th scope="col">${text(name)}</th>`).join('')}</tr></thead>`
  const name = (row: MatrixRow) =>
    `<th scope="row">${text(row.variant)}${row.suits === undefined ? '' : `<small>${text(row.suits)}</small>`}</th>`
  const body =
    by === 'stages'
      ? rows.map((row) => `<tr>${name(row)}${columns.map((c) => cell(row.cells[c])).join('')}</tr>`)
      : columns.map(
          (c) => `<tr><th scope="row">${text(c)}</th>${rows.map((row) => cell(row.cells[c])).join('')}</tr>`,
        )
  const details = rows.map((row) => {
    const items = [
      ...row.troubles.map((t) => troubleText(t)),
      ...row.missing.map((m) => `required, and not shown: ${m}`),
      ...gapsText(row).map((gap) => `not shown, ${gap}`),
    ]
    const list = items.map((item) => `<li>${text(item)}</li>`).join('')
    return `<h2>${text(row.variant)}</h2>
<p>${text(sentence(row.finding.sentence))}</p>
<dl>${row.inputs.map((input) => `<dt>Input</dt><dd>${text(inputText(input))}</dd>`).join('')}</dl>
${list === '' ? '' : `<ol>${list}</ol>`}`
  })
  return htmlPage(
    `Variants of ${matrix.design}`,
    `<h1>Variants of ${text(matrix.design)}</h1>
<p class="verdict">${text(sentence(matrix.choice.sentence))}</p>
<p>Made by halfbit ${text(matrix.version)}${matrix.date ? `, ${text(matrix.date)}` : ''}.</p>
<div class="wide" tabindex="0" role="region" aria-label="Table of proofs">
<table>
<caption>${text(LEGEND)}</caption>
${head(by === 'stages' ? ['Variant', ...columns] : ['Clause', ...rows.map((r) => r.variant)])}
<tbody>
${body.join('\n')}
</tbody>
</table>
</div>
${details.join('\n')}
`,
  )
}
