/** The figures of the published page, each light and dark with a text for those who do not see it. */
import { exportedFigure } from '../../plot/index.js'
import { powerReport, protectionPlot } from '../../power/index.js'
import { pageText, powerInput } from '../../proof/index.js'
import { waveSvg } from '../../signal/index.js'
import { formatNumber } from '../../units/index.js'
import type { MadeBook } from '../contents/book.js'
import { DIAGRAM_ALT } from '../page/html.js'
import { diagramSvg } from '../wiring/diagram-svg.js'
import type { PacketEdges } from './packet-edges.js'

export interface SiteFigure {
  name: string
  title: string
  alt: string
  svg: string
}

export function siteFigures(made: MadeBook, packet: PacketEdges | undefined): SiteFigure[] {
  const { sources, diagram, map, sheets } = made
  const list: SiteFigure[] = []
  const add = (name: string, title: string, alt: string, svg: string) => list.push({ name, title, alt, svg })
  if (packet) {
    const { option } = sources.timers.get(packet.output)!
    const { one, zero } = option!
    const us = (value: number) => `${formatNumber(value)} us`
    const bitAlt = `A one is ${us(one.us)} high and ${us(one.us)} low; a zero is ${us(zero.us)} high and ${us(zero.us)} low.`
    add('bit', 'A one and a zero', bitAlt, bitSvg(one.us, zero.us, bitAlt))
    const bytes = packet.hex.split(' ').map((h) => Number.parseInt(h, 16))
    const preamble = packet.bits.filter((b) => b.part === 'preamble').length
    add(
      'packet',
      'One packet',
      `The packet ${packet.hex} as it leaves the station: ${packet.says}. ${packet.bits.length} bits in ${us(packet.lastsUs)}.`,
      waveSvg([bytes], { oneHalfUs: one.us, zeroHalfUs: zero.us, preamble }),
    )
    const windows = halfWindows(made, packet)
    add('half-bits', 'Half-bits and their windows', windows.alt, windows.svg)
  }
  add('power-stage', 'Power stage and wiring', DIAGRAM_ALT, diagramSvg(diagram, DIAGRAM_ALT))
  // On a large railroad the whole wiring shows nobody how power gets to the rails: the sheet with the driver does.
  const first = sources.stages.find((d) => d.output === packet?.output)
  const sheet =
    first && sheets.find((x) => x.diagram.parts.some((p) => p.id === `driver ${first.driverName}`))
  if (first && sheet && sheets.length > 1) {
    const alt = `${DIAGRAM_ALT} ${sheet.title}; wires ${sheet.wires.join(', ')}.`
    add('driver', `Power stage of ${first.name}`, alt, diagramSvg(sheet.diagram, alt))
  }
  const input = sources.loaded.design.power && powerInput(sources.loaded)
  if (input)
    for (const p of powerReport({ ...input.input, builds: 100 }).protection ?? [])
      add(
        `protection-${p.district.replace(/[^\w-]+/g, '-')}`,
        `Protection of ${p.district}`,
        `Time against current in district ${p.district}: how long each overload flows until something ends it, and how long driver and wire survive it.`,
        protectionPlot(p, `site-protection-${p.district.replace(/[^\w-]+/g, '-')}`),
      )
  if (map !== undefined)
    add(
      'map',
      'Map of the sections',
      'The track seen from above, each section and each turnout with its name.',
      map,
    )
  return list
}

/** @returns the figure for one scheme of colours, with its caption. */
export function inScheme(figure: SiteFigure, scheme: 'light' | 'dark', name: string): string {
  return exportedFigure(figure.svg, scheme, `${figure.title}, ${name}`)
}

const STYLE = `svg{background:#fffefb;font:12px system-ui,"DejaVu Sans",sans-serif}.w{fill:none;stroke:#a65a00;stroke-width:2}.t{fill:#1b2733}.a{stroke:#54616e}.b{fill:#c9dcec;stroke:#14548c}.m{stroke:#14548c;stroke-width:2.5}
@media(prefers-color-scheme:dark){svg{background:#15232f}.w{stroke:#f2b84e}.t{fill:#e7edf3}.a{stroke:#a3b2c0}.b{fill:#21425e;stroke:#8cc4f5}.m{stroke:#8cc4f5}}`

function svg(width: number, height: number, alt: string, body: string): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${pageText(alt)}">\n<style>${STYLE}</style>\n${body}\n</svg>\n`
}

function bitSvg(oneUs: number, zeroUs: number, alt: string): string {
  const scale = 2
  const left = 20
  const ends = [oneUs, 2 * oneUs, 2 * oneUs + zeroUs, 2 * oneUs + 2 * zeroUs].map((us) => left + us * scale)
  const [a, b, c, d] = ends as [number, number, number, number]
  const text = (x: number, y: number, words: string) =>
    `<text class="t" x="${formatNumber(x, 5)}" y="${y}" text-anchor="middle">${pageText(words)}</text>`
  const us = (value: number) => `${formatNumber(value)} us`
  return svg(
    Math.ceil(d + left),
    130,
    alt,
    `<path class="w" d="M${left} 40H${a}V90H${b}V40H${c}V90H${d}"/>
${text((left + b) / 2, 20, 'one')}${text((b + d) / 2, 20, 'zero')}
${text((left + a) / 2, 115, us(oneUs))}${text((a + b) / 2, 115, us(oneUs))}${text((b + c) / 2, 115, us(zeroUs))}${text((c + d) / 2, 115, us(zeroUs))}`,
  )
}

/** Where the half-bits lie in what the standard allows the sender. */
function halfWindows({ sources }: MadeBook, packet: PacketEdges): { svg: string; alt: string } {
  const { option } = sources.timers.get(packet.output)!
  const windowOf = (id: 'one-half' | 'zero-half') =>
    sources.proof.rows.find((r) => r.clause === id && (r.about === undefined || r.about === packet.output))!
      .window
  const rows = [
    { name: 'half of a one', half: option!.one, window: windowOf('one-half') },
    { name: 'half of a zero', half: option!.zero, window: windowOf('zero-half') },
  ]
  const us = (value: number) => `${formatNumber(value)} us`
  const says = rows.map(
    ({ name, half, window }) =>
      `${name}: ${us(half.us)}, allowed ${us(window.min ?? 0)} to ${window.max === undefined ? 'any length' : us(window.max)}`,
  )
  const x = (value: number) => 20 + Math.min(value, 130) * 4
  const body = rows.map(({ half, window }, i) => {
    const y = 40 + 70 * i
    const [from, to] = [x(window.min ?? 0), x(window.max ?? 130)]
    return `<text class="t" x="20" y="${y - 10}">${pageText(says[i]!)}</text><rect class="b" x="${formatNumber(from, 5)}" y="${y}" width="${formatNumber(to - from, 5)}" height="18"/><line class="m" x1="${formatNumber(x(half.us), 5)}" x2="${formatNumber(x(half.us), 5)}" y1="${y - 4}" y2="${y + 22}"/>`
  })
  return { alt: `${says.join('; ')}.`, svg: svg(560, 150, `${says.join('; ')}.`, body.join('\n')) }
}
