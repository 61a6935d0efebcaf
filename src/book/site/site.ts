/** A page that can be put on any web host: plain files that need nothing from anywhere else. */
import { pageText, proofHtml, proofMarkdown, rowName, xml } from '../../proof/index.js'
import { formatNumber, sha256Hex } from '../../units/index.js'
import type { MadeBook } from '../contents/book.js'
import { atSource, Figures } from '../contents/figure.js'
import { bookHtml, list, lookOf, page, table, warningsHtml } from '../page/html.js'
import { bookMarkdown } from '../page/markdown.js'
import { inScheme, type SiteFigure, siteFigures } from './figures.js'
import { type GuideStep, guide } from './guide.js'
import { type PacketEdges, packetEdges } from './packet-edges.js'

export interface SiteInput {
  made: MadeBook
  /** The design file's own text. */
  designText: string
  /** How others may use it, in the builder's words. */
  licence?: string | undefined
  /** Files that the design names, such as its firmware, by their paths beside it: with them the proof can be made again. */
  beside?: ReadonlyMap<string, Uint8Array>
}

export interface Site {
  /** Every file by its path below the folder. */
  files: ReadonlyMap<string, string>
  /** The files that the design names, where they do not have the name of another. */
  beside: ReadonlyMap<string, Uint8Array>
  guide: GuideStep[]
  packet?: PacketEdges
}

/** The list of what the page offers, as sha256sum writes it. */
export const SUMS_FILE = 'SHA256SUMS'
/** Pages that are made after the sums. */
export const UNLISTED: readonly string[] = ['index.html', SUMS_FILE]

/** @param utf8 bytes of a text; rooms have no encoder of their own. */
export function makeSite(
  { made, designText, licence, beside = new Map() }: SiteInput,
  utf8: (text: string) => Uint8Array,
): Site {
  const { book, sources } = made
  const packet = packetEdges(sources)
  const figures = siteFigures(made, packet)
  const files = new Map<string, string>()
  files.set('halfbit.yaml', designText)
  files.set('book.html', bookHtml(made))
  files.set('wiring.svg', figures.find((f) => f.name === 'power-stage')!.svg)
  files.set('book.md', bookMarkdown(book, 'wiring.svg'))
  files.set('book.json', `${JSON.stringify({ ...book, diagram: made.diagram }, null, 2)}\n`)
  files.set('proof.html', proofHtml(sources.proof))
  files.set('proof.md', proofMarkdown(sources.proof))
  files.set('proof.json', `${JSON.stringify(sources.proof, null, 2)}\n`)
  for (const f of figures)
    for (const scheme of ['light', 'dark'] as const)
      files.set(`figures/${f.name}-${scheme}.svg`, inScheme(f, scheme, book.name))
  const steps = packet
    ? guide(
        {
          ...sources,
          figures: new Figures(withPacket(sources.data, packet)),
        },
        packet,
      )
    : []
  if (packet) files.set('guide.html', guideHtml(made, steps, packet, figures))
  files.set('status.md', `${statusLine(made)}\n`)
  files.set('licence.txt', `${licenceText(licence)}\n`)
  const named = [...beside].filter(([name]) => !files.has(name) && !UNLISTED.includes(name))
  const sums = [...[...files].map(([name, text]) => [name, utf8(text)] as const), ...named]
    .map(([name, bytes]) => ({ name, bytes }))
    .map(({ name, bytes }) => ({
      name,
      size: bytes.length,
      sum: sha256Hex(bytes),
    }))
  files.set(SUMS_FILE, `${sums.map((s) => `${s.sum}  ${s.name}`).join('\n')}\n`)
  files.set('index.html', indexHtml(made, figures, sums, licence, packet !== undefined))
  return { files, beside: new Map(named), guide: steps, ...(packet ? { packet } : {}) }
}

/** The sources with the packet of the guide beside them. */
export function withPacket(data: MadeBook['sources']['data'], packet: PacketEdges): Record<string, unknown> {
  const us = (half: string) => atSource(data, ['timers', packet.output, half, 'us'])
  return { ...data, packet: { ones: packet.ones, zeros: packet.zeros, oneUs: us('one'), zeroUs: us('zero') } }
}

/** For a README: the date, the profile, what is shown and what is not. */
export function statusLine({ book, sources }: MadeBook): string {
  const { profile } = sources.proof
  const { met, broken, undecided, 'not shown': unshown } = book.counts
  const date = book.date === undefined ? '' : ` of ${book.date}`
  return `${book.name}: proof${date} by ${profile.title}, edition ${profile.edition}, scale ${profile.scale}: ${met} met, ${broken} broken, ${undecided} undecided, ${unshown} not shown, of ${met + broken + undecided + unshown} clauses (design ${book.sum}).`
}

const IN_BOOK = ' in the build book'

