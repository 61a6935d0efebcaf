/** Tables and bars for a terminal: plain text, columns lined up. */

/** A bar of `width` cells for a share of 0…1, in eighths of a cell; beyond 1 it is full and ends in `▶`. */
export function textBar(share: number, width = 20): string {
  if (!Number.isFinite(share) || share <= 0) return ' '.repeat(width)
  if (share > 1) return `${'█'.repeat(width - 1)}▶`
  const eighths = Math.round(share * width * 8)
  const rest = eighths % 8
  return ('█'.repeat(Math.floor(eighths / 8)) + (rest ? ' ▏▎▍▌▋▊▉'[rest] : '')).padEnd(width)
}

export interface Column {
  head: string
  /** Numbers stand on the right. */
  align?: 'left' | 'right'
}

/** A table as lines; every cell is plain text. */
export function textTable(columns: readonly Column[], rows: readonly (readonly string[])[]): string[] {
  const width = columns.map((c, i) => Math.max(c.head.length, ...rows.map((r) => (r[i] ?? '').length)))
  const line = (cells: readonly string[]) =>
    columns
      .map((c, i) =>
        c.align === 'right' ? (cells[i] ?? '').padStart(width[i]!) : (cells[i] ?? '').padEnd(width[i]!),
      )
      .join('  ')
      .trimEnd()
  return [line(columns.map((c) => c.head)), width.map((w) => '─'.repeat(w)).join('  '), ...rows.map(line)]
}

/** A text broken into lines of at most `width` characters; continued lines start with `indent`. */
export function wrapText(text: string, width: number, indent = ''): string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(/\s+/).filter((w) => w !== '')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line)
      line = indent + word
    } else line = line === '' ? word : `${line} ${word}`
  }
  return line === '' ? lines : [...lines, line]
}
