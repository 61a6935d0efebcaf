/**
 * The shelf of `examples/shelf` as a bench of its own: its rails, joiners, feeders and bus as a netlist that is written here
 * from the drawing, with figures from published tables, and solved by Debian's ngspice. Nothing of it comes from the rooms
 * of the railroad or the fault finder.
 */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const NGSPICE = '/usr/bin/ngspice'
export const HAVE_NGSPICE = existsSync(NGSPICE)
if (!HAVE_NGSPICE) console.error('SKIPPED, referee not installed: ngspice (apt-get install ngspice)')

/** Code 55: 0.92 mm² by the outline of NMRA RP-15.1; nickel silver C73100, 0.23 Ohm·mm²/m (its data sheet). */
const RAIL_OHM_PER_M = 0.23 / 0.92
/** ASTM B258: 0.823 and 0.326 mm²; annealed copper by IEC 60028: 1/58 Ohm·mm²/m. */
const BUS_OHM_PER_M = 1 / 58 / 0.823
const FEEDER_OHM = (0.15 / 58 / 0.326) as number
/** Common practice, no source. */
const JOINER_OHM = 0.02
/** The two switches of the DRV8874, 100 mOhm each (its data sheet, SLVSF66A), and the shunt of the design. */
const SOURCE_OHM = 0.3
const VOLT = 13
/** The supply's own limit in the design, A. */
const LIMIT_AMP = 3.5

export type Wire = 'A' | 'B'

/** What is wrong with the bench. */
export interface Wrong {
  /** Ohm of one wire of a feeder. */
  feeder?: Partial<Record<string, Partial<Record<Wire, number>>>>
  /** Ohm of one rail's joiner. */
  joiner?: Partial<Record<string, Partial<Record<Wire, number>>>>
  /** Feeders whose wires are exchanged. */
  swapped?: readonly string[]
  /** Tracks whose rails touch, with the Ohm between them. */
  touching?: Partial<Record<string, number>>
  /** Open-circuit volts in place of 13 V. */
  volt?: number
}

/** Stretches of rail: metres, and the nodes that they begin and end at. */
const TRACKS: Readonly<Record<string, readonly [metres: number, from: string, to: string]>> = {
  stick: [0.5, 'stick.0', 'stick.1'],
  'front.1': [0.45, 'front1.0', 'front1.1'],
  'front.2': [0.45, 'front2.0', 'front2.1'],
  'back.1': [0.47, 'back1.0', 'back1.1'],
  'back.2': [0.47, 'back2.0', 'back2.1'],
  neck: [0.2, 'neck.0', 'neck.1'],
  mill: [0.45, 'mill.0', 'mill.1'],
  coal: [0.4, 'coal.0', 'coal.1'],
  ...Object.fromEntries(
    ['A', 'B', 'C'].flatMap((t) =>
      ['points', 'straight', 'diverging'].map((leg) => [`${t}.${leg}`, [0.06, t, `${t}.${leg}`]]),
    ),
  ),
}
/** Joints by name, and the nodes on their two sides. */
const JOINTS: Readonly<Record<string, readonly [string, string]>> = {
  'A.points': ['stick.1', 'A.points'],
  'A.straight': ['A.straight', 'front1.0'],
  'front.1/2': ['front1.1', 'front2.0'],
  'B.straight': ['front2.1', 'B.straight'],
  'A.diverging': ['A.diverging', 'back1.0'],
  'back.1/2': ['back1.1', 'back2.0'],
  'B.diverging': ['back2.1', 'B.diverging'],
  'B.points': ['B.points', 'neck.0'],
  'C.points': ['neck.1', 'C.points'],
  'C.straight': ['C.straight', 'mill.0'],
  'C.diverging': ['C.diverging', 'coal.0'],
}
/** Feeders in the middle of their sections, by metres along the bus. */
const FEEDERS: Readonly<Record<string, number>> = {
  stick: 0.3,
  'front.1': 0.9,
  'back.1': 0.9,
  'front.2': 1.4,
  'back.2': 1.4,
  mill: 2.2,
  coal: 2.2,
}
const BUS = [0, 0.3, 0.9, 1.4, 2.2] as const

const node = (wire: Wire, name: string) => `${wire}_${name.replace(/\W/g, '_')}`.toLowerCase()
const middle = (track: string) => `mid ${track}`
const busAt = (metres: number) => `bus ${metres * 1000}`

/** A load, or a bench supply in place of the station. */
export interface Test {
  /** Ohm across the rails at a track's middle, at a joint, or at the station. */
  load?: { at: string; ohm: number }
  /** The station is off; 5 V and at most 0.5 A feed the bus. */
  bench?: boolean
}

export class SpiceBench {
  readonly #wrong: Wrong
  readonly #folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
  readonly #known = new Map<string, ReadonlyMap<string, number>>()

  constructor(wrong: Wrong) {
    this.#wrong = wrong
  }

