/**
 * The edges by SPICE instead of the ladder. The engine is given from outside: whoever runs in Node, a browser or a worker
 * loads it there and passes a function.
 */
import type { RingCircuit } from './circuit.js'
import { ringNetlist } from './netlist.js'
import type { Waves } from './simulate.js'

/** Vector name in lower case → its values. */
export type SpiceVectors = ReadonlyMap<string, Float64Array>

/** Runs a netlist and gives its vectors. @throws SpiceUnavailable */
export type SpiceRun = (netlist: string) => Promise<SpiceVectors>

/** The engine is missing, or ran but gave no result; the message says which. */
export class SpiceUnavailable extends Error {
  override name = 'SpiceUnavailable'
}

/** What is used of the package `eecircuit-engine`, ngspice as WebAssembly. */
export interface SpiceEngine {
  Simulation: new () => {
    start(): Promise<unknown>
    setNetList(netlist: string): void
    runSim(): Promise<{ numPoints: number; data: { name: string; values: ArrayLike<unknown> }[] }>
    getError(): string[]
  }
}

/**
 * A netlist through the engine. It keeps much memory and may end the process it lives in: load it in a worker that
 * ends with the run, `spiceThrough(() => import('eecircuit-engine'))`.
 */
export function spiceThrough(load: () => Promise<SpiceEngine>): SpiceRun {
  return async (netlist) => {
    let engine: SpiceEngine
    try {
      engine = await load()
    } catch (error) {
      throw new SpiceUnavailable(
        `the SPICE engine, an extra, cannot be loaded: ${error instanceof Error ? error.message : String(error)}`,
      )
    }
    const simulation = new engine.Simulation()
    await simulation.start()
    simulation.setNetList(netlist)
    const { numPoints, data } = await simulation.runSim()
    // A bad netlist gives one point and words in the errors, which also hold warnings: so the points decide.
    if (numPoints < 2)
      throw new SpiceUnavailable(
        `the SPICE engine gave no waveform: ${simulation.getError().slice(0, 3).join('; ')}`,
      )
    return new Map(data.map((d) => [d.name.toLowerCase(), Float64Array.from(d.values, Number)]))
  }
}

/** The waves of a circuit's probes by SPICE. @throws SpiceUnavailable */
export async function wavesBySpice(c: RingCircuit, untilUs: number, run: SpiceRun): Promise<Waves> {
  const vectors = await run(ringNetlist(c, untilUs))
  const time = vectors.get('time')
  const volt = new Map<number, Float64Array>()
  for (const k of c.probes) {
    const wave = vectors.get(`v(n${k})`)
    if (wave) volt.set(k, wave)
  }
  if (!time || volt.size < c.probes.length) throw new SpiceUnavailable('a waveform is missing in its result')
  return { timeUs: time.map((s) => s * 1e6), volt }
}
