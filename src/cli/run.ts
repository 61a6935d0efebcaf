/** Runs one command: options, help, errors and exit status are the same for all. */
import { readFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { InputError, nearest } from '../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from './command.js'
import { COMMANDS } from './commands.js'
import { faultOf, tell } from './faults.js'
import { COMMON, helpOf } from './help/text.js'
import { PACKAGE_FOLDER } from './package-folder.js'
import { harmless, terminal } from './terminal.js'

export function printVersion(): ExitStatus {
  const file = new URL('package.json', PACKAGE_FOLDER)
  process.stdout.write(`halfbit ${JSON.parse(readFileSync(file, 'utf8')).version}\n`)
  return 0
}

export async function runCommand(name: string, argv: string[]): Promise<ExitStatus> {
  const entry = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined
  if (!entry) {
    const close = nearest(name, Object.keys(COMMANDS))
    const hint = close ? `; the nearest is "${close}"` : ''
    process.stderr.write(harmless(`halfbit: no command "${name}"${hint}. halfbit --help lists them.\n`))
    return 2
  }
  const { command } = await entry.load()
  const stop = new AbortController()
  const onInterrupt = () => {
    // A second Ctrl-C is meant: leave at once.
    if (stop.signal.aborted) process.exit(3)
    stop.abort()
  }
  process.on('SIGINT', onInterrupt)
  const withheld = new Set<string>()
  const withhold = (path: string) => void withheld.add(path)
  const places = new Map<string, string>()
  const named = (path: string, place: string) => void places.set(path, place)
  let io: Io = { ...terminal(stop.signal), withhold, named }
  try {
    const args = readArguments(name, command, argv)
    if (writesToStandardOutput(command, args)) io = { ...terminal(stop.signal, true), withhold, named }
    if (args.on('help')) {
      io.out(helpOf(command))
      return 0
    }
    const { min, max, what } = command.takes
    if (args.positionals.length < min || args.positionals.length > max) {
      throw new InputError(
        `${name} takes ${what}; found ${args.positionals.length} argument(s). Usage: halfbit ${command.usage[0]}`,
      )
    }
    if (args.positionals.includes(''))
      throw new InputError(`${name} takes ${what}; found an empty name. Usage: halfbit ${command.usage[0]}`)
    const status = await command.run(args, io)
    return stop.signal.aborted && !command.endsByInterrupt ? 3 : status
  } catch (error) {
    io.progress('')
    const fault = faultOf(error, withheld, places)
    if (fault === undefined) throw error
    tell(fault)
    return stop.signal.aborted ? 3 : fault.status
  } finally {
    process.off('SIGINT', onInterrupt)
  }
}

/** Whether an option asks for a file on standard output, where nothing else may then go. */
function writesToStandardOutput(command: Command, args: Arguments): boolean {
  const wanted = Object.keys(command.options).filter(
    (key) => command.options[key]!.writes === true && args.text(key) === '-',
  )
  const all = [...wanted.map((key) => `--${key} -`), ...(args.on('json') ? ['--json'] : [])]
  if (wanted.length > 0 && all.length > 1)
    throw new InputError(`${all.join(' and ')} write to standard output; expected a file for all but one`)
  return wanted.length > 0
}

function readArguments(name: string, command: Command, argv: string[]): Arguments {
  const options: Record<string, { type: 'string' | 'boolean'; multiple?: boolean }> = {}
  for (const [key, info] of Object.entries({ ...command.options, ...COMMON })) {
    options[key] = info.multiple ? { type: info.type, multiple: true } : { type: info.type }
  }
  let values: Record<string, unknown>
  let positionals: string[]
  try {
    const args = withValues(name, { ...command.options, ...COMMON }, argv)
    ;({ values, positionals } = parseArgs({ args, options, allowPositionals: true, strict: true }))
  } catch (error) {
    if (error instanceof InputError) throw error
    const text = error instanceof Error ? error.message : String(error)
    const unknown = /^Unknown option '(--?[^' ]+)'/.exec(text)?.[1]
    const close = unknown ? nearest(unknown.replace(/^-+/, ''), Object.keys(options)) : undefined
    const what = unknown ? `no option ${unknown}` : text.split(/\. |\n/)[0]
    throw new InputError(
      `${name}: ${what}${close ? `; the nearest option is --${close}` : unknown ? `; halfbit ${name} --help lists them` : ''}`,
    )
  }
  return {
    positionals,
    text: (key) => (typeof values[key] === 'string' ? (values[key] as string) : undefined),
    texts: (key) => (Array.isArray(values[key]) ? (values[key] as string[]) : []),
    on: (key) => values[key] === true,
  }
}

/**
 * The arguments with `--option VALUE` written as `--option=VALUE`, so that a value may begin with a dash: `--seed -1` is then
 * a wrong seed like any other and not an option.
 * @throws InputError for an option without its value, with an empty one, or a flag with one.
 */
function withValues(name: string, options: Command['options'], argv: string[]): string[] {
  const args: string[] = []
  for (let i = 0; i < argv.length; i++) {
    const arg = argv[i]!
    if (arg === '--') return [...args, ...argv.slice(i)]
    const [, key, , given] = /^--([^=]+)(=(.*))?$/s.exec(arg) ?? []
    const info = key !== undefined && Object.hasOwn(options, key) ? options[key]! : undefined
    if (!info) {
      args.push(arg)
      continue
    }
    if (info.type === 'boolean') {
      if (given !== undefined) throw new InputError(`${name}: --${key} takes no value; found "${given}"`)
      args.push(arg)
      continue
    }
    const next = argv[i + 1]
    const value = given ?? (next?.startsWith('--') ? undefined : next)
    if (given === undefined && value !== undefined) i++
    if (value === undefined || value.trim() === '') {
      const found = value === undefined ? 'no value' : 'an empty value'
      throw new InputError(`${name}: --${key} has ${found}; expected ${info.value ?? 'TEXT'}: ${info.help}`)
    }
    args.push(`--${key}=${value}`)
  }
  return args
}
