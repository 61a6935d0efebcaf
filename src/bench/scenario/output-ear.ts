/** Hears what the controller sends at the pins of an output, whether the rails have power or not. */
import type { SimulatedController } from '../../controller/index.js'
import { Receiver, type ReceiverWindows } from '../decoder/receiver.js'
import type { BenchOutput } from '../station/setup.js'

export interface SentPacket {
  /** End of its last bit, us. */
  endUs: number
  bytes: Uint8Array
}

/** More are counted and not kept: over half an hour of a busy station. */
const MOST_KEPT = 300_000

export class OutputEar {
  readonly name: string
  /** Valid packets in the order of time, the first {@link MOST_KEPT} of them. */
  readonly packets: SentPacket[] = []
  count = 0
  /** Called after the decoders have heard a packet. */
  onPacket: ((packet: SentPacket) => void) | undefined
  readonly #receiver: Receiver

  /** Attach it when the decoders listen already, and before the run begins. */
  constructor({ name, pin }: BenchOutput, machine: SimulatedController, windows: ReceiverWindows) {
    this.name = name
    this.#receiver = new Receiver(windows, (bytes, endUs) => {
      this.count++
      const packet = { endUs, bytes }
      if (this.packets.length < MOST_KEPT) this.packets.push(packet)
      this.onPacket?.(packet)
    })
    machine.listen(pin, (_, at) => this.#receiver.edge(machine.usAtCycle(at)))
  }

  /** Packets that broke off or had a wrong error byte. */
  get spoiled(): number {
    const { damaged, wrongErrorByte } = this.#receiver.counts
    return damaged + wrongErrorByte
  }
}
