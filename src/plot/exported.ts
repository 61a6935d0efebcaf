/** A drawing to take along: one scheme of colours, plain colours instead of variables, and a caption with its source. */
import { drawnText, NAMED } from './frame.js'
import { wrapText } from './text.js'

export type Scheme = 'light' | 'dark'

const DARK_RULE = /@media\s*\(prefers-color-scheme:\s*dark\)\s*\{/
const LINE = 17

/**
 * @param svg a drawing of any room, with a `viewBox` and its styles inside.
 * @param caption what it shows and where it is from, in plain words.
 * @returns an SVG text that looks the same wherever it is opened.
 * @throws RangeError when there is no `viewBox`.
 */
export function exportedFigure(svg: string, scheme: Scheme, caption: string): string {
  const box = /<svg[^>]*\sviewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(svg)
  if (!box) throw new RangeError('the drawing has no viewBox from 0 0')
  const width = Number(box[1])
  const height = Number(box[2])
  const lines = wrapText(caption, Math.max(20, Math.floor((width - 32) / 7)))
  const total = height + lines.length * LINE + 18
  const column = scheme === 'light' ? 0 : 1
  const [paper, ink] = [NAMED.paper[column], NAMED.ink[column]]
  const words = lines.map((line, i) => {
    const y = height + 18 + i * LINE
    return `<text x="16" y="${y}" style="font:13px system-ui,sans-serif;fill:${ink};stroke:none">${drawnText(line)}</text>`
  })
  const end = svg.lastIndexOf('</svg>')
  const head = svg.indexOf('>', svg.indexOf('<svg')) + 1
  const opening = svg
    .slice(svg.indexOf('<svg'), head)
    .replace(/ viewBox="[^"]*"/, ` viewBox="0 0 ${width} ${total}"`)
    .replace(/ (width|height)="[^"]*"/g, '')
    .replace(/>$/, ` width="${width}" height="${total}">`)
  const body = flatColours(svg.slice(head, end), scheme)
  const ground = `<rect width="${width}" height="${total}" style="fill:${paper}"/>`
  return `${opening}${ground}${body}${words.join('')}</svg>\n`
}

/** Keep the rules of one scheme, and put each variable's colour where the variable stands. */
function flatColours(body: string, scheme: Scheme): string {
  let text = body
  for (let rule = DARK_RULE.exec(text); rule; rule = DARK_RULE.exec(text)) {
    const from = rule.index + rule[0].length
    let depth = 1
    let to = from
    while (to < text.length && depth > 0) {
      if (text[to] === '{') depth++
      if (text[to] === '}') depth--
      to++
    }
    const inner = scheme === 'dark' ? text.slice(from, to - 1) : ''
    text = text.slice(0, rule.index) + inner + text.slice(to)
  }
  // Outside of a page there is nobody to override a colour.
  text = text.replace(/var\(--[\w-]+,\s*([^()]*)\)/g, '$1')
  const values = new Map<string, string>()
  // What stands later counts: the rules of the dark scheme follow the others.
  for (const [, name, value] of text.matchAll(/(--[\w-]+)\s*:\s*([^;{}]+)/g)) values.set(name!, value!.trim())
  return text
    .replace(/--[\w-]+\s*:[^;{}]+;?/g, '')
    .replace(/var\((--[\w-]+)\)/g, (whole, name: string) => values.get(name) ?? whole)
}
