/**
 * What each stretch of a record is. Together they are the whole record: nothing the reader does not understand
 * disappears.
 */

export const STRETCH_KINDS = [
  /** Half-bits, read or not. */
  'driven',
  /** Intervals too short to be half of any bit. */
  'glitch',
  /** The bidirectional cut-out after an end bit, good or bad. */
  'cutout',
  /** Rails equal or not driven, and no cut-out. */
  'off',
  /** One level for longer than any half-bit may last. */
  'held',
  /** The voltage is there, but below what decoders need; only an analog record shows it. */
  'under-voltage',
  /** The record says nothing. */
  'gap',
  /** From the start of the record to its first edge, and from its last edge to its end. */
  'before',
  'after',
] as const

export type StretchKind = (typeof STRETCH_KINDS)[number]

/** How a stretch without signal is judged. `unknown`: it may have been on purpose, and nothing says so. */
export type StretchVerdict = 'allowed' | 'wrong' | 'unknown'

/** One stretch that is no half-bit, for lists and drawings. */
export interface Stretch {
  kind: Exclude<StretchKind, 'driven'>
  fromUs: number
  toUs: number
  /** Absent where no clause speaks of it (a gap of the record). */
  verdict?: StretchVerdict
  /** Lowest voltage between the rails in it, V; under-voltage only. */
  lowestVolt?: number
}

/** Time of each kind, us. The sum is the length of the record. */
export type StretchAccount = Record<StretchKind, number>

export function emptyAccount(): StretchAccount {
  return Object.fromEntries(STRETCH_KINDS.map((kind) => [kind, 0])) as StretchAccount
}
