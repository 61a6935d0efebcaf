/** A signal as the worker hands it over for drawing, and what lies at a place of it. */
import type { VoltPyramid } from '../../capture/index.js'
import { type ByteReading, explainBytes } from '../../packet/index.js'
import {
  type BitLimits,
  type BitReading,
  bitsOfPacket,
  GAP,
  OFF,
  sayBit,
  sayHalf,
} from '../../signal/index.js'
import { formatRange, formatTimeUs } from '../../units/index.js'
import { lowerBound } from './view.js'

/** The same bytes come again and again: each is put into words once. */
export interface PacketText {
  hex: string
  says: string
  bytes: number[]
}

export interface Levels {
  highVolt: number
  lowVolt: number
  middleVolt: number
  upVolt: number
  downVolt: number
}

/** Times in us; of the arrays only the first `count`, or `packets`, entries are valid. */
export interface WaveRecord {
  timesUs: Float64Array
  /** After the edge. */
  levels: Uint8Array
  count: number
  /** All edges of the signal. */
  edges: number
  /** Of a long record each entry stands for some edges: the last of them. Every edge is kept when absent. */
  lastUs?: Float64Array | undefined
  packets: number
  packetStartUs: Float64Array
  packetEndUs: Float64Array
  packetValid: Uint8Array
  /** Ones before it. */
  packetOnes: Uint16Array
  /** Index into `texts`. */
  packetText: Uint32Array
  texts: PacketText[]
  findings: { timeUs: number; clause: string; text: string }[]
  limits: BitLimits
  volts?: VoltPyramid | undefined
  /** Of a raw dump it may not be known how many volts a count is. */
  voltUnit: 'V' | 'counts'
  /** Of the volts, where a signal was found in them. */
  at?: Levels | undefined
}

/** What a record keeps lies this far apart, us: 0 where it keeps everything. */
export function grainUs(record: WaveRecord): number {
  const { lastUs, timesUs, count, volts } = record
  const edges = lastUs && count > 0 ? (lastUs[count - 1]! - timesUs[0]!) / count : 0
  return Math.max(edges, volts && volts.samplesPerBucket > 1 ? volts.bucketUs : 0)
}

const cached = new WeakMap<WaveRecord, Map<number, BitReading[]>>()
const MOST_CACHED = 256

/** The bits of one packet with its preamble; none where they cannot be told. */
export function bitsOf(record: WaveRecord, packet: number): BitReading[] {
  let known = cached.get(record)
  if (!known) cached.set(record, (known = new Map()))
  let bits = known.get(packet)
  if (!bits) {
    bits = record.lastUs
      ? []
      : bitsOfPacket(
          record,
          {
            startUs: record.packetStartUs[packet]!,
            endUs: record.packetEndUs[packet]!,
            bytes: record.texts[record.packetText[packet]!]!.bytes,
            preamble: record.packetOnes[packet]!,
          },
          record.limits,
        )
    if (known.size >= MOST_CACHED) known.clear()
    known.set(packet, bits)
  }
  return bits
}

const explained = new WeakMap<PacketText, ByteReading[]>()

function explain(text: PacketText, limits: BitLimits): ByteReading[] {
  let bytes = explained.get(text)
  if (!bytes) explained.set(text, (bytes = explainBytes(text.bytes, { mode: limits.mode })))
  return bytes
}

export interface Place {
  fromUs: number
  toUs: number
  says: string
}

/** The bit, or else the interval, at a time. */
export function placeAt(record: WaveRecord, us: number): Place | undefined {
  const { packetStartUs, packetEndUs, packets, texts, packetText, packetOnes, limits } = record
  const next = lowerBound(packetStartUs, packets, us)
  // Inside the packet before, or in the preamble of the next one.
  for (const packet of [next - 1, next]) {
    if (packet < 0 || packet >= packets || us > packetEndUs[packet]!) continue
    const bit = bitsOf(record, packet).find((b) => us >= b.fromUs && us < b.toUs)
    if (!bit) continue
    const text = texts[packetText[packet]!]!
    const words = sayBit(bit, explain(text, limits), packetOnes[packet]!, limits)
    const whole = bit.role === 'preamble' ? 'Then' : 'Packet'
    return { fromUs: bit.fromUs, toUs: bit.toUs, says: `${words}. ${whole} ${packetWords(record, packet)}` }
  }
  if (next > 0 && us < packetEndUs[next - 1]!) {
    const fromUs = packetStartUs[next - 1]!
    return { fromUs, toUs: packetEndUs[next - 1]!, says: packetWords(record, next - 1) }
  }
  const edge = lowerBound(record.timesUs, record.count, us + 1e-9)
  if (edge === 0 || edge >= record.count || record.lastUs) return undefined
  const fromUs = record.timesUs[edge - 1]!
  const toUs = record.timesUs[edge]!
  const off = record.levels[edge - 1] === OFF
  const gap = record.levels[edge - 1] === GAP
  const says = gap
    ? `${formatTimeUs(toUs - fromUs, 5)} missing from the record`
    : off
      ? `${formatTimeUs(toUs - fromUs, 5)} with neither polarity: the driver is off, or a cut-out`
      : sayHalf(toUs - fromUs, limits)
  return { fromUs, toUs, says }
}

export function packetWords(record: WaveRecord, packet: number): string {
  const { hex, says } = record.texts[record.packetText[packet]!]!
  return `${hex}: ${says}${record.packetValid[packet] ? '' : ' (not valid)'}`
}

/** The bit or interval after or before a time. */
export function stepFrom(record: WaveRecord, us: number, by: 1 | -1): Place | undefined {
  const here = placeAt(record, us)
  let at = here ? (by > 0 ? here.toUs : here.fromUs) : us
  if (!here) {
    const edge = lowerBound(record.timesUs, record.count, us)
    at = record.timesUs[by > 0 ? edge : edge - 1] ?? us
  }
  return placeAt(record, by > 0 ? at + 1e-6 : at - 1e-6)
}

/** A voltage, or the range of it that was kept. */
export function voltWords(
  volt: { low: number; high: number } | undefined,
  unit: WaveRecord['voltUnit'],
): string {
  if (!volt) return ''
  const { low, high } = volt
  return formatRange(low, high, unit, 4)
}
