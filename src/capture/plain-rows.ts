/**
 * Plain rows by the compiled loop of `plain-rows-module.ts`: a head of a few bytes that stays the same from row to row, digits,
 * and one of two tails. The importers' own loops are its referees, and serve where the host does not compile it.
 */
import { wasm } from '../units/index.js'
import type { EdgeBatch } from './batch.js'
import { MOST_EDGES, PLACE, plainRowsModule } from './plain-rows-module.js'

/** What rows have in common. */
export interface RowShape {
  /** Bytes before the digits, eight at most, and the tick that they stand for. */
  headLength: number
  headTick: number
  /** Digits in each row, 1 to 15. */
  digits: number
  /** Behind the digits at level 0, eight bytes at most; byte `levelAt` of it is the 0, and a 1 at the other level. */
  tail: readonly number[]
  levelAt: number
  /** Rows farther apart are not plain, ticks. */
  gapTicks: number
}

/** Bytes that a row may take: the loop looks ahead without checking the end. */
export const ROW_AHEAD = 64
/** Bytes that are copied in at a time: small enough to stay in the processor's cache. */
const PIECE = 1 << 16
/** More digits are no exact number. */
export const MOST_DIGITS = 15
export const MOST_HEAD = 8

type Run = (
  at: number,
  to: number,
  room: number,
  level: number,
  time: number,
  headTick: number,
  gap: number,
) => number

export class PlainRows {
  /** Rows that the last run took, and the tick of the last of them. */
  rows = 0
  time = 0
  readonly #run: Run
  readonly #bytes: Uint8Array
  readonly #view: DataView
  readonly #ticks: Float64Array
  readonly #levels: Uint8Array
  /** What lies in the memory: these bytes of this array. */
  #held: Uint8Array | undefined
  #heldFrom = 0
  #heldTo = 0

  /** @throws where the host forbids to compile it. */
  constructor(host: wasm.WebAssemblyHost) {
    const size = PLACE.bytes + PIECE + ROW_AHEAD
    const memory = new host.Memory({ initial: Math.ceil(size / wasm.PAGE) })
    const module = new host.Module(plainRowsModule())
    this.#run = new host.Instance(module, { own: { memory } }).exports['run'] as Run
    this.#bytes = new Uint8Array(memory.buffer)
    this.#view = new DataView(memory.buffer)
    this.#ticks = new Float64Array(memory.buffer, PLACE.ticks, MOST_EDGES)
    this.#levels = new Uint8Array(memory.buffer, PLACE.levels, MOST_EDGES)
  }

  /** The array's bytes may be others than when it was read last. */
  forget(): void {
    this.#held = undefined
  }

  /**
   * Reads rows into `batch` as long as they have the shape, come later than the row before, and there is room.
   * @param from where a row begins; @param to there is {@link ROW_AHEAD} behind it
   * @param time tick of the row before
   * @returns where the next row begins
   */
  read(b: Uint8Array, from: number, to: number, shape: RowShape, batch: EdgeBatch, time: number): number {
    this.rows = 0
    this.time = time
    this.#describe(b, from, shape)
    let at = from
    while (at < to && batch.count < batch.size) {
      if (this.#held !== b || at < this.#heldFrom || at >= this.#heldTo) this.#hold(b, at, to)
      const shift = PLACE.bytes - this.#heldFrom
      const end = Math.min(to, this.#heldTo)
      const next =
        this.#run(
          at + shift,
          end + shift,
          batch.size - batch.count,
          batch.level,
          this.time,
          shape.headTick,
          shape.gapTicks,
        ) - shift
      this.#give(batch)
      at = next
      if (at < end) break
    }
    return at
  }

  #hold(b: Uint8Array, from: number, to: number): void {
    this.#held = b
    this.#heldFrom = from
    this.#heldTo = Math.min(to, from + PIECE)
    this.#bytes.set(b.subarray(from, this.#heldTo + ROW_AHEAD), PLACE.bytes)
  }

  #describe(b: Uint8Array, from: number, { headLength, digits, tail, levelAt }: RowShape): void {
    const view = this.#view
    const mask = (length: number) => (1n << BigInt(8 * length)) - 1n
    const number = (bytes: ArrayLike<number>, length: number) => {
      let value = 0n
      for (let i = length - 1; i >= 0; i--) value = (value << 8n) | BigInt(bytes[i]!)
      return value
    }
    view.setBigUint64(PLACE.headMask, mask(headLength), true)
    view.setBigUint64(PLACE.headBytes, number(b.subarray(from, from + headLength), headLength), true)
    const low = number(tail, tail.length)
    view.setBigUint64(PLACE.tailMask, mask(tail.length), true)
    view.setBigUint64(PLACE.tailLow, low, true)
    view.setBigUint64(PLACE.tailHigh, low + (1n << BigInt(8 * levelAt)), true)
    const first = Math.max(0, digits - 8)
    const last = digits - first
    view.setBigUint64(PLACE.shiftFirst, BigInt(64 - 8 * first) & 63n, true)
    view.setBigUint64(PLACE.shiftLast, BigInt(64 - 8 * last), true)
    view.setInt32(PLACE.headLength, headLength, true)
    view.setInt32(PLACE.tailLength, tail.length, true)
    view.setInt32(PLACE.first, first, true)
    view.setInt32(PLACE.last, last, true)
  }

  #give(batch: EdgeBatch): void {
    const view = this.#view
    const count = view.getInt32(PLACE.count, true)
    batch.ticks.set(this.#ticks.subarray(0, count), batch.count)
    batch.levels.set(this.#levels.subarray(0, count), batch.count)
    batch.count += count
    batch.level = view.getInt32(PLACE.level, true)
    this.rows += view.getInt32(PLACE.rows, true)
    this.time = view.getFloat64(PLACE.time, true)
  }
}

/** One for all importers, which take turns; undefined where it cannot be compiled. */
export const sharedPlainRows = wasm.once((host) => new PlainRows(host))

/** A run that takes fewer rows costs more than it saves. */
const WORTH_IT = 256
/** Bytes for the importer's own loop after such a run: at first, and at most. */
const LEAST_PATIENCE = 1 << 10
const MOST_PATIENCE = 1 << 20

/** The compiled loop as one importer uses it: where heads change with nearly every row, it leaves the rows to the importer's own. */
export class QuickRows {
  readonly #rows = sharedPlainRows()
  #patience = LEAST_PATIENCE
  #left = 0

  /** Other bytes than before. */
  begin(): void {
    this.#rows?.forget()
  }

  /** Bytes to read before {@link read} is worth calling: Infinity where there is no compiled loop. */
  get left(): number {
    return this.#rows ? Math.max(0, this.#left) : Number.POSITIVE_INFINITY
  }

  /** So many bytes were read otherwise. */
  pass(bytes: number): void {
    this.#left -= bytes
  }

  /** {@link PlainRows.read}. @returns where the next row begins, how many were taken, and the tick of the last one. */
  read(
    b: Uint8Array,
    from: number,
    to: number,
    shape: RowShape | undefined,
    batch: EdgeBatch,
    time: number,
  ): { at: number; rows: number; time: number } {
    const at = shape ? this.#rows!.read(b, from, to, shape, batch, time) : from
    const rows = at > from ? this.#rows!.rows : 0
    if (rows >= WORTH_IT) this.#patience = LEAST_PATIENCE
    else if (at < to && batch.count < batch.size) {
      this.#left = this.#patience
      this.#patience = Math.min(MOST_PATIENCE, 2 * this.#patience)
    }
    return { at, rows, time: rows > 0 ? this.#rows!.time : time }
  }
}
