/** Where a command's lines go: standard output and standard error, on a terminal or not. */
import type { Io } from './command.js'

/**
 * Characters that would steer a terminal or turn the order of what stands beside them: C0 and C1 controls, and the
 * bidirectional controls of Unicode (UAX 9). Names from files and from the command line may hold them.
 */
const STEERING =
  /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb]/g

/** What our own reports paint: one word, or a few, in one colour. */
const PAINTED = /\u001b\[\d{1,3}m[A-Za-z ]{1,40}\u001b\[0m/g

/**
 * Text as it may be shown: what would steer the terminal stands as `\u001b`. In JSON that is the same text; line ends and
 * tabs stay.
 * @param painted keeps the colours of our own reports.
 */
export function harmless(text: string, painted = false): string {
  if (!painted) return text.replace(STEERING, escaped)
  let shown = ''
  let from = 0
  for (const { 0: word, index } of text.matchAll(PAINTED)) {
    shown += text.slice(from, index).replace(STEERING, escaped) + word
    from = index + word.length
  }
  return shown + text.slice(from).replace(STEERING, escaped)
}

function escaped(character: string): string {
  return `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`
}

/** Colour where the terminal has it, unless NO_COLOR is set to anything but nothing (no-color.org). */
export function takesColour(isTerminal: boolean, env: Readonly<Record<string, string | undefined>>): boolean {
  return isTerminal && !env['NO_COLOR'] && env['TERM'] !== 'dumb'
}

/** @param toError what would go to standard output goes to standard error, as something else is written there. */
export function terminal(signal: AbortSignal, toError = false): Io {
  const interactive = process.stderr.isTTY === true
  const target = toError ? process.stderr : process.stdout
  const colour = takesColour(target.isTTY === true, process.env)
  const line = (text: string) => (text.endsWith('\n') ? text : `${text}\n`)
  return {
    out: (text) => void target.write(line(harmless(text, colour))),
    note: (text) => void process.stderr.write(line(harmless(text))),
    progress: (text) => {
      if (interactive) process.stderr.write(`\r\u001b[K${harmless(text)}`)
    },
    signal,
    colour,
    width: target.columns ?? 80,
  }
}
