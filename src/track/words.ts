/** Figures and lists of names for people. */
import { formatNumber } from '../units/index.js'

/** `2 to 2.4`, or just `2` where both read the same. */
export function spanText({ low, high }: { low: number; high: number }): string {
  const [a, b] = [formatNumber(low, 3), formatNumber(high, 3)]
  return a === b ? a : `${a} to ${b}`
}

export function shorten(names: readonly string[], most = 9): string {
  if (names.length <= most) return names.join(' – ')
  return `${names.slice(0, most - 2).join(' – ')} – … (${names.length - most + 1} more) – ${names.at(-1)}`
}

/** A sentence without its full stop. */
export function withoutStop(sentence: string): string {
  return sentence.replace(/\.$/, '')
}
