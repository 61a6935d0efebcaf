/** Edges → files: VCD and change-only CSV. */
import { type EdgeBlock, type EdgeClock, LOW, OFF } from '../signal/index.js'

const HEAD = `$comment edges of a track signal $end
$timescale 1 ns $end
$scope module track $end
$var wire 1 ! signal $end
$upscope $end
$enddefinitions $end
`

/** Writes VCD at a time unit of 1 ns; OFF is z. Give each block in turn, text comes back. */
export class VcdWriter {
  readonly #nsPerTick: number
  #begun = false
  constructor(clock: EdgeClock) {
    this.#nsPerTick = clock.tickUs * 1000
  }
  write(block: EdgeBlock): string {
    const parts: string[] = []
    if (!this.#begun) parts.push(HEAD)
    this.#begun = true
    for (let i = 0; i < block.count; i++) {
      const level = block.levels[i]!
      parts.push(
        `#${Math.round(block.ticks[i]! * this.#nsPerTick)}\n${level === OFF ? 'z' : level === LOW ? '0' : '1'}!\n`,
      )
    }
    return parts.join('')
  }
}

/** Writes `time [s],signal` with a row for each change, times to the nanosecond; OFF is x. */
export class CsvWriter {
  readonly #nsPerTick: number
  #begun = false
  constructor(clock: EdgeClock) {
    this.#nsPerTick = clock.tickUs * 1000
  }
  write(block: EdgeBlock): string {
    const parts: string[] = []
    if (!this.#begun) parts.push('time [s],signal\n')
    this.#begun = true
    for (let i = 0; i < block.count; i++) {
      const ns = Math.round(block.ticks[i]! * this.#nsPerTick)
      const seconds = Math.floor(ns / 1e9)
      const level = block.levels[i]!
      parts.push(`${seconds}.${String(ns - seconds * 1e9).padStart(9, '0')},${level === OFF ? 'x' : level}\n`)
    }
    return parts.join('')
  }
}
