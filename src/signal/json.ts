/** The object that `halfbit capture --json` and `halfbit simulate --json` share. Version: `halfbit: 1`. */
import { decodePacket, type PacketOptions } from '../packet/index.js'
import type { Statement } from '../standard/index.js'
import { formatBytes } from '../units/index.js'
import type { HalfBitStats, PacketRecord, SignalReading } from './reading.js'

export interface HalfBitsJson {
  count: number
  minUs: number
  maxUs: number
  meanUs: number
  spreadUs: number
  /** Mean of the half-bits at either polarity, us; null when none was seen. */
  highMeanUs: number | null
  lowMeanUs: number | null
}

export interface SignalJson {
  halfbit: 1
  halfBits: { one: HalfBitsJson; zero: HalfBitsJson }
  packets: {
    /** Complete packets. */
    total: number
    valid: number
    spoiled: number
    list?: PacketJson[]
  }
  evidence: readonly Statement[]
  reading: SignalReading
}

export interface PacketJson {
  tUs: number
  hex: string
  valid: boolean
  preamble: number
  says: string
}

/** One packet as the list has it, with its meaning in words. */
export function packetJson(packet: PacketRecord, options: PacketOptions = {}): PacketJson {
  const { says } = decodePacket(packet.bytes, options)
  const hex = formatBytes(packet.bytes)
  return { tUs: packet.timeUs, hex, valid: packet.valid, preamble: packet.preamble, says }
}

/** @param list the packets, when they were asked for. */
export function signalJson(
  reading: SignalReading,
  evidence: readonly Statement[],
  list?: PacketJson[],
): SignalJson {
  const { total, valid, spoiled } = reading.packets
  return {
    halfbit: 1,
    halfBits: { one: halfBitsJson(reading.one), zero: halfBitsJson(reading.zero) },
    packets: list ? { total, valid, spoiled, list } : { total, valid, spoiled },
    evidence,
    reading,
  }
}

function halfBitsJson(stats: HalfBitStats): HalfBitsJson {
  const { count, minUs, maxUs, meanUs, spreadUs, high, low } = stats
  return {
    count,
    minUs,
    maxUs,
    meanUs,
    spreadUs,
    highMeanUs: high.count > 0 ? high.meanUs : null,
    lowMeanUs: low.count > 0 ? low.meanUs : null,
  }
}
