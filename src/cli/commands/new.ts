import { join } from 'node:path'
import { CHIPS, type ChipId, searchTimers } from '../../controller/index.js'
import { type Design, DesignError, designText, loadDesign, type NewDesign } from '../../design/index.js'
import { profileOf } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { exampleFiles, exampleNames, type NewFiles, writeNewFolder } from '../new-design.js'

export const command: Command = {
  usage: ['new [DIR] [options]', 'new [DIR] --example NAME'],
  about: `Writes a commented design file, halfbit.yaml, into a folder (this one when DIR is left out), or copies an example with
its firmware. Nothing that exists is replaced; either all files are written or none.`,
  options: {
    example: { type: 'string', value: 'NAME', help: `copy an example: ${exampleNames().join(', ')}` },
    name: { type: 'string', value: 'TEXT', help: 'name of the station' },
    profile: { type: 'string', value: 'PROFILE', help: 'nmra or rcn (nmra)' },
    scale: { type: 'string', value: 'SCALE', help: 'Z, N, TT, H0, S, 0, 1 or G (H0)' },
    chip: {
      type: 'string',
      value: 'CHIP',
      help: `controller (atmega328p): ${Object.keys(CHIPS).join(', ')}`,
    },
    clock: {
      type: 'string',
      value: 'FREQUENCY',
      help: 'its clock (16 MHz, or the highest of the controller)',
    },
    source: {
      type: 'string',
      value: 'SOURCE',
      help: 'crystal, resonator, trimmed rc, rc, internal (crystal)',
    },
    pin: { type: 'string', value: 'PIN', help: 'pin of the signal (the best that a timer drives)' },
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
  const chip = (args.text('chip') ?? 'atmega328p').toLowerCase()
  const highest = Object.hasOwn(CHIPS, chip) ? CHIPS[chip as ChipId].maxHz : 16e6
  const setting = {
    name: args.text('name') ?? 'My command station',
    profile: plain('profile', args.text('profile') ?? 'nmra'),
    scale: plain('scale', args.text('scale') ?? 'H0'),
    chip: plain('chip', chip),
    clock: plain('clock', args.text('clock') ?? `${Math.min(16e6, highest) / 1e6} MHz`),
    source: plain('source', args.text('source') ?? 'crystal'),
    pin: plain('pin', args.text('pin') ?? 'PB1'),
    method: 'toggle',
  }
  // The same checks as for any design file tell what is wrong with an option.
  const { design } = loadOptions(designText(setting))
  const text = designText({ ...setting, ...bestWay(design, args.text('pin') !== undefined) })
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

/** The first way that `halfbit timers` would list, on the pin that was asked for if any. */
function bestWay({ controller, signal, standard, scale }: Design, keepPin: boolean): Partial<NewDesign> {
  const { clauses } = profileOf({ profile: standard.profile, scale, cutout: false })
  const track = signal.outputs['main']!
  const wanted = keepPin ? track : { ...track, pin: undefined }
  const [best] = searchTimers({ controller, track: wanted, clauses, keepTo: { pin: keepPin } }).options
  if (!best) return {}
  const { method, pin, divider: prescaler, timer } = best
  return { method, pin, prescaler, timer: timer.number }
}

/** An option's text goes into the file as it is, so it must not carry any of the file's own marks. */
function plain(name: string, text: string): string {
  if (/^[\w.+/-]+( [\w.+/-]+)*$/u.test(text)) return text
  throw new InputError(`--${name} ${JSON.stringify(text)}; expected letters, digits and single spaces`)
}
