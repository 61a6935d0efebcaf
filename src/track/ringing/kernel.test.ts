import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import type { RingCircuit } from './circuit.js'
import { Workplace } from './kernel.js'
import { ringCircuit, withTerminator } from './report.js'
import { EdgeRecord, EdgeRun, stepsOf } from './simulate.js'

/** Every district of an example as it is, with a bridge, with ends, and with a node of many branches. */
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
      { ...c, decoders: [decoder, { ...decoder, name: 'two', reservoirFarad: 1e-4 }] },
      withTerminator(c, { ohm: 100, farad: 1e-8 }),
      { ...c, branches: [...c.branches, ...star] },
    ]
  })
}

describe('steps in WebAssembly', () => {
  it.each(['exhibition', 'flawed', 'shelf'])(
    'are those of plain arithmetic to the last bit: %s',
    (example) => {
      for (const c of circuits(example)) {
        const { dt, steps } = stepsOf(c, 3)
        const quick = new EdgeRun(c, dt, new Workplace())
        const plain = new EdgeRun(c, dt, new Workplace(undefined, 'plain'))
        expect(quick.step).toBe(plain.step)
        for (const at of [0.4, 0.7, 1]) {
          quick.advanceTo(Math.floor(at * steps))
          plain.advanceTo(Math.floor(at * steps))
          for (let node = 0; node < c.farad.length; node++) expect(quick.volt(node)).toBe(plain.volt(node))
        }
        expect(quick.peaks()).toEqual(plain.peaks())
        expect(Math.max(...quick.peaks())).toBeGreaterThan(c.volt)
      }
    },
  )

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
