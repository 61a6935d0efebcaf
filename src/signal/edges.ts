/**
 * Edges: the waist of Halfbit. The encoder, the simulators and the importers all yield this, and there is one
 * reader for it. Times are the source's own integers (cycles, sample numbers) in `ticks`; they are multiplied
 * once by `tickUs`, so no fraction ever accumulates. Analog importers may give fractional ticks (interpolated
 * crossings).
 */

/** Level of the differential signal after an edge. */
export const LOW = 0
export const HIGH = 1
/** Rails equal or not driven: driver off, rails tied together (cut-out), high impedance. The record shows it. */
export const OFF = 2
/** The record says nothing: samples are missing, the dump was off, the level is unknown. No fault of the station. */
export const GAP = 3

export interface EdgeClock {
  /** Length of one tick, us; > 0. */
  tickUs: number
  /**
   * Spacing of the instants at which the level was looked at, us. The true edge lies up to this much before
   * its tick. 0: exact (a simulator, an encoder).
   */
  resolutionUs: number
  /** How far writing the times down may have moved a tick either way, us: half of their last digit. Default 0. */
  roundingUs?: number
  /**
   * What the levels are. `rails`: the voltage between both rails, so that {@link OFF} is seen where there is none.
   * `one level`: a single logic level or rail, on which missing voltage looks like a level. Default: not known.
   */
  shows?: 'rails' | 'one level'
}

/** The true duration between two edges lies less than this beside the measured one, us; 0: exact. */
export function durationUncertaintyUs(clock: Pick<EdgeClock, 'resolutionUs' | 'roundingUs'>): number {
  return clock.resolutionUs + 2 * (clock.roundingUs ?? 0)
}

/** Edges in time order, struct of arrays; only the first `count` entries are valid. Reused between calls. */
export interface EdgeBlock {
  ticks: Float64Array
  /** LOW, HIGH, OFF or GAP after the edge. */
  levels: Uint8Array
  count: number
}

/** Takes edges as they come. Implementations must copy what they keep: blocks are reused. */
export interface EdgeSink {
  push(block: EdgeBlock): void
}

/** A growing list of edges, for tests and short runs. */
export class EdgeList implements EdgeSink {
  ticks = new Float64Array(1024)
  levels = new Uint8Array(1024)
  count = 0

  add(tick: number, level: number): void {
    if (this.count === this.ticks.length) this.#grow(this.count * 2)
    this.ticks[this.count] = tick
    this.levels[this.count] = level
    this.count++
  }

  push(block: EdgeBlock): void {
    const need = this.count + block.count
    if (need > this.ticks.length) this.#grow(Math.max(need, this.ticks.length * 2))
    this.ticks.set(block.ticks.subarray(0, block.count), this.count)
    this.levels.set(block.levels.subarray(0, block.count), this.count)
    this.count = need
  }

  #grow(size: number): void {
    const ticks = new Float64Array(size)
    ticks.set(this.ticks.subarray(0, this.count))
    const levels = new Uint8Array(size)
    levels.set(this.levels.subarray(0, this.count))
    this.ticks = ticks
    this.levels = levels
  }
}
