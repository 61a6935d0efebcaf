/** The current channel of a capture on its way to the reader. */
import {
  type CurrentLimits,
  type CurrentReading,
  CurrentWatch,
  type EdgeBlock,
  type EdgeClock,
} from '../signal/index.js'
import type { CaptureSink } from './importer.js'
import type { MadeBy } from './provenance.js'

/** Takes edges, and is told when a decoder acknowledged, us. */
export interface AcknowledgedSink extends CaptureSink {
  acknowledge(timeUs: number): void
}

/**
 * Stands before the sink that reads the signal. An acknowledgement is known only when it is over, so each block of
 * edges is held until the next one has come: what was acknowledged before an edge is told before it.
 */
export class CurrentTap implements CaptureSink {
  readonly sample?: (tick: number, volt: number) => void
  readonly #next: AcknowledgedSink
  readonly #watch: CurrentWatch
  readonly #early: number[] = []
  #begun = false
  #held: EdgeBlock | undefined

  constructor(limits: CurrentLimits, next: AcknowledgedSink) {
    this.#next = next
    this.#watch = new CurrentWatch(limits, (us) => {
      if (this.#begun) next.acknowledge(us)
      else this.#early.push(us)
    })
    if (next.sample) this.sample = (tick, volt) => next.sample!(tick, volt)
  }

  begin(clock: EdgeClock, madeBy?: MadeBy): void {
    this.#begun = true
    this.#next.begin(clock, madeBy)
    for (const us of this.#early) this.#next.acknowledge(us)
  }

  current(timeUs: number, amp: number): void {
    this.#watch.push(timeUs, amp)
  }

  push({ ticks, levels, count }: EdgeBlock): void {
    if (this.#held) this.#next.push(this.#held)
    // The importer writes into the same block again.
    this.#held = { ticks: ticks.slice(0, count), levels: levels.slice(0, count), count }
  }

  /** The record is over: hands on what was held. */
  finish(): CurrentReading {
    const reading = this.#watch.finish()
    if (this.#held) this.#next.push(this.#held)
    this.#held = undefined
    return reading
  }
}
