/** What the commands that prove something have in common: required origins, dates, times and report files. */
import { realpathSync, statSync } from 'node:fs'
import { resolve } from 'node:path'
import type { Requirement } from '../proof/index.js'
import { CLAUSE_FACTS, CLAUSE_IDS, ORIGINS } from '../standard/index.js'
import { InputError, nearest, parseQuantity } from '../units/index.js'
import type { Arguments, OptionInfo } from './command.js'
import { dateOption } from './date-option.js'

export const REPORT_OPTIONS = {
  html: { type: 'string', value: 'FILE', writes: true, help: 'write the proof as one HTML file' },
  md: { type: 'string', value: 'FILE', writes: true, help: 'write it as Markdown' },
  junit: { type: 'string', value: 'FILE', writes: true, help: 'write it as JUnit XML' },
} as const satisfies Record<string, OptionInfo>

export const PROOF_OPTIONS = {
  for: { type: 'string', value: 'TIME', help: "simulated time in place of the design's" },
  require: {
    type: 'string',
    value: 'WHAT',
    choices: ORIGINS,
    multiple: true,
    help: 'exit with 1 unless it is shown: calculated, simulated or measured for everything that this kind of evidence can show, or one clause of it, such as simulated:framing; may be repeated',
  },
  bench: {
    type: 'boolean',
    help: 'also run the built-in scenarios of the coupled bench; see "halfbit bench"',
  },
  date: {
    type: 'string',
    value: 'DATE',
    help: 'date to print in the reports, such as 2026-05-01; omitted by default, which keeps reports reproducible',
  },
} as const satisfies Record<string, OptionInfo>

/** What the options say of every proof that is made. */
export function proofRequest(args: Arguments) {
  return {
    forUs: simulatedTime(args),
    bench: args.on('bench'),
    require: requiredOf(args.texts('require')),
    date: dateOf(args),
  }
}

/** Origins, and clauses of an origin, each once. */
function requiredOf(texts: readonly string[]): Requirement[] {
  const list = texts.flatMap((text) => text.split(','))
  return [...new Set(list.map((text) => requirement(text.trim())))]
}

function requirement(text: string): Requirement {
  const [name = '', ...rest] = text.split(':')
  const clause = rest.length === 0 ? undefined : rest.join(':')
  const origin = ORIGINS.find((o) => o === name)
  if (origin === undefined)
    throw new InputError(
      `--require ${text}; expected one or more of ${ORIGINS.join(', ')}${closest(name, ORIGINS)}`,
    )
  if (clause === undefined) return origin
  const ids = CLAUSE_IDS.filter((id) => CLAUSE_FACTS[id].shownBy.includes(origin))
  const id = ids.find((i) => i === clause)
  if (id === undefined)
    throw new InputError(
      `--require ${text}; expected a clause that can be ${origin}: ${ids.join(', ')}${closest(clause, ids)}`,
    )
  return `${origin}:${id}`
}

function closest(text: string, list: readonly string[]): string {
  const close = nearest(text, list)
  return close === undefined ? '' : `; the nearest is ${close}`
}

/**
 * The reports that are asked for, each with its path.
 * @param forms renderers by the option that names their file.
 * @param inputs what must not be written over.
 * @throws InputError for two reports in one file, or one over an input: a slip that would cost the builder work.
 */
export function reportsOf<T>(
  subject: T,
  forms: Readonly<Record<string, (subject: T) => string>>,
  inputs: readonly { file: string; role: string }[],
  args: Arguments,
): [string, string][] {
  const taken = new Map(inputs.map(({ file, role }) => [real(file), `the ${role}`]))
  const files: [string, string][] = []
  for (const [name, render] of Object.entries(forms)) {
    const path = args.text(name)
    if (path === undefined) continue
    const other = taken.get(real(path))
    if (other !== undefined) throw new InputError(`--${name} ${path} is ${other}; expected another file`)
    if (statSync(path, { throwIfNoEntry: false })?.isDirectory())
      throw new InputError(`--${name} ${path} is a folder; expected a file`)
    taken.set(real(path), `what another option writes`)
    files.push([path, render(subject)])
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
  return dateOption('date', args.text('date'), true)
}

/** Simulated time in us. */
function simulatedTime(args: Arguments): number | undefined {
  const text = args.text('for')
  if (text === undefined) return undefined
  const parsed = parseQuantity(text, 'time')
  if (!parsed.ok) throw new InputError(`--for ${text}; expected ${parsed.expected}`)
  if (parsed.value < 1000 || parsed.value > 24 * 3600e6)
    throw new InputError(`--for ${text}; expected 1 ms to 24 h`)
  return parsed.value
}
