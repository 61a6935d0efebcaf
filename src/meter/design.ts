/** `benchNotes:` of the design file: the instruments, and what was read with them, where, by whom and when. */
import { shape, type Value } from '../shape/index.js'

const instrument = shape({
  kind: 'record',
  title: 'instrument',
  help: 'What its own sheet says of it. Without its accuracy no reading with it decides anything.',
  keys: {
    kind: {
      kind: 'choice',
      title: 'kind',
      choices: {
        average: 'AC meter, average responding',
        rms: 'AC meter, true RMS',
        dc: 'DC meter',
        oscilloscope: 'oscilloscope',
        analyser: 'logic analyser',
        stopwatch: 'stopwatch',
      },
    },
    accuracy: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'accuracy, as a share of the reading',
      help: 'Either way. An oscilloscope: its vertical accuracy with that of the probe.',
      min: 0,
      max: 0.5,
      optional: true,
      example: '1 %',
    },
    digits: {
      kind: 'number',
      title: 'what may be added on top, in the unit of the reading',
      help: 'The counts of the last digit: 3 counts of 0.01 V are 0.03. In V, A or s.',
      min: 0,
      max: 1000,
      default: 0,
      example: 0.03,
    },
    bandwidth: {
      kind: 'quantity',
      dimension: 'frequency',
      title: 'highest frequency that its accuracy holds for',
      help: 'Of an AC range. Without it nothing is known of it on a track signal.',
      min: 1,
      max: 1e11,
      optional: true,
      example: '100 kHz',
    },
    coupling: {
      kind: 'choice',
      title: 'coupling',
      choices: { ac: 'AC: a DC part is not seen', 'ac+dc': 'AC and DC' },
      default: 'ac',
    },
  },
})

const note = shape({
  kind: 'record',
  title: 'reading',
  help: 'One reading, as it was shown by the instrument.',
  keys: {
    reading: {
      kind: 'choice',
      title: 'what was read',
      choices: {
        supply: 'voltage of a supply',
        track: 'AC voltage between the rails',
        peak: 'peak voltage between the rails',
        offset: 'DC voltage between the rails',
        'rail high': 'DC voltage of one rail against the supply’s minus',
        current: 'current of a train or a district',
        trip: 'time from a short until it was off',
        acknowledgement: 'rise of the current by an acknowledgement',
        'half of one': 'length of half a one',
        'half of zero': 'length of half a zero',
      },
    },
    of: {
      kind: 'text',
      title: 'supply, district, output or train',
      help: 'The name that it has in the design.',
      maxLength: 60,
      example: 'main',
    },
    at: {
      kind: 'text',
      title: 'place',
      help: 'The section of track where the probes were; the station’s output when left out.',
      maxLength: 80,
      optional: true,
      example: 'mill',
    },
    voltage: {
      kind: 'quantity',
      dimension: 'voltage',
      min: -100,
      max: 100,
      optional: true,
      example: '12.9 V',
    },
    current: { kind: 'quantity', dimension: 'current', min: 0, max: 100, optional: true, example: '0.3 A' },
    time: { kind: 'quantity', dimension: 'time', min: 0, max: 60e6, optional: true, example: '2.2 ms' },
    never: {
      kind: 'switch',
      title: 'it did not trip',
      help: 'Of a short: it was not switched off while it lasted.',
      default: false,
    },
    load: {
      kind: 'quantity',
      dimension: 'current',
      title: 'current that flowed meanwhile',
      help: 'Of the district, as read. Without it no voltage under load is shown.',
      min: 0,
      max: 100,
      optional: true,
      example: '1.4 A',
    },
    with: { kind: 'text', title: 'instrument', maxLength: 60, example: 'pocket meter' },
    by: { kind: 'text', title: 'who read it', maxLength: 80, example: 'A. Builder' },
    on: {
      kind: 'text',
      title: 'date',
      pattern: '\\d{4}-\\d{2}-\\d{2}',
      patternSays: 'a date such as 2026-05-01',
      example: '2026-05-01',
    },
    build: {
      kind: 'text',
      title: 'which of several stations built from this design',
      maxLength: 60,
      optional: true,
      example: 'club house',
    },
    design: {
      kind: 'text',
      title: 'sum of the design that was built',
      help: 'As the build book prints it. A reading of another state of the design counts for nothing.',
      pattern: '[0-9a-f]{8,64}',
      patternSays: '8 or more of the digits 0 to 9 and a to f',
      optional: true,
      example: '5b1f0c2e9a77',
    },
  },
})

