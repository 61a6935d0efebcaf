/** Keeps the edges, packets and volts of a signal for the screen, in bounded memory; judging never depends on it. */
import { type AnalogReading, PyramidBuilder } from '../../capture/index.js'
import { decodePacket } from '../../packet/index.js'
import {
  type BitLimits,
  type EdgeBlock,
  type EdgeClock,
  type Finding,
  OFF,
  type PacketRecord,
} from '../../signal/index.js'
import { formatBytes } from '../../units/index.js'
import type { PacketText, WaveRecord } from '../wave/record.js'

/** 9 bytes an edge. Beyond it neighbours are kept as one, 17 bytes for each of half as many. */
const MOST_EDGES = 12_000_000
const MOST_PACKETS = 2_000_000
const MOST_TEXTS = 100_000

export class KeptRecord {
  readonly #limits: BitLimits
  readonly #most: number
  #tickUs = 1
  #edges = 0
  #times = new Float64Array(4096)
  #levels = new Uint8Array(4096).fill(OFF)
  #count = 0
  /** Last edge of each group, once there are groups; edges in a group, and in the last one so far. */
  #lasts: Float64Array | undefined
  #per = 1
  #inLast = 0
  #volts: PyramidBuilder | undefined
  #packets = 0
  #from = new Float64Array(1024)
  #to = new Float64Array(1024)
  #valid = new Uint8Array(1024)
  #ones = new Uint16Array(1024)
  #text = new Uint32Array(1024)
  readonly #known = new Map<string, number>()
  readonly #texts: PacketText[] = []

  /** @param most edges kept one by one. */
  constructor(limits: BitLimits, most = MOST_EDGES) {
    this.#limits = limits
    this.#most = most
  }

  begin(clock: EdgeClock): void {
    this.#tickUs = clock.tickUs
  }

  sample(tick: number, volt: number): void {
    this.#volts ??= new PyramidBuilder()
    this.#volts.add(tick, volt)
  }

  push({ ticks, levels, count }: EdgeBlock): void {
    this.#edges += count
    let from = 0
    if (!this.#lasts) {
      from = Math.min(count, this.#most - this.#count)
      this.#room(this.#count + from)
      for (let i = 0; i < from; i++) this.#times[this.#count + i] = ticks[i]! * this.#tickUs
      this.#levels.set(levels.subarray(0, from), this.#count)
      this.#count += from
      if (from < count) this.#group()
    }
    for (let i = from; i < count; i++) this.#addToGroup(ticks[i]! * this.#tickUs, levels[i]!)
  }

  #room(need: number): void {
    if (need <= this.#times.length) return
    const size = Math.min(this.#most, Math.max(need, 2 * this.#times.length))
    const times = new Float64Array(size)
    times.set(this.#times.subarray(0, this.#count))
    this.#times = times
    const all = new Uint8Array(size).fill(OFF)
    all.set(this.#levels.subarray(0, this.#count))
    this.#levels = all
  }

  /** Too many for one by one: from now on four edges are one entry, with room for as many entries again. */
  #group(): void {
    this.#per = 4
    const size = this.#most >> 1
    const count = Math.ceil(this.#count / 4)
    const times = new Float64Array(size)
    const lasts = new Float64Array(size)
    const levels = new Uint8Array(size)
    for (let i = 0; i < count; i++) {
      const last = Math.min(this.#count, 4 * i + 4) - 1
      times[i] = this.#times[4 * i]!
      lasts[i] = this.#times[last]!
      levels[i] = this.#levels[last]!
    }
    this.#inLast = this.#count - 4 * (count - 1)
    this.#times = times
    this.#levels = levels
    this.#lasts = lasts
    this.#count = count
  }

  #addToGroup(us: number, level: number): void {
    const lasts = this.#lasts!
    if (this.#inLast >= this.#per) {
      if (this.#count === this.#times.length) this.#halve()
      else {
        this.#times[this.#count] = us
        this.#count++
        this.#inLast = 0
      }
    }
    const at = this.#count - 1
    lasts[at] = us
    this.#levels[at] = level
    this.#inLast++
  }

  #halve(): void {
    const half = this.#count >> 1
    for (let i = 0; i < half; i++) {
      this.#times[i] = this.#times[2 * i]!
      this.#lasts![i] = this.#lasts![2 * i + 1]!
      this.#levels[i] = this.#levels[2 * i + 1]!
    }
    this.#count = half
    this.#inLast = this.#per
    this.#per *= 2
  }

  packet(p: PacketRecord): void {
    if (this.#packets >= MOST_PACKETS) return
    const hex = formatBytes(p.bytes)
    let index = this.#known.get(hex)
    if (index === undefined) {
      if (this.#texts.length >= MOST_TEXTS) return
      index = this.#texts.length
      this.#known.set(hex, index)
      const { says } = decodePacket(p.bytes, { mode: this.#limits.mode })
      this.#texts.push({ hex, says, bytes: [...p.bytes] })
    }
    const n = this.#packets
    if (n === this.#from.length) this.#morePackets(2 * n)
    this.#from[n] = p.timeUs
    this.#to[n] = p.endUs
    this.#valid[n] = p.valid ? 1 : 0
    this.#ones[n] = Math.min(65_535, p.preamble)
    this.#text[n] = index
    this.#packets++
  }

  #morePackets(size: number): void {
    const longer = <T extends { set(from: T): void }>(list: T, fresh: T) => {
      fresh.set(list)
      return fresh
    }
    this.#from = longer(this.#from, new Float64Array(size))
    this.#to = longer(this.#to, new Float64Array(size))
    this.#valid = longer(this.#valid, new Uint8Array(size))
    this.#ones = longer(this.#ones, new Uint16Array(size))
    this.#text = longer(this.#text, new Uint32Array(size))
  }

  /** Hands everything over: afterwards nothing is left here. */
  record(
    findings: readonly Finding[],
    analog?: AnalogReading,
    voltUnit: WaveRecord['voltUnit'] = 'V',
  ): WaveRecord {
    return {
      timesUs: this.#times,
      levels: this.#levels,
      count: this.#count,
      edges: this.#edges,
      lastUs: this.#lasts,
      packets: this.#packets,
      packetStartUs: this.#from,
      packetEndUs: this.#to,
      packetValid: this.#valid,
      packetOnes: this.#ones,
      packetText: this.#text,
      texts: this.#texts,
      findings: findings
        .map(({ timeUs, clause, text }) => ({ timeUs, clause, text }))
        .sort((a, b) => a.timeUs - b.timeUs),
      limits: this.#limits,
      volts: this.#volts?.finish(this.#tickUs),
      voltUnit,
      at: analog && {
        highVolt: analog.highVolt,
        lowVolt: analog.lowVolt,
        middleVolt: analog.middleVolt,
        upVolt: analog.upVolt,
        downVolt: analog.downVolt,
      },
    }
  }
}

/** What of a record need not be copied from one thread to another. */
export function transfersOf(record: WaveRecord): Transferable[] {
  const levels = record.volts?.levels ?? []
  const lists = [
    record.timesUs,
    record.levels,
    record.packetStartUs,
    record.packetEndUs,
    record.packetValid,
    record.packetOnes,
    record.packetText,
    ...(record.lastUs ? [record.lastUs] : []),
    ...levels.flatMap((l) => [l.timesUs, l.low, l.high]),
  ]
  return lists.map((l) => l.buffer) as Transferable[]
}
