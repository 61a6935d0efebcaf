/** The build book for the screen and to take along. */
import {
  bookHtml,
  bookMarkdown,
  DIAGRAM_ALT,
  diagramSvg,
  makeBook,
  USUAL_COLOURS,
  USUAL_LEAD_MM,
} from '../../book/index.js'
import type { LoadedDesign } from '../../design/index.js'
import type { Proof } from '../../proof/index.js'
import { formatNumber } from '../../units/index.js'
import type { BookScreen, TableData } from './calls.js'

export function bookScreen(loaded: LoadedDesign, proof: Proof): BookScreen {
  const made = makeBook(loaded, proof, { colours: USUAL_COLOURS, leadMm: USUAL_LEAD_MM })
  const { book, diagram } = made
  const title = new Map(book.wiring.parts.map((p) => [p.id, p.title]))
  const tables: TableData[] = [
    {
      title: 'Parts',
      head: ['part', 'number', 'for', 'what it must be able to do'],
      rows: book.parts.map((p) => [p.part, String(p.count), p.for, p.ratings.text]),
    },
    {
      title: 'Wiring list',
      head: ['number', 'from', 'to', 'size', 'colour', 'length'],
      rows: book.wires.map((w) => [
        w.id,
        `${title.get(w.from)}: ${w.fromAt}`,
        `${title.get(w.to)}: ${w.toAt}`,
        w.wire,
        w.colours.join(' and '),
        `${formatNumber(w.lengthMm / 1000)} m`,
      ]),
    },
    ...(book.notes.length === 0
      ? []
      : [
          {
            title: 'Bench notes beside what the book expects',
            head: ['reading', 'verdict', 'with, by, on'],
            rows: book.notes.map((n) => [
              `${n.reading.reading} of ${n.reading.of}`,
              n.verdict,
              `${n.reading.with}, ${n.reading.by}, ${n.reading.on}`,
            ]),
          },
        ]),
  ]
  return {
    sum: book.sum,
    figure: {
      name: 'wiring',
      title: 'Wiring diagram',
      svg: diagramSvg(diagram, DIAGRAM_ALT),
      places: diagram.parts.map((p) => ({
        name: title.get(p.id)!,
        x: p.x + p.width / 2,
        y: p.y + p.height / 2,
      })),
    },
    tables,
    steps: book.steps.map((s) => ({
      title: s.title,
      facts: [
        ['Instrument', s.instrument],
        ['Probes', s.probes.text],
        ['Expected', s.expected.text],
        ...s.off.map((o): [string, string] => ['When it is off', o.text]),
        ['What not to do', s.not.text],
      ],
    })),
    cautions: book.cautions,
    html: bookHtml(made),
    markdown: bookMarkdown(book),
  }
}
