/** The edges of a network while it is made. */
import type { Range } from '../conductors/conductor.data.js'
import type { Network } from './network.js'

/** No edge has less. */
const LEAST_OHM = 1e-7

/** Edges in arrays that grow by doubling. */
export class ResistorList {
  #count = 0
  #from: Int32Array
  #to: Int32Array
  #low: Float64Array
  #usual: Float64Array
  #high: Float64Array
  #kind: Uint8Array
  #owner: Int32Array
  #conductor: Int16Array

  constructor(room: number) {
    this.#from = new Int32Array(room)
    this.#to = new Int32Array(room)
    this.#low = new Float64Array(room)
    this.#usual = new Float64Array(room)
    this.#high = new Float64Array(room)
    this.#kind = new Uint8Array(room)
    this.#owner = new Int32Array(room)
    this.#conductor = new Int16Array(room)
  }

  add(a: number, b: number, r: Range, scale: number, kind: number, owner: number, conductor: number): void {
    const e = this.#count++
    if (e === this.#from.length) this.#grow()
    this.#from[e] = a
    this.#to[e] = b
    this.#low[e] = Math.max(LEAST_OHM, r.low * scale)
    this.#usual[e] = Math.max(LEAST_OHM, r.usual * scale)
    this.#high[e] = Math.max(LEAST_OHM, r.high * scale)
    this.#kind[e] = kind
    this.#owner[e] = owner
    this.#conductor[e] = conductor
  }

  #grow(): void {
    const room = 2 * this.#from.length
    const ints = (old: Int32Array) => {
      const list = new Int32Array(room)
      list.set(old)
      return list
    }
    const floats = (old: Float64Array) => {
      const list = new Float64Array(room)
      list.set(old)
      return list
    }
    this.#from = ints(this.#from)
    this.#to = ints(this.#to)
    this.#owner = ints(this.#owner)
    this.#low = floats(this.#low)
    this.#usual = floats(this.#usual)
    this.#high = floats(this.#high)
    const kind = new Uint8Array(room)
    kind.set(this.#kind)
    this.#kind = kind
    const conductor = new Int16Array(room)
    conductor.set(this.#conductor)
    this.#conductor = conductor
  }

  arrays(): Pick<Network, 'from' | 'to' | 'ohm' | 'kind' | 'owner' | 'conductorOf'> {
    const n = this.#count
    return {
      from: this.#from.subarray(0, n),
      to: this.#to.subarray(0, n),
      ohm: {
        low: this.#low.subarray(0, n),
        usual: this.#usual.subarray(0, n),
        high: this.#high.subarray(0, n),
      },
      kind: this.#kind.subarray(0, n),
      owner: this.#owner.subarray(0, n),
      conductorOf: this.#conductor.subarray(0, n),
    }
  }
}
