/** One edge through the ladder, in small steps. Quick enough to search by; SPICE confirms what is kept. */
import type { RingCircuit } from './circuit.js'
import { ladderOf } from './kernel.js'
import { type Ladder, reciprocalHenries } from './plain-ladder.js'

export interface Waves {
  timeUs: Float64Array
  /** Node → its voltage over time, for the nodes asked for. */
  volt: Map<number, Float64Array>
}

/** Voltages after an edge from −V to +V at `EDGE_AT_US`, from the steady state before it. */
export function simulateEdge(c: RingCircuit, untilUs: number, nodes: readonly number[] = c.probes): Waves {
  return new EdgeRecord(c, untilUs, nodes).finish()
}

/** The highest voltage of every node until then, V. */
export function peaksOfEdge(c: RingCircuit, untilUs: number): Float64Array {
  const { dt, steps } = stepsOf(c, untilUs)
  const run = ladderOf(c, dt)
  run.advanceTo(steps)
  return run.peaks()
}

/** An edge whose voltages are kept, and which may stop on the way to be looked at. */
export class EdgeRecord {
  readonly #run: Ladder
  readonly #every: number
  readonly #steps: number
  readonly #waves: Waves
  #next = 0

  constructor(c: RingCircuit, untilUs: number, nodes: readonly number[] = c.probes) {
    const { dt, steps } = stepsOf(c, untilUs)
    this.#run = ladderOf(c, dt)
    this.#steps = steps
    this.#every = Math.max(1, Math.floor(steps / 4000))
    const kept = Math.floor(steps / this.#every) + 1
    const timeUs = new Float64Array(kept)
    for (let k = 0; k < kept; k++) timeUs[k] = k * this.#every * dt * 1e6
    this.#waves = {
      timeUs,
      volt: new Map(nodes.map((k) => [k, new Float64Array(kept).fill(-c.volt)])),
    }
    this.#next = Math.ceil(this.#run.step / this.#every)
  }

  /** The highest voltage of every node so far, V. */
  peaks(): Float64Array {
    return this.#run.peaks()
  }

  /**
   * On to a step, at most to the last.
   * @param mostVolt it goes no further once a voltage that is kept is higher
   * @returns whether it got there
   */
  advanceTo(step: number, mostVolt = Number.POSITIVE_INFINITY): boolean {
    const last = Math.min(step, this.#steps)
    for (; this.#next * this.#every <= last; this.#next++) {
      this.#run.advanceTo(this.#next * this.#every)
      for (const [node, list] of this.#waves.volt) {
        const volt = this.#run.volt(node)
        if (volt > mostVolt) return false
        list[this.#next] = volt
      }
    }
    this.#run.advanceTo(last)
    return true
  }

  finish(): Waves {
    this.advanceTo(this.#steps)
    return this.#waves
  }

  /** {@link finish}, unless a voltage that is kept is higher than that: then nothing. */
  finishBelow(mostVolt: number): Waves | undefined {
    return this.advanceTo(this.#steps, mostVolt) ? this.#waves : undefined
  }
}

/** Stable below √2 of the same root (the largest eigenvalue is at most twice the largest row): well inside. */
export function stepsOf(c: RingCircuit, untilUs: number): { dt: number; steps: number } {
  const inverse = reciprocalHenries(c)
  let step = 5e-9
  for (let i = 0; i < inverse.length; i++)
    if (inverse[i]! > 0) step = Math.min(step, 0.8 * Math.sqrt(c.farad[i]! / inverse[i]!))
  const dt = Math.max(step, (untilUs * 1e-6) / 400_000)
  return { dt, steps: Math.ceil((untilUs * 1e-6) / dt) }
}
