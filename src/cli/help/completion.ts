/** Scripts with which a shell completes commands, options and their values: made of the same data as the help. */
import type { Command, OptionInfo } from '../command.js'
import { optionsOf } from './text.js'

export const SHELLS = ['bash', 'zsh', 'fish'] as const
export type Shell = (typeof SHELLS)[number]

/** A command with its name and the line of the overview. */
export interface NamedCommand {
  name: string
  summary: string
  command: Command
}

const TOP = ['--help', '--version']

/** A value that is a path; anything else that is not listed is left to the person. */
function isPath(info: OptionInfo): boolean {
  return /FILE|DESIGN|DIR/.test(info.value ?? '')
}

const SCRIPTS: Record<Shell, (commands: readonly NamedCommand[]) => string> = { bash, zsh, fish }

export function completionScript(shell: Shell, commands: readonly NamedCommand[]): string {
  return SCRIPTS[shell](commands)
}

function bash(commands: readonly NamedCommand[]): string {
  const values = commands.flatMap(({ name, command }) =>
    optionsOf(command)
      .filter(([, info]) => info.type === 'string')
      .map(([key, info]) => {
        const words = info.choices
          ? `COMPREPLY=($(compgen -W ${quoted(info.choices.join(' '))} -- "$current")); return`
          : isPath(info)
            ? 'compopt -o default 2>/dev/null; return'
            : 'return'
        return `    ${quoted(`${name} --${key}`)}) ${words} ;;`
      }),
  )
  const rows = commands.map(({ name, command }) => {
    const options = optionsOf(command).map(([key]) => `--${key}`)
    return `    ${quoted(name)}) options=${quoted(options.join(' '))} words=${quoted((command.takes.choices ?? []).join(' '))} ;;`
  })
  return `# Completion of halfbit for bash. Load it with: source <(halfbit completion bash)
_halfbit() {
  local current="\${COMP_WORDS[COMP_CWORD]}" before="\${COMP_WORDS[COMP_CWORD-1]}" command="\${COMP_WORDS[1]}"
  local options='' words=''
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W ${quoted([...commands.map((c) => c.name), ...TOP].join(' '))} -- "$current"))
    return
  fi
  case "$command $before" in
${values.join('\n')}
  esac
  case "$command" in
${rows.join('\n')}
    *) return ;;
  esac
  case "$current" in
    -*) COMPREPLY=($(compgen -W "$options" -- "$current")); return ;;
  esac
  if [ "$COMP_CWORD" -eq 2 ] && [ -n "$words" ]; then COMPREPLY=($(compgen -W "$words" -- "$current")); return; fi
  compopt -o default 2>/dev/null
}
complete -F _halfbit halfbit
`
}

function zsh(commands: readonly NamedCommand[]): string {
  const list = commands.map(
    ({ name, summary }) => `    ${quoted(`${name}:${summary.replaceAll(':', '\\:')}`)}`,
  )
  const rows = commands.map(({ name, command }) => {
    const options = optionsOf(command).map(([key, info]) => {
      const again = info.multiple ? '*' : ''
      const help = info.help.replace(/[[\]\\]/g, '\\$&').replace(/\s+/g, ' ')
      const value =
        info.type === 'string' ? `:${(info.value ?? 'TEXT').replaceAll(':', '\\:')}:${zshValues(info)}` : ''
      return `        ${quoted(`${again}--${key}[${help}]${value}`)} \\`
    })
    const rest = command.takes.choices
      ? [`'1:word:(${command.takes.choices.join(' ')})'`, "'*:file:_files'"]
      : ["'*:file:_files'"]
    return `    ${name})\n      _arguments \\\n${options.join('\n')}\n        ${rest.join(' ')}\n      ;;`
  })
  return `#compdef halfbit
# Completion of halfbit for zsh. Load it after compinit with: source <(halfbit completion zsh)
_halfbit() {
  local -a commands
  commands=(
${list.join('\n')}
  )
  if (( CURRENT == 2 )); then
    _describe -t commands 'command' commands
    return
  fi
  shift words
  (( CURRENT-- ))
  case "$words[1]" in
${rows.join('\n')}
  esac
}
compdef _halfbit halfbit
`
}

function zshValues(info: OptionInfo): string {
  if (info.choices) return `(${info.choices.join(' ')})`
  return isPath(info) ? '_files' : ' '
}

function fish(commands: readonly NamedCommand[]): string {
  const lines = commands.flatMap(({ name, summary, command }) => {
    const inside = `-n ${quoted(`__fish_seen_subcommand_from ${name}`, fishQuote)}`
    const words = command.takes.choices
    return [
      `complete -c halfbit -n __fish_use_subcommand -f -a ${name} -d ${quoted(summary, fishQuote)}`,
      ...(words ? [`complete -c halfbit ${inside} -f -a ${quoted(words.join(' '), fishQuote)}`] : []),
      ...optionsOf(command).map(([key, info]) => {
        const value =
          info.type === 'boolean'
            ? ''
            : info.choices
              ? ` -x -a ${quoted(info.choices.join(' '), fishQuote)}`
              : isPath(info)
                ? ' -r -F'
                : ' -x'
        return `complete -c halfbit ${inside} -l ${key}${value} -d ${quoted(info.help.replace(/\s+/g, ' '), fishQuote)}`
      }),
    ]
  })
  return `# Completion of halfbit for fish. Load it with: halfbit completion fish | source
${lines.join('\n')}
`
}

/** In single quotes, as POSIX shells and zsh read them. */
function quoted(text: string, inner: (text: string) => string = posixQuote): string {
  return `'${inner(text)}'`
}

function posixQuote(text: string): string {
  return text.replaceAll("'", "'\\''")
}

function fishQuote(text: string): string {
  return text.replace(/['\\]/g, '\\$&')
}
