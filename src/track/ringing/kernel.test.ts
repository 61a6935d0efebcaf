import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { random } from '../../../test/track/random.js'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import type { RingCircuit } from './circuit.js'
import { CompiledLadder, ladderOf } from './kernel.js'
import { type Ladder, PlainLadder } from './plain-ladder.js'
import { ringCircuit, withTerminator } from './report.js'
import { EdgeRecord, stepsOf } from './simulate.js'

/** Every district of an example as it is, with bridges, with ends, and with a node of many branches. */
function circuits(example: string): RingCircuit[] {
  const { design } = loadDesign(
    readFileSync(new URL(`../../../examples/${example}/halfbit.yaml`, import.meta.url), 'utf8'),
  )
  const sources = sourcesFromPower(design.power!, design.signal)
  const { plan, net } = modelTrack({ track: design.track!, rollingStock: design.rollingStock, sources })
  return net.districts.flatMap((_, d) => {
    const c = ringCircuit(plan, net, d)
    if (!c) return []
    const decoder = { node: c.farNode, name: 'one', amp: 0.1, reservoirFarad: 47e-6 }
    const star = [1, 2, 3, 4].map((k) => ({ ...c.branches[0]!, from: k, to: c.farNode }))
    return [
      c,
      { ...c, decoders: [decoder, { ...decoder, name: 'two', node: 3, reservoirFarad: 1e-8 }] },
      withTerminator(c, { ohm: 100, farad: 1e-8 }),
      { ...c, branches: [...c.branches, ...star] },
    ]
  })
}

/** Any ladder: nodes in any order, loops, stretches without skin effect, bridges and ends anywhere. */
function anyCircuit(chance: () => number): RingCircuit {
  const n = 2 + Math.floor(40 * chance())
  const among = (count: number) => Math.floor(count * chance())
  const branches: RingCircuit['branches'] = []
  const lay = (from: number, to: number) => {
    const loss = chance() < 0.7 ? { skin: { ohm: chance(), henry: 1e-7 * (0.1 + chance()) } } : {}
    branches.push({ from, to, henry: 1e-7 * (0.2 + chance()), ohm: 0.1 * chance(), ...loss })
  }
  const order = Array.from({ length: n }, (_, i) => i)
  if (chance() < 0.5) order.sort(() => chance() - 0.5)
  for (let i = 1; i < n; i++) {
    const before = order[chance() < 0.8 ? i - 1 : among(i)]!
    if (chance() < 0.8) lay(before, order[i]!)
    else lay(order[i]!, before)
  }
  for (let i = among(4); i > 0; i--) lay(among(n), (1 + among(n - 1)) % n)
  const places = order.slice(0, among(4))
  return {
    ...{ district: 'any', names: [], ends: [], farMm: 1, loadAmp: 0, probes: [0], farNode: n - 1 },
    edge: { us: 0.2, from: 'given', because: '' },
    volt: 15,
    highVolt: 16,
    sourceOhm: 0.05 + chance(),
    edgeUs: 0.1 + 0.3 * chance(),
    farad: order.map(() => 1e-10 * (0.2 + chance())),
    siemens: order.map(() => (chance() < 0.5 ? 0 : 1e-4 * chance())),
    branches: branches.filter((b) => b.from !== b.to),
    decoders: places.map((node) => ({
      node,
      name: '',
      amp: 0.2 * chance(),
      reservoirFarad: 1e-9 + 1e-7 * chance(),
    })),
    terminators: Array.from({ length: among(3) }, () => ({
      node: among(n),
      ohm: 20 + 99 * chance(),
      farad: 1e-9,
    })),
  }
}

function expectSame(quick: Ladder, plain: Ladder, nodes: number): void {
  expect(quick.step).toBe(plain.step)
  for (let node = 0; node < nodes; node++) expect(quick.volt(node)).toBe(plain.volt(node))
  expect(quick.peaks()).toEqual(plain.peaks())
}

function compare(c: RingCircuit, untilUs: number): Float64Array {
  const { dt, steps } = stepsOf(c, untilUs)
  const quick = ladderOf(c, dt)
  expect(quick).toBeInstanceOf(CompiledLadder)
  const plain = new PlainLadder(c, dt)
  for (const at of [0.4, 0.7, 1]) {
    quick.advanceTo(Math.floor(at * steps))
    plain.advanceTo(Math.floor(at * steps))
    expectSame(quick, plain, c.farad.length)
  }
  return plain.peaks()
}

describe('steps in WebAssembly', () => {
  it.each(['exhibition', 'flawed', 'shelf'])(
    'are those of plain arithmetic to the last bit: %s',
    (example) => {
      for (const c of circuits(example)) expect(Math.max(...compare(c, 3))).toBeGreaterThan(c.volt)
    },
  )

  it('are those of plain arithmetic on any ladder', () => {
    const chance = random(16)
    let higher = 0
    for (let i = 0; i < 200; i++) {
      const c = anyCircuit(chance)
      if (Math.max(...compare(c, 1.5)) > c.volt) higher++
    }
    expect(higher).toBeGreaterThan(100)
  })

  it('leave a node with several bridges to plain arithmetic', () => {
    const [c] = circuits('shelf')
    const decoder = { node: c!.farNode, name: 'one', amp: 0.1, reservoirFarad: 47e-6 }
    expect(ladderOf({ ...c!, decoders: [decoder, decoder] }, 1e-9)).toBeInstanceOf(PlainLadder)
  })

  it('go on where they were when another ladder had its turn', () => {
    const [one, other] = circuits('exhibition') as [RingCircuit, RingCircuit]
    const alone = new EdgeRecord(one, 4).finish()
    const first = new EdgeRecord(one, 4)
    const second = new EdgeRecord(other, 4)
    for (let step = 0; step < stepsOf(one, 4).steps; step += 3001) {
      first.advanceTo(step)
      second.advanceTo(step)
    }
    expect(first.finish()).toEqual(alone)
  })
})
