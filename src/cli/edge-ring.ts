/** Edges handed from one thread to another: a ring of blocks in shared memory, with one writer and one reader. */
import type { EdgeBlock, EdgeClock } from '../signal/edges.js'

const SLOTS = 8
const SLOT_EDGES = 16_384
/** Longer than any block takes, ms: the other thread is gone. */
const PATIENCE_MS = 60_000

// Words of the control block.
const WRITTEN = 0
const READ = 1
const STATE = 2
const COUNTS = 4

const WAITING = 0
const OPEN = 1
const ENDED = 2
const FAILED = 3

/** The ring's memory; goes to the other thread as it is. */
export interface RingMemory {
  control: SharedArrayBuffer
  /** Tick and resolution of the clock, us, then the end of the record, ticks. */
  figures: SharedArrayBuffer
  ticks: SharedArrayBuffer
  levels: SharedArrayBuffer
}

/** Of the clock, and the end and start of the record. */
const FIGURES = 6
const SHOWS = ['rails', 'one level'] as const

export function ringMemory(): RingMemory {
  return {
    control: new SharedArrayBuffer(4 * (COUNTS + SLOTS)),
    figures: new SharedArrayBuffer(8 * FIGURES),
    ticks: new SharedArrayBuffer(8 * SLOTS * SLOT_EDGES),
    levels: new SharedArrayBuffer(SLOTS * SLOT_EDGES),
  }
}

/** Both sides see the same memory. */
class Ring {
  protected readonly control: Int32Array
  protected readonly figures: Float64Array
  protected readonly ticks: Float64Array
  protected readonly levels: Uint8Array

  constructor(memory: RingMemory) {
    this.control = new Int32Array(memory.control)
    this.figures = new Float64Array(memory.figures)
    this.ticks = new Float64Array(memory.ticks)
    this.levels = new Uint8Array(memory.levels)
  }
}

/** The thread that finds the edges. Waits when the other one is eight blocks behind. */
export class RingWriter extends Ring {
  begin(clock: EdgeClock): void {
    this.figures[0] = clock.tickUs
    this.figures[1] = clock.resolutionUs
    this.figures[2] = clock.roundingUs ?? 0
    this.figures[3] = clock.shows === undefined ? -1 : SHOWS.indexOf(clock.shows)
    this.#tell(STATE, OPEN)
  }

  /** @returns false when the reader has failed and takes no more. */
  push(block: EdgeBlock): boolean {
    for (let from = 0; from < block.count; from += SLOT_EDGES) {
      const count = Math.min(SLOT_EDGES, block.count - from)
      const written = this.control[WRITTEN]!
      for (;;) {
        if (Atomics.load(this.control, STATE) === FAILED) return false
        const read = Atomics.load(this.control, READ)
        if (written - read < SLOTS) break
        if (Atomics.wait(this.control, READ, read, PATIENCE_MS) === 'timed-out')
          throw new Error('the thread that reads the signal does not answer')
      }
      const slot = written % SLOTS
      this.ticks.set(block.ticks.subarray(from, from + count), slot * SLOT_EDGES)
      this.levels.set(block.levels.subarray(from, from + count), slot * SLOT_EDGES)
      this.control[COUNTS + slot] = count
      this.#tell(WRITTEN, written + 1)
    }
    return true
  }

  /** @param tick end of the record; @param start of it, NaN where it begins with its first edge. */
  end(tick: number, start: number): void {
    this.figures[4] = tick
    this.figures[5] = start
    this.#tell(STATE, ENDED)
  }

  #tell(word: number, value: number): void {
    Atomics.store(this.control, word, value)
    // The reader waits for a block, for the clock and for the end alike.
    Atomics.notify(this.control, WRITTEN)
    if (word !== WRITTEN) Atomics.notify(this.control, word)
  }
}

/** The thread that reads the edges. */
export class RingReader extends Ring {
  /** Waits for the first edges; undefined when there are none and never will be. */
  clock(): EdgeClock | undefined {
    while (Atomics.load(this.control, STATE) === WAITING) Atomics.wait(this.control, STATE, WAITING)
    const [tickUs = 0, resolutionUs = 0, roundingUs = 0, shown = -1] = this.figures
    const shows = SHOWS[shown]
    return tickUs > 0
      ? { tickUs, resolutionUs, roundingUs, ...(shows === undefined ? {} : { shows }) }
      : undefined
  }

  /** Hands on every block until the end. @returns end and start of the record, ticks. */
  readAll(take: (block: EdgeBlock) => void): [number, number] {
    const control = this.control
    for (let read = 0; ; ) {
      const written = Atomics.load(control, WRITTEN)
      if (read === written) {
        // The end is told after the last block: what was written before it is seen once more.
        if (Atomics.load(control, STATE) === ENDED && Atomics.load(control, WRITTEN) === read) break
        Atomics.wait(control, WRITTEN, written, 50)
        continue
      }
      const slot = read % SLOTS
      const count = control[COUNTS + slot]!
      const from = slot * SLOT_EDGES
      take({
        ticks: this.ticks.subarray(from, from + count),
        levels: this.levels.subarray(from, from + count),
        count,
      })
      read++
      Atomics.store(control, READ, read)
      Atomics.notify(control, READ)
    }
    return [this.figures[4]!, this.figures[5]!]
  }

  /** Takes no more: the writer need not wait. */
  fail(): void {
    Atomics.store(this.control, STATE, FAILED)
    Atomics.notify(this.control, READ)
  }
}