const licenceText = (licence: string | undefined) =>
  licence ?? 'The builder has not chosen a licence: ask before you use more than what the law allows.'

function picture(f: SiteFigure): string {
  return `<figure><div class="wide" tabindex="0" role="group" aria-label="${pageText(f.title)}"><picture><source media="(prefers-color-scheme: dark)" srcset="figures/${f.name}-dark.svg"><img src="figures/${f.name}-light.svg" alt="${pageText(f.alt)}"></picture></div><figcaption>${pageText(f.title)}</figcaption></figure>`
}

function indexHtml(
  made: MadeBook,
  figures: readonly SiteFigure[],
  sums: readonly { name: string; size: number; sum: string }[],
  licence: string | undefined,
  guided: boolean,
): string {
  const { book, sources } = made
  const facts: [string, string][] = [
    ['Standard', `${sources.proof.profile.title}, edition ${sources.proof.profile.edition}`],
    ['Scale', sources.proof.profile.scale],
    ['Design', book.sum],
    ...(book.date === undefined ? [] : [['Date', book.date] as [string, string]]),
    ['Licence', licenceText(licence)],
  ]
  const open = book.cannot.filter((c) => c.verdict !== 'not shown')
  const links: [string, string][] = [
    ['book.html', 'Build book: parts, wiring, settings, first power to first train'],
    ['proof.html', 'Proof, clause by clause'],
    ...(guided
      ? [
          [
            'guide.html',
            'From a key press to a turning wheel, for readers who have never seen a command station',
          ] as [string, string],
        ]
      : []),
  ]
  const downloads = sums.map((s) => [
    `<a href="${xml(s.name)}">${xml(s.name)}</a>`,
    `${formatNumber(s.size, 7)} bytes`,
    `<code>${s.sum}</code>`,
  ])
  return page(
    book.name,
    `<h1>${pageText(book.name)}</h1>
<p class="headline ${lookOf(book.verdict)}">${pageText(book.headline)}</p>
${warningsHtml(book, IN_BOOK)}<dl>${facts.map(([t, d]) => `<dt>${t}</dt><dd>${pageText(d)}</dd>`).join('')}</dl>
<ul>${links.map(([href, words]) => `<li><a href="${href}">${pageText(words)}</a></li>`).join('')}</ul>
<h2>What it is</h2>
${list(book.is.map((x) => x.text))}
${open.length === 0 ? '' : `<h2>What is broken or undecided</h2>\n${list(open.map((c) => `${c.verdict}: ${c.words}. ${c.because}`))}\n`}<h2>What nobody has shown yet</h2>
${book.counts['not shown'] === 0 ? '<p>Nothing: every clause is shown.</p>' : list(sources.proof.rows.filter((r) => r.verdict === 'not shown').map((r) => `${rowName(r)}: ${r.title}`))}
<h2>Care</h2>
<div class="care">${list(book.cautions)}</div>
<h2>Figures</h2>
${figures.map(picture).join('\n')}
<h2>Status line</h2>
<p><code>${pageText(statusLine(made))}</code></p>
<h2>Downloads</h2>
${table('downloads-caption', 'Each file with its SHA-256 sum, to check a copy against.', ['file', 'size', 'SHA-256'], downloads)}`,
  )
}

function guideHtml(
  { book }: MadeBook,
  steps: readonly GuideStep[],
  packet: PacketEdges,
  figures: readonly SiteFigure[],
): string {
  const us = (value: number) => `${formatNumber(value, 6)} us`
  const rows = packet.bits.map((b, i) => [
    String(i + 1),
    pageText(b.part),
    b.one ? 'one' : 'zero',
    us(b.beginsUs),
    us(b.turnsUs),
  ])
  const parts = steps.map((s, i) => {
    const figure = s.figures?.map((name) => figures.find((f) => f.name === name)).find((f) => f !== undefined)
    return `<section aria-labelledby="guide-${i + 1}"><h2 id="guide-${i + 1}">${i + 1}. ${pageText(s.title)}</h2>\n<p>${pageText(s.text.text)}</p>${figure ? picture(figure) : ''}</section>`
  })
  return page(
    `How ${book.name} turns a wheel`,
    `<h1>From a key press to a turning wheel</h1>
${warningsHtml(book, IN_BOOK)}<p>In digital command control (DCC) the rails are under power all the time, also while trains stop. The command station sends messages through the same rails, and a decoder in each locomotive obeys those with its address. Here one message of ${pageText(book.name)} is followed from the key to the wheel. All figures are those of this station, as designed; <a href="proof.html">the proof</a> tells which of them have been shown.</p>
${parts.join('\n')}
<h2>Every edge of the packet</h2>
${table('edges-caption', 'Each bit begins with one edge and has another in its middle; times from the first edge of the preamble.', ['bit', 'part', 'value', 'begins', 'middle'], rows)}
<p><a href="index.html">Back to the overview</a></p>`,
  )
}
