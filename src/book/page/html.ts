/** The book as one HTML page: nothing loaded, no scripts, fit to print. */
import { pageText } from '../../proof/index.js'
import type { Book, MadeBook } from '../contents/book.js'
import { inUnit } from '../contents/figure.js'
import { readingWords } from '../notes/compare.js'
import { diagramSvg } from '../wiring/diagram-svg.js'
import { type DiagramSheet, sheetUnitPt } from '../wiring/sheets.js'
import { CAPTIONS } from './captions.js'
import { PAGE_STYLE } from './style.js'
import { warnings } from './warnings.js'

/** @param body HTML of the main part. */
export function page(title: string, body: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${pageText(title)}</title>
<style>${PAGE_STYLE}</style>
</head>
<body>
<main>
${body}
</main>
</body>
</html>
`
}

/** Tables of so few rows stay on one page of paper. */
const SHORT_TABLE = 8

/** A table with a name. Cells are HTML. */
export function table(
  id: string,
  caption: string,
  heads: readonly string[],
  rows: readonly (readonly string[])[],
): string {
  const short = rows.length <= SHORT_TABLE ? ' short' : ''
  return `<div class="wide${short}" tabindex="0" role="region" aria-labelledby="${id}">
<table>
<caption id="${id}">${pageText(caption)}</caption>
<thead><tr>${heads.map((h) => `<th scope="col">${pageText(h)}</th>`).join('')}</tr></thead>
<tbody>
${rows.map((cells) => `<tr>${cells.map((c, i) => (i === 0 ? `<th scope="row">${c}</th>` : `<td>${c}</td>`)).join('')}</tr>`).join('\n')}
</tbody>
</table>
</div>`
}

/** A quantity that is not torn from its unit at the end of a line. */
const whole = (quantity: string) => quantity.replaceAll(' ', '\u00a0')

export const list = (items: readonly string[]) =>
  `<ul>${items.map((i) => `<li>${pageText(i)}</li>`).join('\n')}</ul>`

const LOOK: Readonly<Record<string, string>> = {
  met: 'met',
  broken: 'broken',
  undecided: 'undecided',
  'not shown': 'none',
}
export const lookOf = (verdict: string) => LOOK[verdict] ?? 'none'

export const DIAGRAM_ALT =
  'Wiring diagram: the parts of the station from left to right, from the supplies over controller and drivers to the rails; each wire with its number from the wiring list.'

/** The parts of the page, in order; also for the navigation. */
export function bookHtml(made: MadeBook): string {
  const { book } = made
  return page(`Build book of ${book.name}`, bookBody(made))
}

export function bookBody({ book, sheets, map }: MadeBook): string {
  const sections: [id: string, title: string, html: string][] = [
    ['care', 'Care', `<div class="care">${list(book.cautions)}</div>`],
    ['what', 'What it is', whatHtml(book)],
    ['parts', 'Parts', partsHtml(book)],
    ['diagram', 'Wiring diagram', sheetsHtml(sheets)],
    ...(map === undefined
      ? []
      : [
          [
            'map',
            'Map',
            `<figure>${map}<figcaption>Where each section and turnout lies, each section with its length. A box across a line: rails are cut there. What meets what is in the table of the track.</figcaption></figure>`,
          ] as [string, string, string],
        ]),
    ...(book.track.length === 0 ? [] : [['track', 'Track', trackHtml(book)] as [string, string, string]]),
    ['wires', 'Wiring list', wiresHtml(book)],
    ['pins', 'Pins, jumpers and settings', settingsHtml(book)],
    ...(book.locomotives.length === 0
      ? []
      : [['locomotives', 'Locomotives', locomotivesHtml(book)] as [string, string, string]]),
    ['bring-up', 'From first power to first train', stepsHtml(book)],
    ['notes', 'Bench notes', notesHtml(book)],
    ['leaves', 'What this book leaves to data sheets and to you', list(book.leaves)],
  ]
  return `<h1>Build book of ${pageText(book.name)}</h1>
<p class="headline ${lookOf(book.verdict)}">${pageText(book.headline)}</p>
${warningsHtml(book)}<dl><dt>Design</dt><dd><code>${book.sum}</code> (the sum that bench notes name)</dd><dt>Made by</dt><dd>halfbit ${pageText(book.version)}${book.date === undefined ? '' : `, ${pageText(book.date)}`}</dd></dl>
<nav aria-label="Contents"><ul>${sections.map(([id, title]) => `<li><a href="#${id}">${title}</a></li>`).join('')}</ul></nav>
${sections.map(([id, title, html]) => `<section aria-labelledby="${id}">\n<h2 id="${id}">${title}</h2>\n${html}\n</section>`).join('\n')}`
}

/** What forbids to use it, and what is not known; nothing for a station that is wholly shown. */
export function warningsHtml({ hazards }: Book, where?: string): string {
  return warnings(hazards, where)
    .map(
      ({ title, lines, forbids }) =>
        `<div class="${forbids ? 'forbids' : 'unknown'}"><p><strong>${pageText(title)}</strong></p>${list(lines)}</div>\n`,
    )
    .join('')
}

function sheetsHtml(sheets: readonly DiagramSheet[]): string {
  const figures = sheets.map(({ number, title, diagram, wires }) => {
    const name = `Sheet ${number} of ${sheets.length}: ${title}`
    return `<figure class="sheet"><figcaption>${pageText(name)}</figcaption><div class="wide" tabindex="0" role="group" aria-label="${pageText(name)}">${diagramSvg(diagram, `${DIAGRAM_ALT} ${name}; wires ${wires.join(', ')}.`, undefined, sheetUnitPt(diagram))}</div></figure>`
  })
  return `<p>${CAPTIONS.diagram} Each wire is on one sheet.</p>
${figures.join('\n')}`
}

function whatHtml(book: Book): string {
  const rows = book.cannot.map((c) => [
    pageText(c.words),
    `<strong class="${lookOf(c.verdict)}">${whole(c.verdict)}</strong>`,
    pageText(c.because),
  ])
  return `${book.about === undefined ? '' : `<p>${pageText(book.about)}</p>\n`}${list(book.is.map((s) => s.text))}
<h3>What it can do</h3>
${book.can.length === 0 ? '<p>Nothing is shown to be met.</p>' : `<div class="can">${list(book.can)}</div>`}
<h3>What it cannot do, or what nobody has shown</h3>
${rows.length === 0 ? '<p>Every clause is met.</p>' : table('cannot-caption', 'What is not shown is not met.', ['clause', 'verdict', 'why'], rows)}`
}

function partsHtml(book: Book): string {
  const rows = book.parts.map((p) => [
    pageText(p.part),
    String(p.count),
    pageText(p.for),
    pageText(p.ratings.text),
  ])
  const orders = book.orders.map((o) => [
    whole(pageText(o.wire)),
    pageText(o.colour),
    whole(inUnit(o.metres * 1000, 'mm')),
  ])
  return `${table('parts-caption', CAPTIONS.parts, ['part', 'number', 'for', 'what it must be able to do'], rows)}
<h3>Supply of the controller</h3>
${list(book.controllerSupply.map((c) => c.text))}
<h3>Wire</h3>
${table('orders-caption', CAPTIONS.orders, ['size', 'colour', 'length'], orders)}`
}

function trackHtml(book: Book): string {
  const notes = book.turnouts.length === 0 ? '' : `\n<h3>Turnouts</h3>\n${list(book.turnouts)}`
  return `${table(
    'track-caption',
    CAPTIONS.track,
    ['piece', 'length', 'rail', 'begins at', 'ends at'],
    book.track.map((t) => [
      pageText(t.piece),
      whole(t.length.text),
      pageText(t.rail),
      pageText(t.from),
      pageText(t.to),
    ]),
  )}${notes}`
}

function wiresHtml(book: Book): string {
  const title = new Map(book.wiring.parts.map((p) => [p.id, p.title]))
  const rows = book.wires.map((w) => [
    w.id,
    pageText(`${title.get(w.from)}: ${w.fromAt}`),
    pageText(`${title.get(w.to)}: ${w.toAt}`),
    whole(pageText(`${w.wire}${w.chosen ? '' : ' (design)'}`)),
    pageText(w.colours.join(' and ')),
    whole(inUnit(w.lengthMm, 'mm')),
  ])
  const sensing =
    book.sensing.length === 0
      ? ''
      : `\n<h3>Current sense and short leads</h3>\n${list(book.sensing.map((b) => b.text))}`
  const buses =
    book.buses.length === 0 ? '' : `\n<h3>Bus and feeders</h3>\n${list(book.buses.map((b) => b.text))}`
  return `${table('wires-caption', CAPTIONS.wires, ['number', 'from', 'to', 'size', 'colour', 'length'], rows)}${sensing}${buses}`
}

function settingsHtml(book: Book): string {
  const pins = book.pins.map((p) => [
    pageText(p.pin),
    pageText(p.goesTo),
    pageText(p.role),
    pageText(p.fit),
    pageText(p.onChip),
  ])
  const registers = book.settings.map((s) => [
    `<code>${pageText(s.register)}</code>`,
    `<code>${pageText(s.value)}</code>`,
    pageText(s.output),
    pageText(s.says),
  ])
  const figures = book.constants.map((c) => [
    `<code>${pageText(c.name)}</code>`,
    `<code>${pageText(c.value)}</code>`,
    pageText(c.says),
  ])
  const parts = [
    table('pins-caption', CAPTIONS.pins, ['pin', 'goes to', 'role', 'what to fit', 'on the chip'], pins),
  ]
  parts.push(
    `<h3>Jumpers</h3>`,
    book.jumpers.length === 0 ? '<p>None: no contact needs to be bent out or tied.</p>' : list(book.jumpers),
  )
  if (book.protection.length > 0) parts.push('<h3>Protection</h3>', list(book.protection.map((p) => p.text)))
  if (book.singleFaults.length > 0)
    parts.push(
      '<h3>Single faults</h3>',
      `<p>${CAPTIONS.faults}</p>`,
      list(book.singleFaults.map((p) => p.text)),
    )
  if (registers.length > 0)
    parts.push(
      '<h3>Registers</h3>',
      table(
        'registers-caption',
        CAPTIONS.registers,
        ['register', 'value', 'output', 'what it does'],
        registers,
      ),
    )
  parts.push('<h3>Firmware</h3>', list(book.firmware))
  if (figures.length > 0)
    parts.push(
      '<h3>Constants of the firmware</h3>',
      table('constants-caption', CAPTIONS.constants, ['name', 'value', 'what it is'], figures),
    )
  return parts.join('\n')
}

function locomotivesHtml(book: Book): string {
  return table(
    'locomotives-caption',
    CAPTIONS.locomotives,
    ['name', 'address', 'stands on', 'its decoder'],
    book.locomotives.map((l) => [
      pageText(l.name),
      pageText(l.address.text),
      pageText(l.stands),
      pageText(l.decoder.map((d) => d.text).join('; ')),
    ]),
  )
}

function stepsHtml(book: Book): string {
  const steps = book.steps.map(
    (s, i) => `<article class="${s.stop ? 'step stop' : 'step'}" aria-labelledby="step-${i + 1}">
<h3 id="step-${i + 1}">${i + 1}. ${pageText(s.title)}</h3>
<dl>${s.stop ? '' : `<dt>Instrument</dt><dd>${pageText(s.instrument)}</dd>`}<dt>Probes</dt><dd>${pageText(s.probes.text)}</dd><dt>Expected</dt><dd>${pageText(s.expected.text)}</dd><dt>${s.stop ? 'Why' : 'When it is off'}</dt><dd>${list(s.off.map((o) => o.text))}</dd><dt>What not to do</dt><dd>${pageText(s.not.text)}</dd>${s.range ? '<dt>Your reading</dt><dd><span class="blank">&nbsp;</span> on <span class="blank">&nbsp;</span></dd>' : ''}</dl>
</article>`,
  )
  return `<div class="before">${list(book.before)}</div>\n${steps.join('\n')}`
}

function notesHtml(book: Book): string {
  if (book.notes.length === 0)
    return '<p>None yet. Readings noted in the design file become measured evidence, judged with the error of the instrument.</p>'
  const rows = book.notes.map((n) => [
    pageText(readingWords(n.reading)),
    n.reading.never ? 'never off' : inUnit(n.value, n.unit, 4),
    n.bounds && !n.reading.never
      ? `${inUnit(n.bounds.low, n.unit, 4)} to ${inUnit(n.bounds.high, n.unit, 4)}`
      : '',
    pageText(n.verdict),
    pageText(
      `${n.reading.with}, ${n.reading.by}, ${n.reading.on}${n.reading.build === undefined ? '' : `, ${n.reading.build}`}`,
    ),
  ])
  const builds = book.builds.map((b) => [
    pageText(readingWords(b)),
    pageText(b.builds.map((x) => `${x.build}: ${inUnit(x.value, b.unit, 4)} (${x.by}, ${x.on})`).join('; ')),
    b.verdict,
  ])
  return `${table('notes-caption', 'Readings beside what this book expects.', ['reading', 'shown', 'with the instrument’s error', 'verdict', 'with, by, on'], rows)}${builds.length === 0 ? '' : `\n<h3>Builds beside each other</h3>\n${table('builds-caption', 'The same reading of several stations built from this design.', ['reading', 'builds', 'verdict'], builds)}`}`
}
