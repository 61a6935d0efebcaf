/** A new design: the commented file for a station of one's own, or a copy of an example. */
import { randomBytes } from 'node:crypto'
import {
  existsSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmdirSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { dirname, join, relative } from 'node:path'
import { fileURLToPath } from 'node:url'
import { InputError, nearest } from '../units/index.js'
import { makeFolder } from './make-folder.js'

const EXAMPLES = fileURLToPath(new URL('../../examples', import.meta.url))

/** Examples that came with the package. */
export function exampleNames(): string[] {
  if (!existsSync(EXAMPLES)) return []
  return readdirSync(EXAMPLES).filter((name) => existsSync(join(EXAMPLES, name, 'halfbit.yaml')))
}

/** Path inside the folder → content. */
export type NewFiles = ReadonlyMap<string, string | Uint8Array>

/** @throws InputError naming the examples there are. */
export function exampleFiles(name: string): NewFiles {
  const names = exampleNames()
  if (!names.includes(name)) {
    const close = nearest(name, names)
    throw new InputError(
      `--example ${name}: no such example${close ? `; the nearest is ${close}` : ''}; expected one of ${names.join(', ')}`,
    )
  }
  const files = new Map<string, Uint8Array>()
  const walk = (folder: string) => {
    for (const entry of readdirSync(folder, { withFileTypes: true })) {
      const path = join(folder, entry.name)
      if (entry.isDirectory()) walk(path)
      else if (!entry.name.startsWith('.'))
        files.set(relative(join(EXAMPLES, name), path), readFileSync(path))
    }
  }
  walk(join(EXAMPLES, name))
  return files
}

/**
 * Write all the files or none. Nothing that is there already is replaced.
 * @throws InputError when one of them exists.
 */
export function writeNewFolder(folder: string, files: NewFiles): void {
  const there = statSync(folder, { throwIfNoEntry: false })
  if (there && !there.isDirectory()) throw new InputError('is a file; expected a folder', { file: folder })
  const tops = new Set([...files.keys()].map((path) => path.split(/[\\/]/)[0]!))
  for (const top of tops) {
    if (existsSync(join(folder, top))) {
      throw new InputError('exists already; nothing was written', { file: join(folder, top) })
    }
  }
  // All is written beside its place first, so that a full disk leaves nothing behind.
  const made = makeFolder(folder)
  const draft = join(folder, `.halfbit-${randomBytes(6).toString('hex')}.part`)
  const moved: string[] = []
  try {
    for (const [path, content] of files) {
      const target = join(draft, path)
      makeFolder(dirname(target))
      writeFileSync(target, content)
    }
    for (const top of tops) {
      renameSync(join(draft, top), join(folder, top))
      moved.push(join(folder, top))
    }
    rmdirSync(draft)
  } catch (error) {
    for (const path of [...moved, draft]) rmSync(path, { recursive: true, force: true })
    if (made !== undefined) rmSync(made, { recursive: true, force: true })
    throw error
  }
}

export interface NewDesign {
  name: string
  profile: string
  scale: string
  chip: string
  clock: string
  source: string
  pin: string
  method: string
  timer?: number
  prescaler?: number
}

/** The commented design file of a station with one output. Every value in it can be checked by `halfbit check`. */
export function designText(d: NewDesign): string {
  return `# A design file: one command station and its railroad. Quantities carry their unit: 58 us, 16 MHz, 1.2 A.
# \`halfbit check halfbit.yaml\` names what is wrong, with its line; docs/design-file.md lists every key.
halfbit: 1 # version of this format
name: ${JSON.stringify(d.name)}

standard:
  profile: ${d.profile} # nmra: S-9.x; rcn: RailCommunity and NEM
scale: ${d.scale} # Z, N, TT, H0, S, 0, 1 or G: decides the voltage window

controller:
  chip: ${d.chip}
  clock:
    frequency: ${d.clock}
    source: ${d.source} # crystal, resonator, trimmed rc, rc, internal: decides the tolerance
  # reservedTimers: [0] # timers that other code relies on
  # reservedPins: [] # pins already used for something else

signal:
  tracks:
    main: # a name of your own; add more outputs below it
      mode: operations # service for a programming track
      pin: ${d.pin} # pin that carries the logic signal to the driver
      # inverted: # pin with the opposite level, if the driver wants both
      method: ${d.method} # \`halfbit timers halfbit.yaml\` ranks toggle, buffered, interrupt and fed
${d.timer === undefined ? '' : `      timer: ${d.timer}\n`}${d.prescaler === undefined ? '' : `      prescaler: ${d.prescaler}\n`}      oneHalf: 58 us
      zeroHalf: 100 us
      preamble: 16 # 14 at least; 20 in service mode

# What \`halfbit prove halfbit.yaml\` shall run and judge; take the # away when you have the files.
# firmware:
#   file: firmware/station.elf # ELF or HEX
#   runFor: 5 s
# captures:
#   - file: captures/main.vcd # VCD, CSV or raw samples
#     track: main
#     probe: logic # at the logic pin, or at the rails
`
}
