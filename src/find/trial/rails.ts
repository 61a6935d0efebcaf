/**
 * Rails and wires of a trial bench, apart from the model that the finder reasons with: every wire and joiner has a resistance
 * of its own between its corners, the fault is built in, and the whole network is solved by plain elimination for each reading.
 */
import type { Random } from '../../corner/index.js'
import { EDGE, JOINERS } from '../../track/index.js'
import type { Hypothesis } from '../model/hypotheses.js'
import type { Station } from '../model/station.js'

/** A wire of a quarter to a tenth of the cross-section. */
const THIN = [4, 10] as const
const TOUCHING_OHM = [0.005, 0.1] as const
const OPEN_OHM = 1e7
/** From every node to ground, so that what hangs in the air has a voltage too, S. */
const AIR = 1e-10
/** Wires and rails of one bench come from one reel and one hand: they differ by this part of what is uncertain; assumed, no source. */
const UNLIKE = 0.1
/** Below it neither side of a gap has its voltage, V. */
const LEAST_VOLT = 8
const BENCH = { volt: 5, amp: 0.5, ohm: 0.01 } as const

interface Edge {
  from: number
  to: number
  ohm: number
  /** District whose source it is. */
  source?: number
}

export interface Load {
  track: number
  ohm: number
  /** Both rails beside a joint, in place of the middle of the track. */
  beside?: { a: number; b: number }
}

export class TrialRails {
  readonly #station: Station
  readonly #edges: Edge[]
  readonly #emf: number[]
  readonly #solved = new Map<string, Float64Array>()

