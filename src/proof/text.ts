/** The proof for a terminal. */
import { textBar, wrapText } from '../plot/index.js'
import { type Cell, ORIGINS, type Proof, type Row } from './proof.js'
import {
  cellText,
  countText,
  inputText,
  oneLine,
  placeText,
  rowName,
  sources,
  troubles,
  valueText,
  verdictText,
  verdictWord,
} from './words.js'

export interface TextStyle {
  /** Columns of the terminal. */
  width: number
  colour: boolean
  /** Also the sentence behind every cell that is met. */
  reasons?: boolean
}

const PAINT: Record<string, string> = { met: '32', broken: '31;1', undecided: '33;1', 'not shown': '2' }
const NARROWEST = 40

/** Lines of the report. Colour only repeats what words say. */
export function proofText(proof: Proof, style: TextStyle): string[] {
  const width = Math.max(NARROWEST, style.width)
  const wrap = (text: string, indent = '  ') => wrapText(oneLine(text), width, indent)
  const { about, profile } = proof
  const fact = (name: string, text: string) =>
    wrapText(oneLine(text), width - 10).map((line, i) => `${(i === 0 ? name : '').padEnd(10)}${line}`)
  const lines = [
    ...wrap(`Proof of ${about.name}`),
    ...fact('Standard', `${profile.title}, edition ${profile.edition} (${profile.documents})`),
    ...fact('Scale', profile.scale),
    ...about.inputs.flatMap((input) => fact('Input', inputText(input, 16))),
    ...fact('By', `halfbit ${about.version}${about.date === undefined ? '' : `, ${about.date}`}`),
    '',
    ...table(proof, width, style.colour),
    '',
  ]
  const none = proof.rows.filter((row) => row.verdict === 'not shown').map(rowName)
  if (none.length > 0) lines.push(...wrap(`Not shown at all: ${none.join(', ')}.`), '')
  lines.push(
    ...wrap('The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside.'),
  )
  const rest = [...sources(proof.rows.filter((row) => row.verdict !== 'not shown'))]
  if (rest.length > 0) {
    lines.push(...wrap(`Sources: ${rest.map(([source, of]) => `${source}: ${of.join(', ')}`).join('; ')}.`))
  }
  for (const { row, origin, evidence } of troubles(proof)) {
    const place = placeText(evidence)
    const limit = row.limits ? `, limit ${row.limits}` : ''
    const count = countText(evidence)
    const [head = '', ...more] = wrap(
      `${verdictWord(evidence.verdict)} ${rowName(row)}, ${origin}: ${valueText(evidence)}${limit}${count ? `, ${count}` : ''}. ${sentence(evidence.because)}${place ? ` (${place})` : ''} ${row.source}.`,
    )
    const word = verdictWord(evidence.verdict)
    lines.push('', paint(word, evidence.verdict, style.colour) + head.slice(word.length), ...more)
  }
  if (style.reasons) lines.push(...reasons(proof, wrap))
  for (const note of about.notes ?? []) lines.push('', ...wrap(`Note: ${note}`))
  if (about.cautions?.length) lines.push('', ...about.cautions.flatMap((caution) => wrap(`! ${caution}`)))
  lines.push('', ...wrap(verdictText(proof)).map((text) => paint(text, proof.verdict, style.colour)))
  return lines
}

function reasons(proof: Proof, wrap: (text: string) => string[]): string[] {
  return proof.rows.flatMap((row) =>
    ORIGINS.flatMap((origin) =>
      (row.cells[origin]?.evidence ?? [])
        .filter((e) => e.verdict === 'met')
        .flatMap((e) => [
          '',
          ...wrap(`met ${rowName(row)}, ${origin}: ${valueText(e)}. ${sentence(e.because)}`),
        ]),
    ),
  )
}

function sentence(text: string): string {
  return /[.!?]$/.test(text) ? text : `${text}.`
}

const BAR = 6
/** `UNDECIDED 0.12` is the widest cell. */
const CELL = 14

/** The table, as wide as the terminal lets: bars and the limits go first when it is narrow. */
function table(proof: Proof, width: number, colour: boolean): string[] {
  const some = proof.rows.filter((row) => row.verdict !== 'not shown')
  const names = some.map((row) => oneLine(rowName(row)))
  const nameWidth = Math.max('clause'.length, ...names.map((n) => n.length))
  const limitWidth = Math.max('limit'.length, ...some.map((row) => row.limits.length))
  const cells = ORIGINS.length * (CELL + 2)
  // Too narrow for a table: one line for each cell.
  if (nameWidth + cells > width) return some.flatMap((row, i) => stacked(row, names[i]!, colour))
  const limits = nameWidth + 2 + limitWidth + cells <= width
  const bars = limits && nameWidth + 2 + limitWidth + cells + ORIGINS.length * (BAR + 1) <= width
  const cellWidth = bars ? CELL + 1 + BAR : CELL
  const line = (name: string, limit: string, texts: readonly string[]) =>
    [name.padEnd(nameWidth), ...(limits ? [limit.padEnd(limitWidth)] : []), ...texts].join('  ').trimEnd()
  const widths = [nameWidth, ...(limits ? [limitWidth] : []), ...ORIGINS.map(() => cellWidth)]
  return [
    line(
      'clause',
      'limit',
      ORIGINS.map((o) => o.padEnd(cellWidth)),
    ),
    widths.map((w) => '─'.repeat(w)).join('  '),
    ...some.map((row, i) => {
      const texts = ORIGINS.map((o) => cellOf(row.cells[o], bars, cellWidth, colour))
      return line(names[i]!, row.limits, texts)
    }),
  ]
}

function stacked(row: Row, name: string, colour: boolean): string[] {
  const cells = ORIGINS.map((o) =>
    `  ${o.padEnd(CELL)}${cellOf(row.cells[o], false, CELL, colour)}`.trimEnd(),
  )
  return [`${name}${row.limits ? `: ${row.limits}` : ''}`, ...cells]
}

function cellOf(cell: Cell | undefined, bars: boolean, width: number, colour: boolean): string {
  const text = cellText(cell)
  const full = bars && cell ? `${text.padEnd(CELL)} ${textBar(cell.margin, BAR)}` : text
  return (
    paint(full.trimEnd(), cell?.verdict ?? 'not shown', colour) + ' '.repeat(width - full.trimEnd().length)
  )
}

function paint(text: string, verdict: string, colour: boolean): string {
  return colour ? `\u001b[${PAINT[verdict]}m${text}\u001b[0m` : text
}
