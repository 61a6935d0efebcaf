/** The help of a command as text, and what completion and manual pages share with it. */
import type { Command, OptionInfo } from '../command.js'

/** Options that every command takes. */
export const COMMON: Command['options'] = {
  json: { type: 'boolean', help: 'one JSON object on stdout' },
  help: { type: 'boolean', help: 'this help' },
}

export const EXIT_STATUS: readonly (readonly [number, string])[] = [
  [0, 'nothing was shown to be broken'],
  [1, 'a clause is broken, or a required one is not shown'],
  [2, 'unusable input'],
  [3, 'interrupted, or an internal error'],
]

/** Every option of a command, the common ones last. */
export function optionsOf(command: Command): [string, OptionInfo][] {
  return Object.entries({ ...command.options, ...COMMON })
}

/** `--html FILE`, `--json`. */
export function optionCall(key: string, info: OptionInfo): string {
  return `--${key}${info.type === 'string' ? ` ${info.value ?? 'TEXT'}` : ''}`
}

export function helpOf(command: Command): string {
  const options = optionsOf(command).map(([key, info]) => [optionCall(key, info), info.help] as const)
  const width = Math.max(...options.map(([left]) => left.length))
  const lines = [...command.usage.map((u) => `Usage: halfbit ${u}`), '', command.about, '']
  for (const [left, right] of options) lines.push(`  ${left.padEnd(width)}  ${right}`)
  if (command.examples?.length) lines.push('', 'Examples:', ...command.examples.map((e) => `  ${e}`))
  lines.push('', '"halfbit explain NAME" says what a clause or finding in the output means, and what helps.')
  return lines.join('\n')
}
