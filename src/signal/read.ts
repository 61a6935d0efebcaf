/** Read a whole signal at once. */
import type { EdgeBlock, EdgeClock } from './edges.js'
import { type ReaderOptions, SignalReader } from './reader.js'
import type { PacketRecord, SignalReading } from './reading.js'

/** Everything the reader finds in one block of edges, with its packets. */
export function readSignal(
  block: EdgeBlock,
  clock: EdgeClock,
  options: ReaderOptions = {},
  endTick?: number,
): { reading: SignalReading; packets: PacketRecord[] } {
  const packets: PacketRecord[] = []
  const reader = new SignalReader(clock, { ...options, onPacket: (p) => packets.push(p) })
  reader.push(block)
  // The record ends with its last edge where nothing says otherwise.
  return { reading: reader.finish(endTick ?? block.ticks[block.count - 1] ?? 0), packets }
}
