/** Edges of a packet by the signal room's encoder, as a referee for those the guide lists. */
import type { PacketEdges } from '../../src/book/index.js'
import type { TimerOption } from '../../src/controller/index.js'
import { ENCODER_CLOCK, encodeSignal } from '../../src/signal/index.js'

/** Times of all edges from the first of the preamble, without the one that ends the packet, us. */
export function edgesOfPacket(packet: PacketEdges, option: TimerOption): number[] {
  const bytes = packet.hex.split(' ').map((h) => Number.parseInt(h, 16))
  const preamble = packet.bits.findIndex((b) => b.part !== 'preamble')
  const edges = encodeSignal([bytes], { oneHalfUs: option.one.us, zeroHalfUs: option.zero.us, preamble })
  const times = Array.from(
    { length: 2 * packet.bits.length },
    (_, i) => edges.ticks[i]! * ENCODER_CLOCK.tickUs,
  )
  return times.map((t) => t - times[0]!)
}
