/** `halfbit book`: what a stranger needs to build the station, and a page to publish. */
import { existsSync, readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import {
  type BookOptions,
  bookHtml,
  bookMarkdown,
  DIAGRAM_ALT,
  diagramSvg,
  type MadeBook,
  makeBook,
  makeSite,
  SUMS_FILE,
  UNLISTED,
  USUAL_COLOURS,
  USUAL_LEAD_MM,
  WIRE_ROLES,
} from '../../book/index.js'
import { evidenceOfDesign, proofOfDesign } from '../../proof/index.js'
import { InputError, nearest, parseQuantity } from '../../units/index.js'
import { captureEvidence, capturesOf } from '../capture-evidence.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { dateOption } from '../date-option.js'
import { displayPath } from '../display-path.js'
import { sha256 } from '../file-sum.js'
import { makeFolder, readUpTo, writeWhole } from '../files/index.js'
import { firmwareEvidence } from '../firmware-evidence.js'
import { PACKAGE_FOLDER } from '../package-folder.js'
import { type DesignFile, filesBeside, namedByVariant, readDesign } from '../read-design.js'

export const command: Command = {
  usage: ['book DESIGN [--out FILE] [--md | --json]', 'book DESIGN --site DIR [--licence TEXT]'],
  about: `Writes the build book: one page with a description of the station and what is shown of it, parts, wiring diagram and wiring list,
pins, settings, cautions, and the steps from first power to first train with what each instrument should show. Everything comes from
the design and its evidence. Firmware is run and captures are read as "halfbit prove" does, unless --calculated.`,
  options: {
    variant: VARIANT_OPTION,
    out: {
      type: 'string',
      value: 'FILE',
      writes: true,
      help: 'file to write; standard output by default',
    },
    site: {
      type: 'string',
      value: 'DIR',
      help: 'write a page for any web host into this folder: book, proof, figures, guided explanation, downloads with checksums',
    },
    licence: {
      type: 'string',
      value: 'TEXT',
      help: 'licence of what the page offers, such as "CC BY-SA 4.0"',
    },
    md: { type: 'boolean', help: 'as Markdown; with --out the diagram is written beside it' },
    calculated: { type: 'boolean', help: 'neither run the firmware nor read the captures' },
    colour: {
      type: 'string',
      value: 'ROLE=COLOUR',
      multiple: true,
      help: `colour of a wire, by what it carries: ${WIRE_ROLES.join(', ')}; may be repeated`,
    },
    lead: {
      type: 'string',
      value: 'LENGTH',
      help: 'length of each wire inside the station; 500 mm by default',
    },
    date: { type: 'string', value: 'DATE', help: 'date to print, such as 2026-05-01; omitted by default' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit book halfbit.yaml --out book.html',
    'halfbit book halfbit.yaml --site public --licence "CC BY-SA 4.0" --date 2026-05-01',
    'halfbit book halfbit.yaml --md --out book.md --colour "rail A=green"',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  if (args.on('md') && args.on('json')) throw new InputError('--md and --json; expected one of them')
  const folder = args.text('site')
  if (folder !== undefined && (args.text('out') !== undefined || args.on('md')))
    throw new InputError(
      `--site writes the book in all its forms; expected no ${args.on('md') ? '--md' : '--out'} beside it`,
    )
  const options = optionsOf(args)
  const loaded = namedByVariant(readDesign(file, io, args.text('variant')))
  const made = await bookOf(loaded, options, args.on('calculated'), io)
  if (folder !== undefined) return writeSite(made, loaded, folder, args, io)
  const out = args.text('out')
  const diagramFile = out !== undefined && args.on('md') ? out.replace(/(\.md)?$/, '.svg') : undefined
  const text = args.on('json')
    ? JSON.stringify({ ...made.book, diagram: made.diagram }, null, 2)
    : args.on('md')
      ? bookMarkdown(made.book, diagramFile?.replace(/^.*[\\/]/, ''))
      : bookHtml(made)
  if (out === undefined) io.out(text.trimEnd())
  else {
    writeWhole(out, text)
    if (diagramFile !== undefined) writeWhole(diagramFile, diagramSvg(made.diagram, DIAGRAM_ALT))
    io.note(`Wrote ${[out, diagramFile].filter((f) => f !== undefined).join(' and ')}.`)
  }
  return made.book.verdict === 'broken' ? 1 : 0
}

/** What is larger, such as a long capture, is not put on a web host unasked, bytes. */
const LARGEST_BESIDE = 8 << 20

function writeSite(made: MadeBook, loaded: DesignFile, folder: string, args: Arguments, io: Io): ExitStatus {
  const encoder = new TextEncoder()
  const { files, beside } = makeSite(
    {
      made,
      designText: new TextDecoder().decode(loaded.bytes),
      licence: args.text('licence'),
      beside: filesBeside(loaded, LARGEST_BESIDE),
    },
    (text) => encoder.encode(text),
  )
  const all = [...files, ...beside]
  keepOthers(
    folder,
    all.map(([name]) => name),
  )
  makeFolder(folder)
  makeFolder(join(folder, 'figures'))
  for (const name of beside.keys()) if (name.includes('/')) makeFolder(join(folder, dirname(name)))
  for (const [name, content] of all) writeWhole(join(folder, name), content)
  if (args.on('json'))
    io.out(JSON.stringify({ halfbit: 1, folder, files: all.map(([name]) => name) }, null, 2))
  else io.out(`${all.length} files written to ${folder}; the page is ${join(folder, 'index.html')}`)
  return made.book.verdict === 'broken' ? 1 : 0
}

/**
 * A folder may hold files of somebody else under the same names: only what an earlier page listed is written over.
 * @throws InputError for the first other one
 */
function keepOthers(folder: string, names: readonly string[]): void {
  const list = join(folder, SUMS_FILE)
  const own = existsSync(list) ? readUpTo(list, LARGEST_BESIDE, 'a list of sums').toString() : ''
  const listed = new Set([...own.matchAll(/^[0-9a-f]{64} [ *](.+)$/gm)].map(([, name]) => name))
  const isOwn = (name: string) => listed.has(name) || (listed.size > 0 && UNLISTED.includes(name))
  const other = names.find((name) => !isOwn(name) && existsSync(join(folder, name)))
  if (other !== undefined)
    throw new InputError(
      'not written: found a file that is not from an earlier page; expected an empty folder, or one with such a page',
      { file: join(folder, other) },
    )
}

/** The book with the proof as it is now. */
async function bookOf(
  loaded: DesignFile,
  options: BookOptions,
  calculatedOnly: boolean,
  io: Io,
): Promise<MadeBook> {
  const calculated = evidenceOfDesign(loaded, {
    file: displayPath(loaded.file),
    sha256: sha256(loaded.bytes),
  })
  const { sum, run } = calculatedOnly ? {} : await firmwareEvidence(loaded, {}, io)
  const taken = calculatedOnly ? [] : await captureEvidence(loaded, capturesOf(loaded, [], undefined), io)
  const proof = proofOfDesign(loaded, {
    calculated,
    runs: [...(run ? [run] : []), ...taken],
    firmware: sum,
    version: JSON.parse(readFileSync(new URL('package.json', PACKAGE_FOLDER), 'utf8')).version,
    date: options.date,
    interrupted: io.signal.aborted,
  })
  return makeBook(loaded, proof, options)
}

function optionsOf(args: Arguments): BookOptions {
  const colours: Record<string, string> = { ...USUAL_COLOURS }
  for (const text of args.texts('colour')) {
    const [, role, colour] = /^([^=]+)=(.+)$/.exec(text) ?? []
    const known = role?.trim()
    if (known === undefined || colour === undefined || !Object.hasOwn(colours, known)) {
      const close = known === undefined ? undefined : nearest(known, WIRE_ROLES)
      throw new InputError(
        `--colour ${text}; expected ROLE=COLOUR with a role of ${WIRE_ROLES.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
      )
    }
    colours[known] = colour.trim().slice(0, 40)
  }
  const date = dateOption('date', args.text('date'))
  return {
    colours: colours as BookOptions['colours'],
    leadMm: leadOf(args.text('lead')),
    ...(date === undefined ? {} : { date }),
  }
}

function leadOf(text: string | undefined): number {
  if (text === undefined) return USUAL_LEAD_MM
  const parsed = parseQuantity(text, 'length')
  if (!parsed.ok) throw new InputError(`--lead ${text}; expected ${parsed.expected}`)
  if (parsed.value < 10 || parsed.value > 100_000)
    throw new InputError(`--lead ${text}; expected 10 mm to 100 m`)
  return parsed.value
}
