/**
 * Which rail is which: every track gets a phase, +1 when its rail L is on bus wire A. Turning a section's `from` and `to`
 * round in the file must not change the wiring, so the phase follows the rails through joints and, past gaps, the
 * same geometry; feeders then go to the rail that the phase says unless they are swapped.
 */
import { jointKeepsRails, type TrackLayout } from './layout.js'

export interface Phases {
  /** +1 or −1 by track. */
  phase: Int8Array
  /** Joints at which a rail meets its opposite without a gap in both rails: closing them makes a short. */
  conflicts: number[]
}

export function findPhases(plan: TrackLayout): Phases {
  const n = plan.tracks.length
  const union = new ParityUnion(n)
  const conflicts: number[] = []
  for (const hub of plan.hubs) for (const end of hub) union.join(hub[0]! >> 1, end >> 1, 0)
  const parity = (j: { a: number; b: number; crossed?: boolean }) => (jointKeepsRails(j) ? 0 : 1)
  // Whole joints first: a loop with one rail cut is then opened where it is cut already, and keeps its feed.
  for (const cutRails of [0, 1])
    plan.joints.forEach((j, i) => {
      if (Number(j.gapL) + Number(j.gapR) !== cutRails) return
      if (!union.join(j.a >> 1, j.b >> 1, parity(j))) conflicts.push(i)
    })
  // Across gaps the geometry decides, as far as it can: where a gapped loop closes on itself it cannot, and need not.
  for (const j of plan.joints) if (j.gapL && j.gapR) union.join(j.a >> 1, j.b >> 1, parity(j))
  const phase = new Int8Array(n)
  for (let t = 0; t < n; t++) phase[t] = union.parityOf(t) === 0 ? 1 : -1
  return { phase, conflicts }
}

/** Union–find that also knows whether two members are alike or opposite. */
export class ParityUnion {
  readonly #parent: Int32Array
  readonly #parity: Uint8Array
  readonly #rank: Uint8Array

  constructor(size: number) {
    this.#parent = Int32Array.from({ length: size }, (_, i) => i)
    this.#parity = new Uint8Array(size)
    this.#rank = new Uint8Array(size)
  }

  find(x: number): number {
    let root = x
    let odd = 0
    while (this.#parent[root] !== root) {
      odd ^= this.#parity[root]!
      root = this.#parent[root]!
    }
    for (let at = x; this.#parent[at] !== root && at !== root; ) {
      const [next, own] = [this.#parent[at]!, this.#parity[at]!]
      this.#parent[at] = root
      this.#parity[at] = odd
      odd ^= own
      at = next
    }
    return root
  }

  /** Parity to the root of its set. */
  parityOf(x: number): 0 | 1 {
    const root = this.find(x)
    return x === root ? 0 : (this.#parity[x] as 0 | 1)
  }

  /** @returns false when the two are already joined the other way round. */
  join(a: number, b: number, parity: 0 | 1): boolean {
    const [ra, rb] = [this.find(a), this.find(b)]
    const between = this.parityOf(a) ^ this.parityOf(b) ^ parity
    if (ra === rb) return between === 0
    const [low, high] = this.#rank[ra]! < this.#rank[rb]! ? [ra, rb] : [rb, ra]
    this.#parent[low] = high
    this.#parity[low] = between
    if (this.#rank[low] === this.#rank[high]) this.#rank[high]!++
    return true
  }
}
