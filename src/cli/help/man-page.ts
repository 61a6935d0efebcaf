/** Manual pages (man(7) macros), made of the same data as the help. */
import { capital } from '../../units/index.js'
import type { NamedCommand } from './completion.js'
import { EXIT_STATUS, optionCall, optionsOf } from './text.js'

/** `halfbit.1`, the overview. */
export function manOverview(commands: readonly NamedCommand[], version: string): string {
  return page('HALFBIT', version, [
    '.SH NAME',
    'halfbit \\- workbench for people who build their own digital command station',
    '.SH SYNOPSIS',
    '.B halfbit',
    '.I COMMAND',
    '[options]',
    '.SH DESCRIPTION',
    roff(
      'Halfbit calculates a command station (DCC) from one design file, runs its firmware on a simulated controller, reads captures of its signal, and says clause by clause whether it meets the published standards.',
    ),
    '.SH COMMANDS',
    ...commands.flatMap(({ name, summary }) => ['.TP', `.BR halfbit\\-${roff(name)} (1)`, roff(summary)]),
    ...exitStatus(),
    '.SH ENVIRONMENT',
    '.TP',
    '.B NO_COLOR',
    'Where it is set, nothing is coloured.',
  ])
}

/** `halfbit-NAME.1`. */
export function manPage({ name, summary, command }: NamedCommand, version: string): string {
  return page(`HALFBIT-${name.toUpperCase()}`, version, [
    '.SH NAME',
    `halfbit\\-${roff(name)} \\- ${roff(summary)}`,
    '.SH SYNOPSIS',
    ...command.usage.flatMap((use, i) => [...(i > 0 ? ['.br'] : []), `.B halfbit ${roff(use)}`]),
    '.SH DESCRIPTION',
    ...paragraphs(command.about),
    '.SH OPTIONS',
    ...optionsOf(command).flatMap(([key, info]) => [
      '.TP',
      `.B ${roff(optionCall(key, info))}`,
      roff(sentence(info.help)),
    ]),
    ...exitStatus(),
    ...(command.examples?.length
      ? ['.SH EXAMPLES', '.nf', ...command.examples.map((line) => guarded(roff(line))), '.fi']
      : []),
    '.SH SEE ALSO',
    '.BR halfbit (1)',
  ])
}

function page(title: string, version: string, lines: readonly string[]): string {
  return `${[`.TH ${roff(title)} 1 "" "halfbit ${version}" "Halfbit manual"`, ...lines].join('\n')}\n`
}

function exitStatus(): string[] {
  return [
    '.SH EXIT STATUS',
    ...EXIT_STATUS.flatMap(([status, means]) => ['.TP', `.B ${status}`, sentence(means)]),
  ]
}

/** Prose filled by the reader's terminal; lists of names, which begin with spaces, line by line. */
function paragraphs(text: string): string[] {
  const lines: string[] = []
  let fixed = false
  for (const line of text.split('\n')) {
    const list = /^\s{2}\S/.test(line)
    if (list !== fixed) lines.push(list ? '.nf' : '.fi')
    fixed = list
    if (line.trim() !== '') lines.push(guarded(roff(line.trim())))
    else if (lines.length > 0) lines.push('.PP')
  }
  return fixed ? [...lines, '.fi'] : lines
}

function sentence(text: string): string {
  const first = capital(text)
  return /[.?!]$/.test(first) ? first : `${first}.`
}

/** Text in which roff sees no command: backslashes, dashes that shells know, and whatever is no ASCII. */
function roff(text: string): string {
  return guarded(
    text
      .replace(/\s+/g, ' ')
      .replaceAll('\\', '\\e')
      .replaceAll('-', '\\-')
      .replaceAll("'", '\\(aq')
      .replaceAll('^', '\\(ha')
      .replaceAll('~', '\\(ti')
      .replaceAll('`', '\\(ga')
      .replace(/[^ -~]/gu, (c) => `\\[u${c.codePointAt(0)!.toString(16).toUpperCase().padStart(4, '0')}]`),
  )
}

/** A line that begins with a dot would be a request. */
function guarded(line: string): string {
  return line.startsWith('.') ? `\\&${line}` : line
}
