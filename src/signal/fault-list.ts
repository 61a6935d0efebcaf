/** Faults of a signal, the first thousands of each clause in full, the others counted. */
import type { ClauseId } from '../standard/index.js'
import type { Finding } from './reading.js'

/** All of a record of minutes; it bounds the memory of a longer one. What is beyond it is counted in `unlisted`. */
const LISTED_PER_CLAUSE = 20_000

export class FaultList {
  readonly #tickUs: number
  readonly #list: Finding[] = []
  readonly #listed: Partial<Record<ClauseId, number>> = {}
  readonly unlisted: Partial<Record<ClauseId, number>> = {}

  constructor(tickUs: number) {
    this.#tickUs = tickUs
  }

  /** @param packet bytes of the packet concerned, hexadecimal. */
  add(clause: ClauseId, tick: number, text: string, packet?: string): void {
    const listed = this.#listed[clause] ?? 0
    if (listed >= LISTED_PER_CLAUSE) {
      this.unlisted[clause] = (this.unlisted[clause] ?? 0) + 1
      return
    }
    this.#listed[clause] = listed + 1
    const fault: Finding = { clause, timeUs: tick * this.#tickUs, text }
    if (packet !== undefined) fault.packet = packet
    this.#list.push(fault)
  }

  inOrder(): Finding[] {
    return [...this.#list].sort((a, b) => a.timeUs - b.timeUs)
  }
}
