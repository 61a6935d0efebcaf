/** Keeps the edges and packets of a signal for the screen, up to a limit; judging never depends on it. */
import { decodePacket } from '../../packet/index.js'
import { type EdgeBlock, type EdgeClock, type Finding, OFF, type PacketRecord } from '../../signal/index.js'
import type { TrackMode } from '../../standard/index.js'
import { formatBytes } from '../../units/index.js'
import type { WaveRecord } from '../wave/draw.js'

/** 9 bytes an edge: 180 MB at most. */
const MOST_EDGES = 20_000_000
const MOST_PACKETS = 400_000

export class KeptRecord {
  leftOut = 0
  readonly #mode: TrackMode
  #tickUs = 1
  #times = new Float64Array(4096)
  #levels = new Uint8Array(4096)
  #count = 0
  #from: number[] = []
  #to: number[] = []
  #valid: number[] = []
  #text: number[] = []
  /** The same bytes come again and again: each is put into words once. */
  readonly #known = new Map<string, number>()
  readonly #says: string[] = []
  readonly #hex: string[] = []

  constructor(mode: TrackMode) {
    this.#mode = mode
  }

  begin(clock: EdgeClock): void {
    this.#tickUs = clock.tickUs
  }

  push({ ticks, levels, count }: EdgeBlock): void {
    const take = Math.min(count, MOST_EDGES - this.#count)
    this.leftOut += count - take
    const need = this.#count + take
    if (need > this.#times.length) {
      const size = Math.min(MOST_EDGES, Math.max(need, 2 * this.#times.length))
      const times = new Float64Array(size)
      times.set(this.#times.subarray(0, this.#count))
      this.#times = times
      const all = new Uint8Array(size).fill(OFF)
      all.set(this.#levels.subarray(0, this.#count))
      this.#levels = all
    }
    for (let i = 0; i < take; i++) this.#times[this.#count + i] = ticks[i]! * this.#tickUs
    this.#levels.set(levels.subarray(0, take), this.#count)
    this.#count = need
  }

  packet(p: PacketRecord): void {
    if (this.#from.length >= MOST_PACKETS) return
    const hex = formatBytes(p.bytes)
    let index = this.#known.get(hex)
    if (index === undefined) {
      index = this.#says.length
      this.#known.set(hex, index)
      this.#hex.push(hex)
      this.#says.push(decodePacket(p.bytes, { mode: this.#mode }).says)
    }
    this.#from.push(p.timeUs)
    this.#to.push(p.endUs)
    this.#valid.push(p.valid ? 1 : 0)
    this.#text.push(index)
  }

  record(findings: readonly Finding[]): WaveRecord {
    return {
      timesUs: this.#times.slice(0, this.#count),
      levels: this.#levels.slice(0, this.#count),
      count: this.#count,
      packetStartUs: Float64Array.from(this.#from),
      packetEndUs: Float64Array.from(this.#to),
      packetValid: Uint8Array.from(this.#valid),
      packetSays: this.#text.map((i) => this.#says[i]!),
      packetHex: this.#text.map((i) => this.#hex[i]!),
      findings: findings
        .map(({ timeUs, clause, text }) => ({ timeUs, clause, text }))
        .sort((a, b) => a.timeUs - b.timeUs),
    }
  }
}
