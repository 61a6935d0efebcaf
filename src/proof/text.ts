/** The proof for a terminal. */
import { textBar, textTable, wrapText } from '../plot/index.js'
import { type Cell, ORIGINS, type Proof, type Row } from './proof.js'
import { cellText, inputText, placeText, rowName, troubles, valueText, verdictText } from './words.js'

export interface TextStyle {
  /** Columns of the terminal. */
  width: number
  colour: boolean
}

const PAINT: Record<string, string> = { met: '32', broken: '31;1', undecided: '33', 'not shown': '2' }

/** Lines of the report. Colour only repeats what words say. */
export function proofText(proof: Proof, style: TextStyle): string[] {
  const { about, profile } = proof
  const lines = [
    `Proof of ${about.name}`,
    `Standard  ${profile.title}, edition ${profile.edition} (${profile.documents}), scale ${profile.scale}`,
    ...inputText(proof).map((text) => `Input     ${text}`),
    '',
  ]
  const bars = style.width >= 100
  const columns = [{ head: 'clause' }, { head: 'limit' }, ...ORIGINS.map((head) => ({ head }))]
  const some = proof.rows.filter((row) => row.verdict !== 'not shown')
  const rows = some.map((row) => [
    rowName(row),
    row.limits,
    ...ORIGINS.map((o) => withBar(row.cells[o], bars)),
  ])
  const table = textTable(columns, rows)
  const body = style.colour
    ? table.map((text, i) => paintLine(text, some[i - (table.length - rows.length)]))
    : table
  const none = proof.rows.filter((row) => row.verdict === 'not shown').map(rowName)
  lines.push(
    ...body,
    '',
    ...(none.length > 0
      ? [...wrapText(`Not shown at all: ${none.join(', ')}.`, Math.max(60, style.width), '  '), '']
      : []),
    'The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside.',
  )
  const list = troubles(proof)
  if (list.length > 0) lines.push('')
  for (const { row, origin, evidence } of list) {
    const place = placeText(evidence)
    const word = evidence.verdict === 'broken' ? 'BROKEN' : 'undecided'
    const head = `${word} ${rowName(row)}, ${origin}: ${valueText(evidence)}${row.limits ? `, limit ${row.limits}` : ''}. ${evidence.because}.${place ? ` (${place})` : ''} ${row.source}.`
    lines.push(...wrapText(head, Math.max(60, style.width), '  '))
  }
  for (const note of about.notes ?? [])
    lines.push('', ...wrapText(`Note: ${note}`, Math.max(60, style.width), '  '))
  lines.push('', paint(verdictText(proof), proof.verdict, style.colour))
  return lines
}

function withBar(cell: Cell | undefined, bars: boolean): string {
  const text = cellText(cell)
  if (!bars || cell === undefined) return text
  return `${text.padEnd(14)} ${textBar(Math.max(0, cell.margin), 6).trimEnd()}`
}

function paintLine(text: string, row: Row | undefined): string {
  return row === undefined ? text : paint(text, row.verdict, true)
}

function paint(text: string, verdict: string, colour: boolean): string {
  return colour ? `\u001b[${PAINT[verdict]}m${text}\u001b[0m` : text
}
