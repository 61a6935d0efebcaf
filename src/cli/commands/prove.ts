import { readFileSync, realpathSync, statSync } from 'node:fs'
import { resolve } from 'node:path'
import {
  evidenceOfDesign,
  type Proof,
  proofHolds,
  proofHtml,
  proofJunit,
  proofMarkdown,
  proofOfDesign,
  proofText,
} from '../../proof/index.js'
import { ORIGINS, type Origin } from '../../standard/index.js'
import { InputError, nearest, parseQuantity } from '../../units/index.js'
import { benchEvidence } from '../bench-evidence.js'
import { buildOf, captureEvidence, capturesOf } from '../capture-evidence.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { displayPath } from '../display-path.js'
import { sha256 } from '../file-sum.js'
import { writeWhole } from '../files/index.js'
import { firmwareEvidence } from '../firmware-evidence.js'
import { readDesign } from '../read-design.js'

/** Renderers by the option that names their file. */
const FORMS = { html: proofHtml, md: proofMarkdown, junit: proofJunit } as const

/** `halfbit prove DESIGN`: all of it, clause by clause. */
export const command: Command = {
  usage: ['prove DESIGN [options]'],
  about: `Calculates the design, runs its firmware on the simulated controller, reads its captures, and says of every clause
what each of the three shows. What none shows is "not shown", never met. Status 0: nothing that is shown is broken (what is
undecided or not shown is counted and listed); 1: something is broken, or something required is not shown.`,
  options: {
    firmware: { type: 'string', value: 'FILE', help: "HEX or ELF to run in place of the design's" },
    stimulus: { type: 'string', value: 'FILE', help: "script to play in place of the design's" },
    capture: {
      type: 'string',
      value: 'FILE',
      multiple: true,
      help: "capture to read in place of the design's; OUTPUT=FILE where there are several outputs; may be repeated",
    },
    for: { type: 'string', value: 'TIME', help: "simulated time in place of the design's" },
    build: {
      type: 'string',
      value: 'SHA256|FILE',
      help: 'firmware build that the captures named here were taken with: digits of its SHA-256, or the firmware file',
    },
    require: {
      type: 'string',
      value: 'ORIGIN',
      choices: ORIGINS,
      multiple: true,
      help: 'calculated, simulated or measured: whatever this can show must be shown, else the status is 1',
    },
    html: { type: 'string', value: 'FILE', writes: true, help: 'write the proof as one HTML file' },
    md: { type: 'string', value: 'FILE', writes: true, help: 'write it as Markdown' },
    junit: { type: 'string', value: 'FILE', writes: true, help: 'write it as JUnit XML' },
    reasons: { type: 'boolean', help: 'print the reason of every statement, also of those that are met' },
    bench: {
      type: 'boolean',
      help: 'also run the standing scenarios of the coupled bench; see "halfbit bench"',
    },
    date: {
      type: 'string',
      value: 'DATE',
      help: 'date to print in the reports, such as 2026-05-01; omitted by default, which keeps reports reproducible',
    },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit prove halfbit.yaml',
    'halfbit prove halfbit.yaml --capture main=scope.csv --capture service=probe.vcd',
    'halfbit prove halfbit.yaml --require simulated',
    'halfbit prove halfbit.yaml --firmware build/station.elf --html proof.html --junit proof.xml',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const request = {
    firmware: args.text('firmware'),
    stimulus: args.text('stimulus'),
    forUs: simulatedTime(args),
  }
  const date = dateOf(args)
  const require = requiredOf(args.texts('require'))
  const build = buildOf(args.text('build'))
  const loaded = readDesign(file, io)
  const calculated = evidenceOfDesign(loaded, { file: displayPath(file), sha256: sha256(loaded.bytes) })
  const captures = capturesOf(loaded, args.texts('capture'), build)
  const { sum, run } = io.signal.aborted ? {} : await firmwareEvidence(loaded, request, io)
  const bench =
    args.on('bench') && !io.signal.aborted ? await benchEvidence(loaded, request.firmware, io) : undefined
  const taken = await captureEvidence(loaded, captures, io)
  const proof = proofOfDesign(loaded, {
    calculated,
    runs: [...(run ? [run] : []), ...(bench ? [bench] : []), ...taken],
    firmware: sum,
    version: JSON.parse(readFileSync(new URL('../../../package.json', import.meta.url), 'utf8')).version,
    date,
    require: require.length > 0 ? require : loaded.design.require,
    interrupted: io.signal.aborted,
  })
  const reports = reportsOf(proof, args)
  if (!io.signal.aborted) for (const [path, text] of reports) writeWhole(path, text)
  else for (const [path] of reports) io.note(`interrupted: ${path} was not written`)
  const style = { width: io.width, colour: io.colour, reasons: args.on('reasons') }
  io.out(args.on('json') ? JSON.stringify(proof, null, 2) : proofText(proof, style).join('\n'))
  return proofHolds(proof) ? 0 : 1
}

/** Origins by name, each once. */
function requiredOf(texts: readonly string[]): Origin[] {
  const names = texts.flatMap((text) => text.split(','))
  for (const name of names) {
    if (ORIGINS.some((o) => o === name)) continue
    const close = nearest(name, ORIGINS)
    throw new InputError(
      `--require ${name}; expected one or more of ${ORIGINS.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
    )
  }
  return ORIGINS.filter((o) => names.includes(o))
}

/**
 * The reports that are asked for, each with its path.
 * @throws InputError for two reports in one file, or one over an input: a slip that would cost the builder work.
 */
function reportsOf(proof: Proof, args: Arguments): [string, string][] {
  const taken = new Map(proof.about.inputs.map(({ file, role }) => [real(file), `the ${role}`]))
  const files: [string, string][] = []
  for (const [name, render] of Object.entries(FORMS)) {
    const path = args.text(name)
    if (path === undefined) continue
    const other = taken.get(real(path))
    if (other !== undefined) throw new InputError(`--${name} ${path} is ${other}; expected another file`)
    if (statSync(path, { throwIfNoEntry: false })?.isDirectory())
      throw new InputError(`--${name} ${path} is a folder; expected a file`)
    taken.set(real(path), `what another option writes`)
    files.push([path, render(proof)])
  }
  return files
}

function real(path: string): string {
  try {
    return realpathSync(path)
  } catch {
    return resolve(path)
  }
}

function dateOf(args: Arguments): string | undefined {
  const text = args.text('date')
  if (text === undefined || /^\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:\d{2})?)?$/.test(text))
    return text
  throw new InputError(`--date ${text}; expected a date such as 2026-05-01`)
}

function simulatedTime(args: Arguments): number | undefined {
  const text = args.text('for')
  if (text === undefined) return undefined
  const parsed = parseQuantity(text, 'time')
  if (!parsed.ok) throw new InputError(`--for ${text}; expected ${parsed.expected}`)
  if (parsed.value < 1000 || parsed.value > 24 * 3600e6)
    throw new InputError(`--for ${text}; expected 1 ms to 24 h`)
  return parsed.value
}
