/**
 * Reading a stretch of a long capture again without reading what is before it. While a file is read for the first
 * time, marks note which time was reached at which byte; later the beginning of the file, which tells its dialect,
 * and the bytes from a mark before the stretch on are enough.
 */
import type { CaptureFormat } from './formats.data.js'
import type { CaptureOptions } from './importer.js'

/** Bytes that tell the dialect of a file. */
export const HEAD_BYTES = 1 << 17

const NEWLINE = 10
const HASH = 35

/** Where the bytes are that hold a stretch of time. */
export interface StretchPlan {
  from: number
  /** The end of the file where no mark lies beyond the stretch. */
  to: number
  /** The beginning of the file must go first. */
  needsHead: boolean
}

/** Which time was reached at which byte. */
export class CaptureMarks {
  readonly #bytes: number[] = []
  readonly #times: number[] = []
  readonly #every: number

  /** @param every marks that are closer than this many bytes are not kept. */
  constructor(every = 1 << 18) {
    this.#every = every
  }

  /** All that lies before `byte` has been read, and `reachedUs` was the last time in it. */
  note(byte: number, reachedUs: number): void {
    if (!Number.isFinite(reachedUs) || byte < (this.#bytes.at(-1) ?? -this.#every) + this.#every) return
    this.#bytes.push(byte)
    this.#times.push(reachedUs)
  }

  /** The bytes that hold everything from `fromUs` to `toUs`, and what tells the level at its beginning. */
  plan(fromUs: number, toUs: number, fileBytes: number): StretchPlan {
    const before = this.#after(fromUs) - 1
    const beyond = this.#after(toUs)
    // One mark earlier, as the row that a mark cuts is left out, and for the level before the stretch.
    const from = before >= 1 ? this.#bytes[before - 1]! : 0
    const needsHead = from > HEAD_BYTES
    return { from: needsHead ? from : 0, to: this.#bytes[beyond + 1] ?? fileBytes, needsHead }
  }

  /** Index of the first mark whose time is later. */
  #after(us: number): number {
    let low = 0
    let high = this.#times.length
    while (low < high) {
      const middle = (low + high) >>> 1
      if (this.#times[middle]! <= us) low = middle + 1
      else high = middle
    }
    return low
  }
}

/**
 * Where the first whole record begins in bytes cut out of a file; -1 when none does. A raw dump needs no such place,
 * see {@link rawStart}.
 */
export function recordStart(format: Exclude<CaptureFormat, 'raw'>, bytes: Uint8Array): number {
  for (let at = bytes.indexOf(NEWLINE); at >= 0; at = bytes.indexOf(NEWLINE, at + 1)) {
    // Changes before the first time would be taken for changes at the time before.
    if (format === 'csv' || bytes[at + 1] === HASH) return at + 1
  }
  return -1
}

/** The end of the last whole line of a file's head: a stretch goes on behind it as if nothing lay between. */
export function headEnd(format: Exclude<CaptureFormat, 'raw'>, head: Uint8Array): number {
  if (format === 'csv') return head.lastIndexOf(NEWLINE) + 1
  let at = head.lastIndexOf(NEWLINE)
  while (at > 0 && head[at + 1] !== HASH) at = head.lastIndexOf(NEWLINE, at - 1)
  return at + 1
}

/** A raw dump from a byte on: that byte, or one before it that begins a sample, and the number of the sample. */
export function rawStart(byte: number, bits: number): { byte: number; firstSample: number } {
  const whole = bits === 16 ? byte - (byte % 2) : byte
  return { byte: whole, firstSample: (whole * 8) / bits }
}

/** The options to read a stretch with: those of the whole file, and the window. */
export function stretchOptions(
  options: CaptureOptions,
  format: CaptureFormat,
  fromUs: number,
  toUs: number,
): CaptureOptions {
  const { fromUs: least = fromUs, toUs: most = toUs } = options
  return {
    ...options,
    format,
    // Only the whole record tells it.
    current: undefined,
    // Counted from the first record, which the window has taken into account already.
    skipUs: undefined,
    fromUs: Math.max(least, fromUs),
    toUs: Math.min(most, toUs),
  }
}
