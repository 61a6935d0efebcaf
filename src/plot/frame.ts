/**
 * The frame of every drawing: a self-contained SVG text with title and description for screen readers, and
 * colours as CSS variables, so that it looks right alone, in a page, by day and by night. A page overrides a
 * colour by setting `--plot-NAME`. Colour is never the only sign: a series has a dash pattern and its label too.
 */
import { typeset } from '../units/index.js'

/** Text safe inside XML elements and attributes; characters that XML 1.0 forbids are dropped. */
export function escapeXml(text: string): string {
  return text
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ud800-\udfff\ufffe\uffff]/gu, '')
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
}

/** Words as text or an attribute of a drawing. */
export function drawnText(words: string): string {
  return escapeXml(typeset(words))
}

/** A coordinate with at most two decimals. */
export function coordinate(value: number): string {
  return String(Math.round(value * 100) / 100)
}

/** Series colours: the first six are the colour-blind safe set of Okabe and Ito (2008), eased for a dark page. */
const LIGHT = ['#0072b2', '#d55e00', '#007a59', '#a8457f', '#8a6100', '#3b6ea5']
const DARK = ['#56b4e9', '#ff9a57', '#2fc79b', '#e7a1c8', '#e6b422', '#9cc4ee']
/** Dash patterns in the order of the colours; the first is solid. */
export const DASHES = ['', '8 4', '2 3', '10 3 2 3', '5 3', '1 5'] as const

/**
 * What a line of a chart stands for. Each has a kind of line of its own, besides its colour: load round dots, trip thick
 * and whole, rating long dashes, limit dots and dashes, what a part survives thin and whole.
 */
export const ROLES = ['load', 'trip', 'fuse', 'rating', 'limit', 'survives', 'wire survives'] as const
export type Role = (typeof ROLES)[number]
/** Class of lines and texts of a role. */
export const roleClass = (role: Role) => `r-${role.replace(' ', '-')}`

/** Those of the screen and the pages, for light and dark. */
export const NAMED = {
  ink: ['#1b2733', '#e7edf3'],
  faint: ['#54616e', '#a3b2c0'],
  grid: ['#dfdbd1', '#2c4052'],
  paper: ['#fffefb', '#142230'],
  good: ['#17643a', '#84d6a4'],
  bad: ['#a3212f', '#ff9aa2'],
  warm: ['#a34f12', '#e8a063'],
  cool: ['#14548c', '#8cc4f5'],
} as const

function variables(column: 0 | 1): string {
  const named = Object.entries(NAMED).map(([name, pair]) => `--${name}:var(--plot-${name},${pair[column]})`)
  const series = (column === 0 ? LIGHT : DARK).map((c, i) => `--s${i}:var(--plot-s${i},${c})`)
  return [...named, ...series].join(';')
}

const ROLE_STYLES = (
  [
    ['load', 'ink', 'stroke-width:2.2;stroke-dasharray:.1 5;stroke-linecap:round'],
    ['trip', 'warm', 'stroke-width:2.8'],
    ['fuse', 'warm', 'stroke-width:1.6;stroke-dasharray:8 3'],
    ['rating', 'cool', 'stroke-width:1.6;stroke-dasharray:14 5'],
    ['limit', 'bad', 'stroke-width:1.6;stroke-dasharray:9 3 2 3'],
    ['survives', 'ink', 'stroke-width:1.8'],
    ['wire-survives', 'good', 'stroke-width:1.8;stroke-dasharray:5 2'],
  ] as const
).map(
  ([role, colour, line]) =>
    `.hb-plot line.r-${role},.hb-plot path.r-${role}{stroke:var(--${colour});${line}}.hb-plot text.r-${role}{fill:var(--${colour})}`,
)

const STYLE = [
  `.hb-plot{${variables(0)};font:13px system-ui,sans-serif;fill:var(--ink)}`,
  `@media(prefers-color-scheme:dark){.hb-plot{${variables(1)}}}`,
  '.hb-plot .paper{fill:var(--paper)}.hb-plot .grid{stroke:var(--grid)}.hb-plot .axis{stroke:var(--faint)}',
  '.hb-plot .tag{font-weight:700}.hb-plot .faint{fill:var(--faint)}.hb-plot .head{font-weight:600;font-size:15px}',
  // A rim in the colour of the paper keeps text readable where a line runs behind it.
  '.hb-plot text{paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-linejoin:round}',
  '.hb-plot .rule{stroke:var(--bad);stroke-dasharray:6 3;stroke-width:1.5}.hb-plot .line{fill:none;stroke-width:2}',
  '.hb-plot .ground{fill:var(--paper)}.hb-plot .ruled{fill:var(--bad)}',
  ...ROLE_STYLES,
  '.hb-plot .gap{fill:var(--bad);fill-opacity:.16;stroke:var(--bad)}',
  ...LIGHT.map((_, i) => `.hb-plot .s${i}{stroke:var(--s${i})}.hb-plot .f${i}{fill:var(--s${i})}`),
].join('')

export interface Drawing {
  /** A name of its own inside a page: lower-case words with dashes. */
  id: string
  title: string
  /** What the drawing shows, in a sentence or two with its main figures; read aloud by screen readers. */
  description: string
  width: number
  height: number
  /** SVG elements. */
  body: string
}

/** The whole SVG text of a drawing. */
export function svgDocument(d: Drawing): string {
  const { width, height } = d
  const id = d.id.replace(/[^a-z0-9-]/gi, '-')
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" class="hb-plot" viewBox="0 0 ${width} ${height}" width="${width}"` +
    ` height="${height}" role="img" aria-labelledby="${id}-title ${id}-desc">` +
    `<title id="${id}-title">${drawnText(d.title)}</title><desc id="${id}-desc">${drawnText(d.description)}</desc>` +
    `<style>${STYLE}</style><rect class="paper" width="${width}" height="${height}"/>${d.body}</svg>\n`
  )
}

export interface TextOptions {
  anchor?: 'start' | 'middle' | 'end'
  /** `head`, `faint`, or a fill class `f0`…`f5`. */
  class?: string
  /** Degrees, about the text's own place. */
  turn?: number
}

export function svgText(x: number, y: number, text: string, o: TextOptions = {}): string {
  const turn = o.turn ? ` transform="rotate(${o.turn} ${coordinate(x)} ${coordinate(y)})"` : ''
  const anchor = o.anchor && o.anchor !== 'start' ? ` text-anchor="${o.anchor}"` : ''
  const klass = o.class ? ` class="${o.class}"` : ''
  return `<text x="${coordinate(x)}" y="${coordinate(y)}"${anchor}${klass}${turn}>${drawnText(text)}</text>`
}

export function svgLine(x1: number, y1: number, x2: number, y2: number, klass: string): string {
  const [a, b, c, d] = [x1, y1, x2, y2].map(coordinate)
  return `<line class="${klass}" x1="${a}" y1="${b}" x2="${c}" y2="${d}"/>`
}

/** Width of a text in the drawing's 13 px font, px; a guess on the wide side, for placing labels. */
export function textWidth(text: string): number {
  return text.length * 7.2
}

/** A text of at most about so many letters: cut after a whole word, and it shows. */
export function wholeWords(text: string, most: number): string {
  if (text.length <= most) return text
  const cut = text.slice(0, most - 1)
  return `${cut.slice(0, Math.max(cut.lastIndexOf(' '), most / 2)).replace(/[,;]$/, '')} …`
}
