/** The proof for a terminal. */
import { textBar, wrapText } from '../plot/index.js'
import type { Origin } from '../standard/index.js'
import { capital } from '../units/index.js'
import { changeText, type Since, type SinceChange, sinceText } from './baseline/changes.js'
import { isShownCell, ORIGINS, type Proof, type Row } from './proof.js'
import {
  cellText,
  countText,
  evidenceOf,
  inputText,
  missingText,
  oneLine,
  placeText,
  rowName,
  sentence,
  silences,
  sources,
  staleText,
  stationName,
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
  const bold = (text: string, verdict: string) => wrap(text).map((line) => paint(line, verdict, style.colour))
  const lines = [
    ...wrap(`Proof of ${stationName(about)}`),
    ...(proof.stale ? bold(staleText(proof), 'undecided') : []),
    ...fact('Standard', `${profile.title}, edition ${profile.edition} (${profile.documents})`),
    ...fact('Scale', profile.scale),
    ...about.inputs.flatMap((input) => fact('Input', inputText(input, 16))),
    ...fact('By', `halfbit ${about.version}${about.date === undefined ? '' : `, ${about.date}`}`),
    '',
    ...table(proof, width, style.colour),
    '',
  ]
  lines.push(
    ...wrap(
      'The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside. A dash: this origin cannot show the clause.',
    ),
  )
  if (proof.rows.some((row) => row.finding))
    lines.push(
      ...wrap(
        'In brackets: calculated only. It is what the design declares, not what the station was seen to do, so it is not counted as met.',
      ),
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
  for (const { because, rows } of silences(proof))
    lines.push('', ...wrap(`Not shown: ${rows.join(', ')}. ${capital(sentence(because))}`))
  if (style.reasons) lines.push(...reasons(proof, wrap))
  for (const { sentence } of about.notes ?? []) lines.push('', ...wrap(`Note: ${sentence}`))
  if (about.cautions?.length)
    lines.push('', ...about.cautions.flatMap(({ sentence }) => wrap(`! ${sentence}`)))
  const missing = missingText(proof)
  if (missing.length > 0)
    lines.push('', ...bold('Required, and not shown:', 'broken'), ...missing.flatMap((m) => wrap(`- ${m}`)))
  lines.push('', ...bold(verdictText(proof), missing.length > 0 ? 'broken' : proof.verdict))
  if (proof.stale) lines.push(...bold(staleText(proof), 'undecided'))
  if (proof.since) lines.push('', ...sinceLines(proof.since, bold, wrap))
  return lines
}

function sinceLines(
  since: Since,
  bold: (text: string, verdict: string) => string[],
  wrap: (text: string) => string[],
): string[] {
  const list = (head: string, changes: readonly SinceChange[]) =>
    changes.flatMap((change) => wrap(`${head} ${changeText(change)}`))
  return [
    ...bold(sinceText(since), since.worse.length > 0 ? 'broken' : 'met'),
    ...list('worse: ', since.worse),
    ...list('better:', since.better),
    ...list('neither:', since.others),
  ]
}

function reasons(proof: Proof, wrap: (text: string) => string[]): string[] {
  return proof.rows.flatMap((row) =>
    ORIGINS.flatMap((origin) =>
      evidenceOf(row.cells[origin])
        .filter((e) => e.verdict === 'met')
        .flatMap((e) => [
          '',
          ...wrap(`met ${rowName(row)}, ${origin}: ${valueText(e)}. ${sentence(e.because)}`),
        ]),
    ),
  )
}

const BAR = 6
const NARROWEST_NAME = 16
/** As wide as the longest head. */
const HEAD = Math.max(...ORIGINS.map((o) => o.length))

/** The table, as wide as the terminal lets: bars and the limits go first when it is narrow. */
function table(proof: Proof, width: number, colour: boolean): string[] {
  const { rows } = proof
  const names = rows.map((row) => oneLine(rowName(row)))
  const longest = Math.max('clause'.length, ...names.map((n) => n.length))
  const limitWidth = Math.max('limit'.length, ...rows.map((row) => row.limits.length))
  const textWidths = ORIGINS.map((o) => Math.max(o.length, ...rows.map((row) => cellText(row, o).length)))
  const cells = textWidths.reduce((sum, w) => sum + w + 2, 0)
  // A name that leaves no room for its cells stands alone above them; too narrow for that, each cell has a line.
  const nameWidth = Math.min(longest, width - cells)
  if (nameWidth < Math.min(longest, NARROWEST_NAME))
    return rows.flatMap((row, i) => stacked(row, names[i]!, colour))
  const limits = nameWidth + 2 + limitWidth + cells <= width
  const bars = limits && nameWidth + 2 + limitWidth + cells + ORIGINS.length * (BAR + 1) <= width
  const line = (name: string, limit: string, texts: readonly string[]) =>
    [name.padEnd(nameWidth), ...(limits ? [limit.padEnd(limitWidth)] : []), ...texts].join('  ').trimEnd()
  const columns = textWidths.map((w) => w + (bars ? 1 + BAR : 0))
  return [
    line(
      'clause',
      'limit',
      ORIGINS.map((o, i) => o.padEnd(columns[i]!)),
    ),
    [nameWidth, ...(limits ? [limitWidth] : []), ...columns].map((w) => '─'.repeat(w)).join('  '),
    ...rows.flatMap((row, i) => {
      const name = names[i]!
      const texts = ORIGINS.map((o, k) => cellOf(row, o, textWidths[k]!, bars ? BAR : 0, colour))
      if (name.length <= nameWidth) return [line(name, row.limits, texts)]
      return [name, line('', row.limits, texts)]
    }),
  ]
}

function stacked(row: Row, name: string, colour: boolean): string[] {
  const cells = ORIGINS.map((o) => `  ${o.padEnd(HEAD + 2)}${cellOf(row, o, 0, 0, colour)}`.trimEnd())
  return [`${name}${row.limits ? `: ${row.limits}` : ''}`, ...cells]
}

/** The words of a cell and its bar, padded; the padding is never painted. */
function cellOf(row: Row, origin: Origin, width: number, bar: number, colour: boolean): string {
  const cell = row.cells[origin]
  const words = cellText(row, origin)
  const full = (
    bar > 0 && isShownCell(cell) ? `${words.padEnd(width)} ${textBar(cell.margin, bar)}` : words
  ).trimEnd()
  const room = width + (bar > 0 ? bar + 1 : 0)
  const verdict = row.finding === undefined ? (cell?.verdict ?? 'not shown') : 'not shown'
  return paint(full, verdict, colour) + ' '.repeat(Math.max(0, room - full.length))
}

function paint(text: string, verdict: string, colour: boolean): string {
  return colour ? `\u001b[${PAINT[verdict]}m${text}\u001b[0m` : text
}
