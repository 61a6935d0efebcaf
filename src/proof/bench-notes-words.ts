/** Bench notes in words, and the sum by which they name the design they are of. */
import type { Design } from '../design/index.js'
import { type BenchReading, shownValue, VALUE_KEY } from '../meter/index.js'
import { formatSi, formatTimeUs, sha256Hex } from '../units/index.js'

/** Digits by which a reading names the design it is of. */
export function designSum(design: Design): string {
  const { controller, signal, standard, scale, power, track } = design
  const what = JSON.stringify([controller, signal, standard, scale, power, track])
  // Escaped, so that every letter is one byte.
  return sha256Hex(Uint8Array.from(encodeURIComponent(what), (c) => c.charCodeAt(0))).slice(0, 12)
}

/** A reading in words: what, with what, by whom and when. */
export function readingInWords(r: BenchReading): string {
  const value = shownValue(r)
  const shown = r.never
    ? 'never off'
    : VALUE_KEY[r.reading] === 'time'
      ? formatTimeUs(value)
      : formatSi(value, VALUE_KEY[r.reading] === 'voltage' ? 'V' : 'A')
  const build = r.build === undefined ? '' : `, ${r.build}`
  return `${shown} at ${r.at ?? r.of} with ${r.with}, ${r.by}, ${r.on}${build}`
}
