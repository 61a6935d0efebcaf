import { expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import { EDGE_AT_US } from './plain-ladder.js'
import { peakWindowUs, ringCircuit } from './report.js'
import { peaksOfEdge } from './simulate.js'

/** Buses beyond a kilometre, invented: the wire, the way it branches and the driver differ. */
const BUSES: [string, string, string][] = [
  ['plain', 'DRV8871', 'bus: { wire: 2.5 mm2, length: 2500 m }'],
  ['thick and quick', 'DRV8874', 'bus: { wire: 6 mm2, length: 3000 m }'],
  [
    'in branches',
    'DRV8874',
    `bus: { wire: 4 mm2, length: 1400 m }
    left: { from: bus, at: 700 m, wire: 4 mm2, length: 310 m }
    right: { from: bus, at: 1400 m, wire: 1.5 mm2, length: 130 m }
    other: { from: bus, at: 1400 m, wire: 4 mm2, length: 520 m }`,
  ],
]

it.each(BUSES)('has its highest peak before the window of a long bus ends: %s', (_, part, bus) => {
  const { design } = loadDesign(`halfbit: 2
name: Long bus (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { outputs: { main: { pin: PB1 } } }
power:
  supplies: { s: { voltage: 15 V, rating: 6 A, limit: none } }
  drivers: { d: { part: ${part} } }
  districts: { main: { trip: { current: 4 A, by: breaker } } }
track:
  bus:
    ${bus}
  sections:
    line: { count: 40, length: 1 m, from: a, to: b, feeders: { bus: bus, at: 0 m, step: 2 m, every: 2 } }
`)
  const sources = sourcesFromPower(design.power!, design.signal)
  const { plan, net } = modelTrack({ track: design.track!, rollingStock: design.rollingStock, sources })
  const circuit = ringCircuit(plan, net, 0)!
  const short = peakWindowUs(circuit)
  const long = EDGE_AT_US + circuit.edgeUs + 0.1 * (circuit.farMm / 1000)
  expect(short).toBeLessThan(0.8 * long)
  const [found, whole] = [peaksOfEdge(circuit, short), peaksOfEdge(circuit, long)]
  whole.forEach((volt, node) => {
    expect(found[node]! / volt, circuit.names[node]!).toBeGreaterThan(0.999)
  })
})
