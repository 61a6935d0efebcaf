/** Edges → files: VCD and change-only CSV. Each says in its head what made it. */
import type { EdgeBlock, EdgeClock } from '../signal/edges.js'
import { type MadeBy, madeBySentence } from './provenance.js'

/** The comment that opens a VCD file. */
export function vcdComment(madeBy: MadeBy): string {
  return `$comment edges of a track signal, ${madeBySentence(madeBy)} $end\n`
}

/** LOW, HIGH, OFF and GAP, in both formats. */
const LETTERS = ['0', '1', 'z', 'x']

const HEAD = `$timescale 1 ns $end
$scope module track $end
$var wire 1 ! signal $end
$upscope $end
$enddefinitions $end
`

/**
 * Writes VCD at a time unit of 1 ns; OFF is z, what is not known x. Give each block in turn, text comes back. VCD knows no times below
 * zero: a record that begins there is shifted to begin at zero.
 */
export class VcdWriter {
  readonly #nsPerTick: number
  readonly #madeBy: MadeBy
  #shiftNs: number | undefined
  constructor(clock: EdgeClock, madeBy: MadeBy) {
    this.#nsPerTick = clock.tickUs * 1000
    this.#madeBy = madeBy
  }
  write(block: EdgeBlock): string {
    const parts: string[] = []
    if (this.#shiftNs === undefined && block.count > 0) {
      this.#shiftNs = Math.max(0, -Math.round(block.ticks[0]! * this.#nsPerTick))
      parts.push(vcdComment(this.#madeBy), HEAD)
    }
    const shift = this.#shiftNs ?? 0
    for (let i = 0; i < block.count; i++) {
      const level = block.levels[i]!
      const ns = Math.round(block.ticks[i]! * this.#nsPerTick) + shift
      parts.push(`#${ns}\n${LETTERS[level]}!\n`)
    }
    return parts.join('')
  }
}

/** Writes `time [s],signal` with a row for each change, times to the nanosecond; OFF is z, what is not known x. */
export class CsvWriter {
  readonly #nsPerTick: number
  readonly #madeBy: MadeBy
  #begun = false
  constructor(clock: EdgeClock, madeBy: MadeBy) {
    this.#nsPerTick = clock.tickUs * 1000
    this.#madeBy = madeBy
  }
  write(block: EdgeBlock): string {
    const parts: string[] = []
    if (!this.#begun) parts.push(`# ${madeBySentence(this.#madeBy)}\ntime [s],signal\n`)
    this.#begun = true
    for (let i = 0; i < block.count; i++) {
      const ns = Math.round(block.ticks[i]! * this.#nsPerTick)
      const size = Math.abs(ns)
      const seconds = Math.floor(size / 1e9)
      const level = block.levels[i]!
      const rest = String(size - seconds * 1e9).padStart(9, '0')
      parts.push(`${ns < 0 ? '-' : ''}${seconds}.${rest},${LETTERS[level]}\n`)
    }
    return parts.join('')
  }
}