  close(): void {
    rmSync(this.#folder, { recursive: true, force: true })
  }

  /** Volts between the rails in the middle of a track. */
  track(name: string, test: Test = {}): number {
    return this.#volt(test, ['A', middle(name)], ['B', middle(name)])
  }

  /** Volts where the wires leave the station. */
  output(test: Test = {}): number {
    return this.#volt(test, ['A', busAt(0)], ['B', busAt(0)])
  }

  /** Amperes out of the station. */
  amp(test: Test = {}): number {
    return ((this.#wrong.volt ?? VOLT) - this.output(test)) / SOURCE_OHM
  }

  /** Volts along a joiner. */
  drop(joint: string, wire: Wire, test: Test): number {
    const [a, b] = JOINTS[joint]!
    return this.#volt(test, [wire, a], [wire, b])
  }

  /** Amperes in a wire of a feeder. */
  feeder(name: string, wire: Wire, test: Test): number {
    const end = this.#wrong.swapped?.includes(name) ? (wire === 'A' ? 'B' : 'A') : wire
    const volt = this.#volt(test, [wire, busAt(FEEDERS[name]!)], [end, middle(name)])
    return volt / (this.#wrong.feeder?.[name]?.[wire] ?? FEEDER_OHM)
  }

  #volt(test: Test, a: readonly [Wire, string], b: readonly [Wire, string]): number {
    const all = this.#solved(test)
    return Math.abs(all.get(node(...a))! - all.get(node(...b))!)
  }

  #solved(test: Test): ReadonlyMap<string, number> {
    const key = JSON.stringify(test)
    const had = this.#known.get(key)
    if (had) return had
    const made = this.#run(this.#netlist(test))
    this.#known.set(key, made)
    return made
  }

  #netlist({ load, bench = false }: Test): string {
    const { feeder = {}, joiner = {}, swapped = [], touching = {}, volt = VOLT } = this.#wrong
    const lines: string[] = []
    const r = (a: string, b: string, ohm: number) => lines.push(`R${lines.length} ${a} ${b} ${ohm}`)
    for (const wire of ['A', 'B'] as const) {
      for (const [name, [metres, from, to]] of Object.entries(TRACKS)) {
        r(node(wire, from), node(wire, middle(name)), (metres / 2) * RAIL_OHM_PER_M)
        r(node(wire, middle(name)), node(wire, to), (metres / 2) * RAIL_OHM_PER_M)
      }
      for (const [name, [a, b]] of Object.entries(JOINTS))
        r(node(wire, a), node(wire, b), joiner[name]?.[wire] ?? JOINER_OHM)
      for (let i = 1; i < BUS.length; i++)
        r(node(wire, busAt(BUS[i - 1]!)), node(wire, busAt(BUS[i]!)), (BUS[i]! - BUS[i - 1]!) * BUS_OHM_PER_M)
      for (const [name, at] of Object.entries(FEEDERS)) {
        const end = swapped.includes(name) ? (wire === 'A' ? 'B' : 'A') : wire
        r(node(wire, busAt(at)), node(end, middle(name)), feeder[name]?.[wire] ?? FEEDER_OHM)
      }
    }
    for (const [track, ohm] of Object.entries(touching))
      r(node('A', middle(track)), node('B', middle(track)), ohm!)
    if (load) {
      const at = load.at === 'station' ? busAt(0) : load.at in TRACKS ? middle(load.at) : JOINTS[load.at]![1]
      r(node('A', at), node('B', at), load.ohm)
    }
    lines.push(
      `V1 source 0 ${bench ? 5 : volt}`,
      `Rs source ${node('A', busAt(0))} ${bench ? 0.01 : SOURCE_OHM}`,
    )
    lines.push(`Rg ${node('B', busAt(0))} 0 1e-6`)
    return `* the shelf\n${lines.join('\n')}\n.control\nset numdgt=9\nop\nprint all\n.endc\n.end\n`
  }

  #run(netlist: string): ReadonlyMap<string, number> {
    const file = join(this.#folder, 'bench.cir')
    writeFileSync(file, netlist)
    const { stdout } = spawnSync(NGSPICE, ['-b', file], { encoding: 'utf8' })
    const found = new Map(
      [...stdout.matchAll(/^(\S+) = (\S+)$/gm)].map(([, name, value]) => [name!, Number(value)]),
    )
    if (!found.has('source')) throw new Error(`ngspice: ${stdout}`)
    return found
  }

  /** What a supply of 5 V and 0.5 A gives at a track, when it feeds the bus. */
  fed(track: string): number {
    const test = { bench: true }
    const amp = (5 - this.output(test)) / 0.01
    return this.track(track, test) * Math.min(1, 0.5 / Math.max(amp, 1e-9))
  }

  /** Whether the station trips as soon as it is switched on. */
  get tripsAtOnce(): boolean {
    return Math.min(this.amp(), LIMIT_AMP) > 1.5
  }
}
