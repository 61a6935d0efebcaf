import { join } from 'node:path'
import { CHIPS, type ChipId, pinConcerns, searchTimers, verdictOfConcern } from '../../controller/index.js'
import {
  type Design,
  DesignError,
  designText,
  FIRST_DESIGN,
  loadDesign,
  type NewDesign,
} from '../../design/index.js'
import { profileOf } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { exampleFiles, exampleNames, type NewFiles, writeNewFolder } from '../new-design.js'

export const command: Command = {
  usage: ['new [DIR] [options]', 'new [DIR] --example NAME'],
  about: `Writes a commented design file, halfbit.yaml, into a folder (this one when DIR is left out), or copies an example with
its firmware. Nothing that exists is replaced; either all files are written or none.`,
  options: {
    example: {
      type: 'string',
      value: 'NAME',
      choices: exampleNames(),
      help: `copy an example: ${exampleNames().join(', ')}`,
    },
    name: { type: 'string', value: 'TEXT', help: 'name of the station' },
    profile: { type: 'string', value: 'PROFILE', choices: ['nmra', 'rcn'], help: 'nmra or rcn (nmra)' },
    scale: {
      type: 'string',
      value: 'SCALE',
      choices: ['Z', 'N', 'TT', 'H0', 'S', '0', '1', 'G'],
      help: 'Z, N, TT, H0, S, 0, 1 or G (H0)',
    },
    chip: {
      type: 'string',
      value: 'CHIP',
      help: `controller (atmega328p): ${Object.keys(CHIPS).join(', ')}`,
    },
    clock: {
      type: 'string',
      value: 'FREQUENCY',
      help: 'its clock (the usual one of boards with that controller)',
    },
    source: {
      type: 'string',
      value: 'SOURCE',
      help: 'crystal, resonator, trimmed rc, rc, internal (the usual one)',
    },
    pin: {
      type: 'string',
      value: 'PIN',
      help: 'pin of the signal (the best that a timer drives and nothing else needs)',
    },
  },
  takes: { min: 0, max: 1, what: 'at most one folder' },
  examples: [
    'halfbit new',
    "halfbit new station --chip atmega2560 --clock '16 MHz' --pin PB5",
    'halfbit new demo --example exhibition',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const folder = args.positionals[0] ?? '.'
  const example = args.text('example')
  const files = example === undefined ? ownDesign(args) : exampleOf(args, example)
  writeNewFolder(folder, files)
  const design = join(folder, 'halfbit.yaml')
  if (args.on('json')) {
    io.out(JSON.stringify({ halfbit: 1, folder, design, files: [...files.keys()].sort() }, null, 2))
    return 0
  }
  io.out(`${files.size} file${files.size === 1 ? '' : 's'} written; the design is ${design}`)
  io.out(`Next: halfbit check ${design}, then halfbit timers ${design}, then halfbit prove ${design}`)
  return 0
}

function exampleOf(args: Arguments, name: string): NewFiles {
  for (const other of ['name', 'profile', 'scale', 'chip', 'clock', 'source', 'pin']) {
    if (args.text(other) !== undefined) {
      throw new InputError(`--example and --${other} do not go together: an example has its own`)
    }
  }
  return exampleFiles(name)
}

function ownDesign(args: Arguments): NewFiles {
  const chip = (args.text('chip') ?? FIRST_DESIGN.chip).toLowerCase()
  const known = Object.hasOwn(CHIPS, chip) ? CHIPS[chip as ChipId] : CHIPS.atmega328p
  const pin = args.text('pin')
  const setting: NewDesign = {
    name: args.text('name') ?? FIRST_DESIGN.name,
    profile: plain('profile', args.text('profile') ?? FIRST_DESIGN.profile),
    scale: plain('scale', args.text('scale') ?? FIRST_DESIGN.scale),
    chip: plain('chip', chip),
    clock: plain('clock', args.text('clock') ?? `${known.usualClock.hz / 1e6} MHz`),
    source: plain('source', args.text('source') ?? known.usualClock.source),
    pin: plain('pin', pin ?? known.pins[0]!),
  }
  // The same checks as for any design file tell what is wrong with an option.
  const { design } = loadOptions(designText(setting))
  const text = designText({ ...setting, ...bestWay(design, pin !== undefined) })
  loadOptions(text)
  return new Map([['halfbit.yaml', text]])
}

/** The key of the design file that an option sets. */
const OPTION_OF: Readonly<Record<string, string>> = {
  name: 'name',
  'standard.profile': 'profile',
  scale: 'scale',
  'controller.chip': 'chip',
  'controller.clock.frequency': 'clock',
  'controller.clock.source': 'source',
  'signal.outputs.main.pin': 'pin',
}

/** Loads what the options made; a problem is told with its option, as nobody has seen the file yet. */
function loadOptions(text: string) {
  try {
    return loadDesign(text, 'new design')
  } catch (error) {
    const [problem] = error instanceof DesignError ? error.problems : []
    const key = problem?.path.join('.') ?? ''
    if (!problem || !Object.hasOwn(OPTION_OF, key)) throw error
    throw new InputError(`--${OPTION_OF[key]}: ${problem.message}`)
  }
}

/**
 * The first way that `halfbit timers` would list on a pin that nothing speaks against, or on the pin that was asked for.
 * @throws InputError when there is none.
 */
function bestWay({ controller, signal, standard, scale }: Design, keepPin: boolean): Partial<NewDesign> {
  const { clauses } = profileOf({ profile: standard.profile, scale, cutout: false })
  const track = signal.outputs['main']!
  const wanted = keepPin ? track : { ...track, pin: undefined }
  const { options, refused } = searchTimers({ controller, track: wanted, clauses, keepTo: { pin: keepPin } })
  const safe = options.filter((o) => o.pinConcerns.every((c) => verdictOfConcern(c) === 'met'))
  const best = safe.find((o) => o.pinConcerns.length === 0) ?? safe[0]
  if (best) {
    const { method, pin, divider: prescaler, timer } = best
    return { method, pin, prescaler, timer: timer.number }
  }
  if (keepPin) {
    const [concern] = pinConcerns(controller.chip, track.pin, {
      as: 'output',
      clock: controller.clock.source,
    })
    const why = concern?.finding.sentence ?? refused[0]?.refused ?? 'no timer drives it'
    throw new InputError(`--pin ${track.pin}: ${why}`)
  }
  const why = refused[0]?.refused ?? 'none of its timers drives a pin'
  throw new InputError(
    `no timer of the ${CHIPS[controller.chip].name} makes the signal with this clock: ${why}`,
  )
}

/** An option's text goes into the file as it is, so it must not carry any of the file's own marks. */
function plain(name: string, text: string): string {
  if (/^[\w.+/-]+( [\w.+/-]+)*$/u.test(text)) return text
  throw new InputError(`--${name} ${JSON.stringify(text)}; expected letters, digits and single spaces`)
}
