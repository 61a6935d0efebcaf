/** A ladder stepped by the compiled loop of `stepping.ts`, and the memory in which ladders take turns. */
import { wasm } from '../../units/index.js'
import type { RingCircuit } from './circuit.js'
import { imageOf, type LadderImage } from './ladder-image.js'
import { firstStep, type Ladder, PlainLadder } from './plain-ladder.js'
import { STEPPING } from './stepping.js'

type Run = (...places: number[]) => void

/** The memory that steps work in. It belongs to one ladder at a time: whoever comes next copies its own image in. */
class Workplace {
  readonly run: Run
  view: DataView
  readonly #memory: InstanceType<wasm.WebAssemblyHost['Memory']>
  #holder: LadderImage | undefined

  /** @throws where the host cannot compile it. */
  constructor(host: wasm.WebAssemblyHost) {
    this.#memory = new host.Memory({ initial: 1 })
    const instance = new host.Instance(new host.Module(STEPPING), { own: { memory: this.#memory } })
    this.run = instance.exports['run'] as Run
    this.view = new DataView(this.#memory.buffer)
  }

  hold(image: LadderImage): void {
    if (this.#holder === image) return
    if (this.#holder) this.#holder.bytes.set(this.#bytes(this.#holder.bytes.length))
    const missing = image.bytes.length - this.#memory.buffer.byteLength
    if (missing > 0) {
      this.#memory.grow(Math.ceil(missing / wasm.PAGE))
      this.view = new DataView(this.#memory.buffer)
    }
    this.#bytes(image.bytes.length).set(image.bytes)
    this.#holder = image
  }

  #bytes(length: number): Uint8Array {
    return new Uint8Array(this.#memory.buffer, 0, length)
  }
}

export class CompiledLadder implements Ladder {
  step: number
  readonly #workplace: Workplace
  readonly #image: LadderImage
  readonly #ends: number[]

  constructor(c: RingCircuit, dt: number, workplace: Workplace) {
    this.#workplace = workplace
    this.#image = imageOf(c, dt)
    this.step = firstStep(dt)
    const { start, ends } = this.#image
    const { branchPairs, branches, linePairs, teePairs, nodes, apart, bridges, terminators } = ends
    this.#ends = [start, branchPairs, branches, linePairs, teePairs, nodes, apart, bridges, terminators]
  }

  advanceTo(step: number): void {
    if (this.step >= step) return
    this.#workplace.hold(this.#image)
    this.#workplace.run(...this.#ends, this.step, step)
    this.step = step
  }

  volt(node: number): number {
    this.#workplace.hold(this.#image)
    return this.#workplace.view.getFloat64(this.#image.voltAt(node), true)
  }

  peaks(): Float64Array {
    this.#workplace.hold(this.#image)
    return Float64Array.from(this.#image.peakAt, (at) => this.#workplace.view.getFloat64(at, true))
  }
}

/** One for all ladders; undefined where it cannot be compiled. */
const sharedWorkplace = wasm.once((host) => new Workplace(host))

/** The quickest that can step it here. */
export function ladderOf(c: RingCircuit, dt: number): Ladder {
  const alone = new Set(c.decoders.map((d) => d.node)).size === c.decoders.length
  const workplace = alone ? sharedWorkplace() : undefined
  return workplace ? new CompiledLadder(c, dt, workplace) : new PlainLadder(c, dt)
}
