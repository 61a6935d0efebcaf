import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import { runToEnd } from '../progress.js'
import type { RingCircuit } from './circuit.js'
import { ringCircuit, terminatorSteps } from './report.js'

function circuits(): [string, RingCircuit][] {
  return ['exhibition', 'shelf', 'automation', 'flawed'].flatMap((name) => {
    const file = new URL(`../../../examples/${name}/halfbit.yaml`, import.meta.url)
    const { design } = loadDesign(readFileSync(file, 'utf8'))
    const sources = sourcesFromPower(design.power!, design.signal)
    const { plan, net } = modelTrack({ track: design.track!, rollingStock: design.rollingStock, sources })
    return net.districts.flatMap((district, d): [string, RingCircuit][] => {
      const circuit = ringCircuit(plan, net, d)
      return circuit ? [[`${name}, ${district}`, circuit]] : []
    })
  })
}

it.each(circuits())(
  'finds the same end of the bus when edges that cannot win are left early: %s',
  (_, circuit) => {
    // Another driver's edge and other losses too: what wins changes with them.
    for (const changed of [
      circuit,
      { ...circuit, edgeUs: 0.05 },
      { ...circuit, sourceOhm: 3, edgeUs: 0.4 },
    ]) {
      const every = runToEnd(terminatorSteps(changed, Number.POSITIVE_INFINITY))
      expect(runToEnd(terminatorSteps(changed))).toEqual(every)
    }
  },
)
