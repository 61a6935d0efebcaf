/** Tables and bars for a terminal: plain text, columns lined up. */

/** A bar of `width` cells for a share of 0…1, in eighths of a cell; beyond 1 it is full and ends in `▶`. */
export function textBar(share: number, width = 20): string {
  if (!Number.isFinite(share) || share <= 0) return ' '.repeat(width)
  if (share > 1) return `${'█'.repeat(width - 1)}▶`
  const eighths = Math.round(share * width * 8)
  const rest = eighths % 8
  return ('█'.repeat(Math.floor(eighths / 8)) + (rest ? ' ▏▎▍▌▋▊▉'[rest] : '')).padEnd(width)
}

/** Scripts and signs that take two cells of a terminal: East Asian wide and full-width ones (UAX 11, from memory). */
const WIDE =
  /[\u1100-\u115F\u2E80-\u303E\u3041-\u33FF\u3400-\u4DBF\u4E00-\u9FFF\uA000-\uA4CF\uA960-\uA97F\uAC00-\uD7A3\uF900-\uFAFF\uFE30-\uFE6F\uFF00-\uFF60\uFFE0-\uFFE6\u{20000}-\u{3FFFD}]|\p{Emoji_Presentation}|\p{Emoji}\uFE0F/u
const EMPTY = /^[\p{M}\p{Cf}\p{Cc}]*$/u
const PLAIN = /^[\x20-\x7E]*$/
const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' })

/** Cells of a terminal that a text takes: 2 for wide characters and emoji, 0 for marks that join the one before. */
export function terminalWidth(text: string): number {
  if (PLAIN.test(text)) return text.length
  let width = 0
  for (const { segment } of graphemes.segment(text)) width += cells(segment)
  return width
}

const cells = (grapheme: string) => (EMPTY.test(grapheme) ? 0 : WIDE.test(grapheme) ? 2 : 1)

/** The text with spaces around it up to `width` cells. */
export function padText(text: string, width: number, align: 'left' | 'right' = 'left'): string {
  const space = ' '.repeat(Math.max(0, width - terminalWidth(text)))
  return align === 'right' ? space + text : text + space
}

export interface Column {
  head: string
  /** Numbers stand on the right. */
  align?: 'left' | 'right'
  /** Cells may be broken into lines where the table is too wide, down to so many characters. */
  wrap?: number
}

const GAP = 2

/**
 * A table as lines; every cell is plain text. Where it is wider than `width`, the columns with `wrap` are made narrower; what
 * is still too wide goes on below, in tables that each begin with the first column.
 */
export function textTable(
  columns: readonly Column[],
  rows: readonly (readonly string[])[],
  width = Number.POSITIVE_INFINITY,
): string[] {
  const natural = columns.map((c, i) =>
    Math.max(terminalWidth(c.head), ...rows.map((r) => terminalWidth(r[i] ?? ''))),
  )
  const widths = narrowed(columns, natural, width)
  const lines: string[] = []
  for (const part of parts(widths, width)) {
    if (lines.length > 0) lines.push('')
    lines.push(...tableOf(part, columns, rows, widths))
  }
  return lines
}

const total = (widths: readonly number[]) => widths.reduce((a, b) => a + b + GAP, -GAP)

/** Widths after breaking cells: the widest column that may be broken gives first. */
function narrowed(columns: readonly Column[], natural: readonly number[], width: number): number[] {
  const widths = [...natural]
  for (let over = total(widths) - width; over > 0; over = total(widths) - width) {
    const spare = widths.map((w, i) => w - Math.max(columns[i]!.wrap ?? w, terminalWidth(columns[i]!.head)))
    const most = Math.max(...spare)
    if (most <= 0) break
    const at = spare.indexOf(most)
    widths[at]! -= Math.min(most, over)
  }
  return widths
}

/** Columns of each table that fits: the first one leads them all. */
function parts(widths: readonly number[], width: number): number[][] {
  const found: number[][] = []
  let part: number[] = []
  for (let i = 0; i < widths.length; i++) {
    if (part.length > (found.length > 0 ? 1 : 0) && total([...part, i].map((k) => widths[k]!)) > width) {
      found.push(part)
      part = [0]
    }
    part.push(i)
  }
  return [...found, part]
}

function tableOf(
  part: readonly number[],
  columns: readonly Column[],
  rows: readonly (readonly string[])[],
  widths: readonly number[],
): string[] {
  const line = (cell: (i: number) => string) =>
    part
      .map((i) => padText(cell(i), widths[i]!, columns[i]!.align))
      .join(' '.repeat(GAP))
      .trimEnd()
  const broken = rows.flatMap((row) => {
    const cellLines = part.map((i) => {
      const cell = row[i] ?? ''
      return terminalWidth(cell) <= widths[i]! ? [cell] : wrapText(cell, widths[i]!)
    })
    const height = Math.max(...cellLines.map((c) => c.length))
    return Array.from({ length: height }, (_, k) => line((i) => cellLines[part.indexOf(i)]![k] ?? ''))
  })
  return [line((i) => columns[i]!.head), line((i) => '─'.repeat(widths[i]!)), ...broken]
}

/** A text broken into lines of at most `width` cells; continued lines start with `indent`. */
export function wrapText(text: string, width: number, indent = ''): string[] {
  const lines: string[] = []
  let line = ''
  const add = (word: string, space: string) => {
    if (line.trim() !== '' && terminalWidth(line) + space.length + terminalWidth(word) > width) {
      lines.push(line)
      line = indent + word
    } else line = line === '' ? word : line + space + word
  }
  for (const word of text.split(/\s+/).filter((w) => w !== '')) {
    // Scripts without spaces may be broken at any character.
    if (terminalWidth(word) <= width || !WIDE.test(word)) add(word, ' ')
    else {
      let space = ' '
      for (const { segment } of graphemes.segment(word)) {
        add(segment, space)
        space = ''
      }
    }
  }
  return line === '' ? lines : [...lines, line]
}
