/** `halfbit find`: from readings and symptoms to the fault, by arguments, by a file, or by questions in a terminal. */
import { parse } from 'yaml'
import {
  Finder,
  parseReading,
  parseSymptom,
  type Reading,
  readingsOfCapture,
  readingsOfNotes,
  SYMPTOMS,
} from '../../find/index.js'
import { outputOf, readerOptions } from '../../proof/index.js'
import { capital, InputError } from '../../units/index.js'
import { talkOver } from '../ask.js'
import { askForReadings, reportOf, toGoOn } from '../ask-readings.js'
import { capturesOf } from '../capture-evidence.js'
import { readCapture } from '../capturing.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { dateOption } from '../date-option.js'
import { displayPath } from '../display-path.js'
import { readUpTo } from '../files/index.js'
import { diagnosisText } from '../find-text.js'
import { type DesignFile, readDesign } from '../read-design.js'

/** A list of readings is a few kilobytes. */
const LARGEST_BYTES = 1 << 20

export const command: Command = {
  usage: [
    'find DESIGN [--symptom NAME]… [--reading READING]… [--from FILE] [--capture FILE]… [--notes] [--variant NAME] [--json]',
    'find DESIGN --places',
  ],
  about: `Finds what is wrong on the bench: weighs every fault that the design can have, and the common pairs, against symptoms and
readings, ranks them, and says which reading helps most for the time it takes. In a terminal it asks for one reading after
the other. A reading is a place, a quantity, a value and, if need be, an instrument; a symptom may have a place. If no
reading can separate several faults, they are named together; if nothing fits, it says so. Leave mains wiring to a licensed
electrician, and take no reading there.`,
  options: {
    variant: VARIANT_OPTION,
    reading: {
      type: 'string',
      multiple: true,
      value: 'READING',
      help: 'a reading: "track front.1 track volts 12.8 V", followed by the instrument if it is not the usual one',
    },
    symptom: {
      type: 'string',
      multiple: true,
      value: 'NAME',
      help: `what was noticed: ${Object.keys(SYMPTOMS).join(', ')}; some take a place: "stops at one place at front.1"`,
    },
    from: {
      type: 'string',
      value: 'FILE',
      help: 'YAML or JSON with lists "readings" and "symptoms", each written as with the options',
    },
    capture: {
      type: 'string',
      multiple: true,
      value: 'FILE',
      help: 'a capture taken with the fault present: its half-bits, preambles and late edges are readings; OUTPUT=FILE if the station has several outputs',
    },
    notes: {
      type: 'boolean',
      help: 'use the bench notes of the design as readings: only those taken with the fault present',
    },
    since: {
      type: 'string',
      value: 'DATE',
      help: 'with --notes: only notes from this day on, such as 2026-05-01',
    },
    build: {
      type: 'string',
      value: 'NAME',
      help: 'with --notes: only notes of this station, if several were built',
    },
    places: { type: 'boolean', help: 'list every place and what can be read there' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit find halfbit.yaml',
    'halfbit find halfbit.yaml --symptom "stops at one place" --reading "district shelf output volts 12.9 V"',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file, io, args.text('variant'))
  const finder = new Finder(loaded)
  if (args.on('places')) {
    listPlaces(finder, args.on('json'), io)
    return 0
  }
  const given = givenBy(args)
  const readings = [
    ...(await capturedReadings(finder, loaded, args.texts('capture'), io)),
    ...notedReadings(finder, args, io),
    ...given.readings.map((text) => parseReading(finder.station, finder.spots, text)),
  ]
  const symptoms = given.symptoms.map((text) => parseSymptom(finder.station, text))
  const isTerminal = process.stdin.isTTY === true && process.stderr.isTTY === true
  if (isTerminal && !args.on('json')) {
    const talk = talkOver(process.stdin, process.stderr, io.signal)
    try {
      await askForReadings(finder, readings, symptoms, talk, io.width)
      for (const line of toGoOn(file, readings, symptoms)) talk.say(line)
    } finally {
      talk.close()
    }
    return 0
  }
  const report = reportOf(finder, readings, symptoms)
  if (args.on('json')) io.out(JSON.stringify({ halfbit: 1, file, ...report }, null, 2))
  else io.out(diagnosisText(report, io.width).join('\n'))
  return 0
}

async function capturedReadings(
  finder: Finder,
  loaded: DesignFile,
  asked: readonly string[],
  io: Io,
): Promise<Reading[]> {
  if (asked.length === 0) return []
  const found: Reading[] = []
  for (const { path, output, options } of capturesOf(loaded, asked)) {
    const setting = outputOf(loaded, output)
    const { reading } = await readCapture({
      path,
      capture: options,
      reader: readerOptions(setting),
      profile: setting.profile,
      signal: io.signal,
      onProgress: (bytes, of) =>
        io.progress(`read ${Math.round((100 * bytes) / of)} % of ${displayPath(path)}`),
    })
    io.progress('')
    const own = readingsOfCapture(finder.spots, output, reading)
    if (own.length === 0) io.note(`${displayPath(path)} shows nothing that points to a fault.`)
    found.push(...own)
  }
  return found
}

function notedReadings(finder: Finder, args: Arguments, io: Io): Reading[] {
  const [since, build] = [args.text('since'), args.text('build')]
  if (!args.on('notes')) {
    if (since !== undefined || build !== undefined)
      throw new InputError('--since and --build choose among bench notes; expected --notes with them')
    return []
  }
  dateOption('since', since)
  const { readings, unused } = readingsOfNotes(finder.station.loaded, finder.spots, { since, build })
  for (const { sentence } of unused) io.note(`${capital(sentence)}.`)
  if (readings.length === 0) io.note('No bench note of the design is weighed.')
  return readings
}

/** @throws InputError for a file that is no such list */
function givenBy(args: Arguments): { readings: string[]; symptoms: string[] } {
  const readings = args.texts('reading')
  const symptoms = args.texts('symptom')
  const from = args.text('from')
  if (from === undefined) return { readings, symptoms }
  const file = listsOf(Buffer.from(readUpTo(from, LARGEST_BYTES, 'a list of readings')).toString(), from)
  return { readings: [...file.readings, ...readings], symptoms: [...file.symptoms, ...symptoms] }
}

function listsOf(text: string, file: string): { readings: string[]; symptoms: string[] } {
  let value: unknown
  try {
    value = parse(text)
  } catch (error) {
    throw new InputError(`not YAML or JSON: ${(error as Error).message.split('\n')[0]}`, { file })
  }
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    throw new InputError('expected lists "readings" and "symptoms"', { file })
  const unknown = Object.keys(value).find((k) => k !== 'readings' && k !== 'symptoms')
  if (unknown !== undefined)
    throw new InputError(`unknown key "${unknown}"; expected "readings" and "symptoms"`, { file })
  const list = (key: 'readings' | 'symptoms'): string[] => {
    const own = (value as Record<string, unknown>)[key] ?? []
    if (!Array.isArray(own) || own.some((t) => typeof t !== 'string'))
      throw new InputError(`"${key}" is no list of texts; expected one as with the options`, { file })
    return own as string[]
  }
  return { readings: list('readings'), symptoms: list('symptoms') }
}

function listPlaces(finder: Finder, isJson: boolean, io: Io): void {
  const byPlace = new Map<string, string[]>()
  for (const { place, quantity } of finder.spots)
    byPlace.set(place.text, [...(byPlace.get(place.text) ?? []), quantity])
  const list = [...byPlace].map(([place, quantities]) => ({ place, quantities }))
  io.out(
    isJson
      ? JSON.stringify({ halfbit: 1, places: list, symptoms: Object.keys(SYMPTOMS) }, null, 2)
      : list.map((p) => `${p.place}: ${p.quantities.join(', ')}`).join('\n'),
  )
}
