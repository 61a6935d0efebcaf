/** Read a whole signal at once. */
import type { EdgeBlock, EdgeClock } from './edges.js'
import { type ReaderOptions, SignalReader } from './reader.js'
import type { PacketRecord, SignalReading } from './reading.js'

/** Everything the reader finds in one block of edges, with its packets. */
export function readSignal(
  block: EdgeBlock,
  clock: EdgeClock,
  options: ReaderOptions = {},
): { reading: SignalReading; packets: PacketRecord[] } {
  const packets: PacketRecord[] = []
  const reader = new SignalReader(clock, { ...options, onPacket: (p) => packets.push(p) })
  reader.push(block)
  return { reading: reader.finish(), packets }
}