  /** @param emf of each district's source by its number, V @param sourceOhm what the fault puts in its way, Ohm */
  constructor(
    station: Station,
    { kinds, places }: Pick<Hypothesis, 'kinds' | 'places'>,
    emf: readonly number[],
    sourceOhm: readonly number[],
    random: Random,
  ) {
    this.#station = station
    const { net, plan, joints, feeders } = station.wiring!
    const all = random.uniform()
    this.#edges = Array.from({ length: net.from.length }, (_, e): Edge => {
      const [low, high] = [net.ohm.low[e]!, net.ohm.high[e]!]
      // Joiners are made one by one, and each is as good or bad as it is.
      const isJoiner = net.kind[e] === EDGE.joiner
      const share = isJoiner
        ? random.uniform()
        : Math.min(1, Math.max(0, all + UNLIKE * (random.uniform() - 0.5)))
      const isSource = net.kind[e] === EDGE.source
      return {
        from: net.from[e]!,
        to: net.to[e]!,
        ohm: low + share * (high - low) + (isSource ? sourceOhm[net.owner[e]!]! : 0),
        ...(isSource ? { source: net.owner[e]! } : {}),
      }
    })
    const between = ([low, high]: readonly [number, number]) => low * (high / low) ** random.uniform()
    const wires = (place: string) => {
      const name = place.replace(/^feeder /, '').replace(/\/[AB]$/, '')
      return feeders.get([...feeders.keys()].find((f) => plan.feeders[f]!.name === name)!)!
    }
    kinds.forEach((kind, i) => {
      // Two faults of one place share it.
      const place = places[Math.min(i, places.length - 1)]!
      switch (kind) {
        case 'open-feeder':
          this.#edges[wires(place)[place.endsWith('/A') ? 'A' : 'B']]!.ohm = OPEN_OHM
          break
        case 'thin-feeder': {
          const times = between(THIN)
          for (const e of Object.values(wires(place))) this.#edges[e]!.ohm *= times
          break
        }
        case 'swapped-feeder': {
          const { A, B } = wires(place)
          const [a, b] = [this.#edges[A]!, this.#edges[B]!]
          ;[a.to, b.to] = [b.to, a.to]
          break
        }
        case 'bad-joiner': {
          const own = joints.find((j) => `joint ${j.name}/${j.side}` === place)!
          this.#edges[own.edge]!.ohm = between([JOINERS.bad.ohm.low, JOINERS.bad.ohm.high])
          break
        }
        case 'rails-joined': {
          const { a, b } = this.#rails(station.places.find((p) => p.text === place)!.index!)
          this.#edges.push({ from: a, to: b, ohm: between(TOUCHING_OHM) })
          break
        }
      }
    })
    this.#emf = [...emf]
    // A source that trips at once gives nothing.
    for (const { index, trip } of station.districts.values())
      if (index !== undefined && this.sourceAmp(index) > (trip?.amp ?? 20)) {
        this.#emf[index] = 0
        this.#solved.clear()
      }
  }

  /** Between the rails in the middle of a track, V. */
  trackVolt(track: number, load?: Load): number {
    const { a, b } = this.#rails(track)
    return Math.abs(this.#between(a, b, load))
  }

  /** What a meter across a gap in both rails shows; `undefined` where a side has not its full voltage. */
  across(gap: number): string | undefined {
    const { a, b, isMatched } = this.#station.wiring!.gaps[gap]!
    const [first, second] = [a, b].map((track) => {
      const rails = this.#rails(track)
      return this.#between(rails.a, rails.b)
    }) as [number, number]
    if (Math.min(Math.abs(first), Math.abs(second)) < LEAST_VOLT) return undefined
    return first * second > 0 === isMatched ? 'alike' : 'opposite'
  }

  /** Between the terminals of a district, with a resistor there or without, V. */
  outputVolt(district: number, loadOhm?: number): number {
    const { a, b } = this.#station.wiring!.net.terminals[district]!
    const x = this.#solve(loadOhm === undefined ? [] : [{ from: a, to: b, ohm: loadOhm }], this.#emf)
    return Math.abs(x[a]! - x[b]!)
  }

  /** Along a wire or joiner, V, and the current in it, A. */
  along(edge: number, load: Load): { volt: number; amp: number } {
    const { from, to, ohm } = this.#edges[edge]!
    const volt = Math.abs(this.#between(from, to, load))
    return { volt, amp: volt / ohm }
  }

  /** Out of a district's source, A. */
  sourceAmp(district: number, load?: Load): number {
    const e = this.#edges.find((x) => x.source === district)!
    return Math.max(0, (this.#emf[district]! - this.#between(e.from, e.to, load)) / e.ohm)
  }

  /** At a track that is fed from a bench supply in the place of its station, V. */
  fedVolt(district: number, track: number): number {
    const edges = this.#edges.map((e) =>
      e.source === undefined ? e : { ...e, ohm: e.source === district ? BENCH.ohm : OPEN_OHM },
    )
    const emf = this.#emf.map((_, d) => (d === district ? BENCH.volt : 0))
    const x = solve(edges, emf, this.#station.wiring!.net.size)
    const e = edges.find((o) => o.source === district)!
    const amp = (BENCH.volt - (x[e.from]! - x[e.to]!)) / e.ohm
    const { a, b } = this.#rails(track)
    return Math.abs(x[a]! - x[b]!) * Math.min(1, BENCH.amp / Math.max(1e-9, amp))
  }

  #rails(track: number): { a: number; b: number } {
    const { net, placeOf } = this.#station.wiring!
    return net.places[placeOf[track]!]!
  }

  #between(a: number, b: number, load?: Load): number {
    const at = load && (load.beside ?? this.#rails(load.track))
    const x = this.#solve(at ? [{ from: at.a, to: at.b, ohm: load.ohm }] : [], this.#emf)
    return x[a]! - x[b]!
  }

  #solve(more: readonly Edge[], emf: readonly number[]): Float64Array {
    const key = more.map((e) => `${e.from} ${e.to} ${e.ohm}`).join()
    const had = this.#solved.get(key)
    if (had) return had
    const made = solve([...this.#edges, ...more], emf, this.#station.wiring!.net.size)
    this.#solved.set(key, made)
    return made
  }
}

/** Voltages of all nodes: Gaussian elimination on the matrix of conductances, which needs no pivoting. */
function solve(edges: readonly Edge[], emf: readonly number[], size: number): Float64Array {
  const g = Array.from({ length: size }, () => new Float64Array(size))
  const x = new Float64Array(size)
  for (let n = 0; n < size; n++) g[n]![n] = AIR
  for (const { from, to, ohm, source } of edges) {
    const s = 1 / ohm
    g[from]![from]! += s
    g[to]![to]! += s
    g[from]![to]! -= s
    g[to]![from]! -= s
    if (source === undefined) continue
    x[from]! += emf[source]! * s
    x[to]! -= emf[source]! * s
  }
  for (let k = 0; k < size; k++) {
    const row = g[k]!
    for (let i = k + 1; i < size; i++) {
      const other = g[i]!
      if (other[k] === 0) continue
      const f = other[k]! / row[k]!
      for (let j = k; j < size; j++) if (row[j] !== 0) other[j]! -= f * row[j]!
      x[i]! -= f * x[k]!
    }
  }
  for (let k = size - 1; k >= 0; k--) {
    const row = g[k]!
    let sum = x[k]!
    for (let j = k + 1; j < size; j++) sum -= row[j]! * x[j]!
    x[k] = sum / row[k]!
  }
  return x
}