export const benchNotesShape = shape({
  kind: 'record',
  title: 'bench notes',
  help: 'What was read on the finished station: measured evidence, judged with the instrument’s own error.',
  keys: {
    instruments: { kind: 'named', title: 'instruments', of: instrument, minItems: 1, maxItems: 50 },
    readings: { kind: 'list', title: 'readings', of: note, maxItems: 2000 },
  },
})

export type BenchNotes = Value<typeof benchNotesShape>
export type BenchReading = Value<typeof note>
export type Instrument = Value<typeof instrument>
export type ReadingKind = BenchReading['reading']

/** The key that holds the value of each kind of reading. */
export const VALUE_KEY: Readonly<Record<ReadingKind, 'voltage' | 'current' | 'time'>> = {
  supply: 'voltage',
  track: 'voltage',
  peak: 'voltage',
  offset: 'voltage',
  'rail high': 'voltage',
  current: 'current',
  trip: 'time',
  acknowledgement: 'current',
  'half of one': 'time',
  'half of zero': 'time',
}

/** The names of a station's parts. */
export interface PartNames {
  supplies: readonly string[]
  districts: readonly string[]
  outputs: readonly string[]
  trains: readonly string[]
}

/** What a reading can be of, by name. */
export function namesToRead(kind: ReadingKind, names: PartNames): readonly string[] {
  if (kind === 'supply') return names.supplies
  if (kind === 'current') return [...names.districts, ...names.trains]
  if (kind === 'half of one' || kind === 'half of zero') return names.outputs
  return names.districts
}

/** Instruments that can read each kind at all. */
export const CAN_READ: Readonly<Record<ReadingKind, readonly Instrument['kind'][]>> = {
  supply: ['dc', 'oscilloscope'],
  track: ['average', 'rms'],
  peak: ['oscilloscope'],
  offset: ['dc', 'oscilloscope'],
  'rail high': ['dc'],
  current: ['dc'],
  trip: ['oscilloscope', 'analyser', 'stopwatch'],
  acknowledgement: ['oscilloscope'],
  'half of one': ['oscilloscope', 'analyser'],
  'half of zero': ['oscilloscope', 'analyser'],
}

/** What is wrong with the notes as such; names of parts are checked where these are known. */
export function checkBenchNotes(notes: BenchNotes): { path: (string | number)[]; message: string }[] {
  const problems: { path: (string | number)[]; message: string }[] = []
  notes.readings.forEach((r, i) => {
    const wrong = (key: string, message: string) => problems.push({ path: ['readings', i, key], message })
    if (!Object.hasOwn(notes.instruments, r.with))
      wrong(
        'with',
        `no instrument "${r.with}"; expected one of ${Object.keys(notes.instruments).join(', ') || 'those listed'}`,
      )
    else if (!CAN_READ[r.reading].includes(notes.instruments[r.with]!.kind))
      wrong(
        'with',
        `"${r.with}" does not read ${r.reading}; expected an instrument of kind ${CAN_READ[r.reading].join(' or ')}`,
      )
    const key = VALUE_KEY[r.reading]
    const given = (['voltage', 'current', 'time'] as const).filter((k) => r[k] !== undefined)
    if (r.never && (r.reading !== 'trip' || given.length > 0))
      wrong('never', 'only a short that was never switched off has no time; expected a value instead')
    else if (!r.never && (given.length !== 1 || given[0] !== key))
      wrong(
        given.find((k) => k !== key) ?? 'reading',
        `a reading of ${r.reading} has one value, its ${key}; found ${given.join(' and ') || 'none'}`,
      )
    if (r.reading === 'trip' && r.time === 0)
      wrong('time', 'no trip takes 0 s; expected the time that was read')
    if (!isDate(r.on)) wrong('on', `${r.on} is no day of the calendar; expected a date such as 2026-05-01`)
  })
  return problems
}

function isDate(text: string): boolean {
  const [year, month, day] = text.split('-').map(Number) as [number, number, number]
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0
  const days = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1]
  return days !== undefined && day >= 1 && day <= days
}
