import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { RingCircuit } from './circuit.js'
import { parallelWires } from './line.js'
import { measureEdge } from './measure.js'
import { terminatorWatt, withTerminator } from './report.js'
import { simulateEdge } from './simulate.js'

const published = JSON.parse(
  readFileSync(new URL('../../../test/published/line-constants.json', import.meta.url), 'utf8'),
)

describe('line', () => {
  it('has the constants of the reference formulas', () => {
    for (const r of published.rows) {
      const line = parallelWires(r.diameterMm, r.spacingMm, r.permittivity)
      expect(Math.abs((line.henryPerM * 1e6) / r.uHPerM - 1)).toBeLessThan(0.02)
      expect(Math.abs((line.faradPerM * 1e12) / r.pFPerM - 1)).toBeLessThan(0.02)
      expect(Math.abs(line.impedanceOhm / r.ohm - 1)).toBeLessThan(0.03)
    }
  })

  it('gives the heat of an end-of-bus resistor: 4·C·V²·f', () => {
    for (const r of published.terminator)
      expect(Math.abs(terminatorWatt(r.farad, r.volt, r.bitHz) / r.watt - 1)).toBeLessThan(0.03)
  })
})

/** A plain line of `metres`, 0.5 µH/m and 50 pF/m: 100 Ohm, 5 ns/m. */
function line(metres: number, edgeUs: number): RingCircuit {
  const pieces = metres * 5
  const c: RingCircuit = {
    district: 'x',
    volt: 15,
    sourceOhm: 0.05,
    edgeUs,
    edge: { us: edgeUs, from: 'given', because: 'given in the test' },
    highVolt: 15,
    farad: [5e-12],
    siemens: [0],
    loadAmp: 0,
    names: ['driver'],
    branches: [],
    decoders: [],
    terminators: [],
    probes: [pieces],
    farNode: pieces,
    farMm: metres * 1000,
    ends: [],
  }
  for (let k = 1; k <= pieces; k++) {
    c.farad.push(k === pieces ? 5e-12 : 10e-12)
    c.siemens.push(0)
    c.names.push(`${k}`)
    c.branches.push({ from: k - 1, to: k, henry: 0.1e-6, ohm: 1e-4 })
  }
  return c
}

function far(c: RingCircuit, untilUs: number) {
  const w = simulateEdge(c, untilUs)
  return measureEdge(w.timeUs, w.volt.get(c.farNode)!)
}

describe('edge along a line', () => {
  it('doubles at the open end when the edge is shorter than there and back', () => {
    // Reflection coefficient +1 at an open end: a step of 2·V from −V peaks at 3·V, transmission-line theory.
    const { peakVolt } = far(line(30, 0.1), 3)
    expect(peakVolt).toBeGreaterThan(44)
    expect(peakVolt).toBeLessThan(48)
  })

  it('hardly rings when the edge is long against there and back', () => {
    expect(far(line(2, 1), 6).overshootVolt).toBeLessThan(1)
  })

  it('does not ring with the line’s own impedance at its end', () => {
    const open = far(line(30, 0.1), 3)
    const ended = far(withTerminator(line(30, 0.1), { ohm: 100, farad: 100e-9 }), 3)
    expect(open.overshootVolt).toBeGreaterThan(10)
    expect(ended.overshootVolt).toBeLessThan(1.5)
    expect(ended.recrossings).toBe(0)
  })
})

describe('measuring an edge', () => {
  const at = (f: (us: number) => number) => {
    const t = Array.from({ length: 2001 }, (_, i) => i * 0.005)
    return measureEdge(t, t.map(f))
  }

  it('reads slope, peak and where it settles', () => {
    const m = at((us) => Math.min(15, -15 + 10 * Math.max(0, us - 1)))
    expect(m.slopeVoltPerUs).toBeCloseTo(10, 3)
    expect(m.overshootVolt).toBeCloseTo(0, 9)
    expect(m.finalVolt).toBeCloseTo(15, 9)
    expect(m.distortionVolt).toBe(0)
    expect(m.recrossings).toBe(0)
  })

  it('counts a way back through the band, and not one above it', () => {
    const dip = (low: number) => at((us) => (us < 1 ? -15 : us < 2 ? 15 : us < 2.5 ? low : 15))
    expect(dip(-1)).toMatchObject({ distortionVolt: 16, recrossings: 1 })
    expect(dip(3)).toMatchObject({ distortionVolt: 0, recrossings: 0 })
  })

  it('has no slope for an edge that never comes', () => {
    expect(at(() => -15).slopeVoltPerUs).toBe(0)
  })
})
