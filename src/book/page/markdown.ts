/** The book as Markdown (tables as in GitHub Flavored Markdown 0.29); the diagram is a file beside it. */
import type { Book } from '../contents/book.js'
import { inUnit } from '../contents/figure.js'
import { readingWords } from '../notes/compare.js'
import { CAPTIONS } from './captions.js'
import { warnings } from './warnings.js'

/** A cell of a table, or a line: nothing in it is markup. */
function cell(text: string): string {
  return text.replace(/\s+/g, ' ').replace(/[\\`*_[\]<>|#]/g, (c) => `\\${c}`)
}

function table(heads: readonly string[], rows: readonly (readonly string[])[]): string[] {
  return [
    `| ${heads.join(' | ')} |`,
    `|${heads.map(() => '---').join('|')}|`,
    ...rows.map((r) => `| ${r.map(cell).join(' | ')} |`),
    '',
  ]
}
const list = (items: readonly string[]) => [...items.map((i) => `- ${cell(i)}`), '']

/** @param diagramFile name of the diagram's file beside the page, where there is one. */
export function bookMarkdown(book: Book, diagramFile?: string): string {
  const title = new Map(book.wiring.parts.map((p) => [p.id, p.title]))
  const lines = [
    `# Build book of ${cell(book.name)}`,
    '',
    `**${cell(book.headline)}**`,
    '',
    ...warnings(book.hazards).flatMap(({ title, lines }) => [`**${cell(title)}**`, '', ...list(lines)]),
    ...list([
      `design ${book.sum} (the sum that bench notes name)`,
      `made by halfbit ${book.version}${book.date === undefined ? '' : `, ${book.date}`}`,
    ]),
    '## Care',
    '',
    ...list(book.cautions),
    '## What it is',
    '',
    ...(book.about === undefined ? [] : [cell(book.about), '']),
    ...list(book.is.map((s) => s.text)),
    '### What it can do',
    '',
    ...(book.can.length > 0 ? list(book.can) : ['Nothing is shown to be met.', '']),
    '### What it cannot do, or what nobody has shown',
    '',
    ...table(
      ['clause', 'verdict', 'why'],
      book.cannot.map((c) => [c.words, c.verdict, c.because]),
    ),
    '## Parts',
    '',
    CAPTIONS.parts,
    '',
    ...table(
      ['part', 'number', 'for', 'what it must be able to do'],
      book.parts.map((p) => [p.part, String(p.count), p.for, p.ratings.text]),
    ),
    '### Supply of the controller',
    '',
    ...list(book.controllerSupply.map((c) => c.text)),
    '### Wire',
    '',
    CAPTIONS.orders,
    '',
    ...table(
      ['size', 'colour', 'length'],
      book.orders.map((o) => [o.wire, o.colour, inUnit(o.metres * 1000, 'mm')]),
    ),
    ...(diagramFile === undefined
      ? []
      : ['## Wiring diagram', '', CAPTIONS.diagram, '', `![Wiring diagram](${diagramFile})`, '']),
    ...(book.track.length === 0
      ? []
      : [
          '## Track',
          '',
          CAPTIONS.track,
          '',
          ...table(
            ['piece', 'length', 'rail', 'begins at', 'ends at'],
            book.track.map((t) => [t.piece, t.length.text, t.rail, t.from, t.to]),
          ),
          ...(book.turnouts.length === 0 ? [] : ['### Turnouts', '', ...list(book.turnouts)]),
        ]),
    '## Wiring list',
    '',
    CAPTIONS.wires,
    '',
    ...table(
      ['number', 'from', 'to', 'size', 'colour', 'length'],
      book.wires.map((w) => [
        w.id,
        `${title.get(w.from)}: ${w.fromAt}`,
        `${title.get(w.to)}: ${w.toAt}`,
        `${w.wire}${w.chosen ? '' : ' (design)'}`,
        w.colours.join(' and '),
        inUnit(w.lengthMm, 'mm'),
      ]),
    ),
    ...(book.sensing.length === 0
      ? []
      : ['### Current sense and short leads', '', ...list(book.sensing.map((b) => b.text))]),
    ...(book.buses.length === 0 ? [] : ['### Bus and feeders', '', ...list(book.buses.map((b) => b.text))]),
    '## Pins, jumpers and settings',
    '',
    CAPTIONS.pins,
    '',
    ...table(
      ['pin', 'goes to', 'role', 'what to fit', 'on the chip, from memory'],
      book.pins.map((p) => [p.pin, p.goesTo, p.role, p.fit, p.onChip]),
    ),
    '### Jumpers',
    '',
    ...(book.jumpers.length > 0
      ? list(book.jumpers)
      : ['None: no contact needs to be bent out or tied.', '']),
    ...(book.protection.length > 0
      ? ['### Protection', '', ...list(book.protection.map((p) => p.text))]
      : []),
    ...(book.singleFaults.length > 0
      ? ['### Single faults', '', CAPTIONS.faults, '', ...list(book.singleFaults.map((p) => p.text))]
      : []),
    ...(book.settings.length === 0
      ? []
      : [
          '### Registers',
          '',
          CAPTIONS.registers,
          '',
          ...table(
            ['register', 'value', 'output', 'what it does'],
            book.settings.map((s) => [s.register, s.value, s.output, s.says]),
          ),
        ]),
    '### Firmware',
    '',
    ...list(book.firmware),
    ...(book.constants.length === 0
      ? []
      : [
          '### Constants of the firmware',
          '',
          CAPTIONS.constants,
          '',
          ...table(
            ['constant', 'value', 'what it is'],
            book.constants.map((c) => [c.name, c.value, c.says]),
          ),
        ]),
    ...(book.locomotives.length === 0
      ? []
      : [
          '## Locomotives',
          '',
          CAPTIONS.locomotives,
          '',
          ...table(
            ['name', 'address', 'stands on', 'its decoder'],
            book.locomotives.map((l) => [
              l.name,
              l.address.text,
              l.stands,
              l.decoder.map((d) => d.text).join('; '),
            ]),
          ),
        ]),
    '## From first power to first train',
    '',
    ...list(book.before),
    ...book.steps.flatMap((s, i) => [
      `### ${i + 1}. ${cell(s.title)}`,
      '',
      ...list([
        ...(s.stop ? [] : [`Instrument: ${s.instrument}`]),
        `Probes: ${s.probes.text}`,
        `Expected: ${s.expected.text}`,
        ...s.off.map((o) => `${s.stop ? 'Why' : 'When it is off'}: ${o.text}`),
        `What not to do: ${s.not.text}`,
      ]),
    ]),
    '## Bench notes',
    '',
    ...(book.notes.length === 0
      ? ['None yet.', '']
      : table(
          ['reading', 'shown', 'verdict', 'with, by, on'],
          book.notes.map((n) => [
            readingWords(n.reading),
            n.reading.never ? 'never off' : inUnit(n.value, n.unit, 4),
            n.verdict,
            `${n.reading.with}, ${n.reading.by}, ${n.reading.on}${n.reading.build === undefined ? '' : `, ${n.reading.build}`}`,
          ]),
        )),
    ...(book.builds.length === 0
      ? []
      : [
          '### Builds beside each other',
          '',
          ...table(
            ['reading', 'builds', 'verdict'],
            book.builds.map((b) => [
              readingWords(b),
              b.builds.map((x) => `${x.build}: ${inUnit(x.value, b.unit, 4)} (${x.by}, ${x.on})`).join('; '),
              b.verdict,
            ]),
          ),
        ]),
    '## What this book leaves to data sheets and to you',
    '',
    ...list(book.leaves),
  ]
  return `${lines.join('\n').trimEnd()}\n`
}
