import { describe, expect, it } from 'vitest'
import { DistrictCircuit } from './circuit.js'
import { SenseFilter } from './sense-filter.js'

const electrics = { volt: 15, ohm: 0.5, limitAmp: Number.POSITIVE_INFINITY }

describe('a district', () => {
  it('obeys Ohm: a short of 1 Ohm behind 0.5 Ohm draws 10 A beside nothing else', () => {
    const c = new DistrictCircuit(electrics)
    c.set(0, { on: true })
    c.set(100, { shortOhm: 1 })
    expect(c.settledAmp).toBeCloseTo(10, 12)
    expect(c.settledVolt).toBeCloseTo(10, 12)
    // With 2 A of trains: the rails have (15 − 1)/(1 + 0.5) = 9.333 V.
    c.set(200, { loadAmp: 2 })
    expect(c.settledVolt).toBeCloseTo(28 / 3, 12)
    expect(c.settledAmp).toBeCloseTo(2 + 28 / 3, 12)
    c.set(300, { on: false })
    expect([c.settledAmp, c.settledVolt]).toEqual([0, 0])
  })

  it('gives no more than its limit', () => {
    const c = new DistrictCircuit({ ...electrics, limitAmp: 4 })
    c.set(0, { on: true, shortOhm: 0.1 })
    expect(c.ampAt(50)).toBe(4)
    expect(c.settledVolt).toBeCloseTo(0.4, 12)
  })

  it('charges its capacitors with all the charge they take, limited or not', () => {
    const charge = (limitAmp: number) => {
      const c = new DistrictCircuit({ ...electrics, limitAmp })
      c.capacitors.push({ farad: 1e-3, ohm: 0.5, volt: 0 })
      c.set(0, { on: true })
      let coulomb = 0
      for (let us = 0; us < 30e3; us++) coulomb += c.ampAt(us + 0.5) * 1e-6
      return { coulomb, peak: c.ampAt(0) }
    }
    // Q = C·U = 15 mC; the peak is 15 V over 1 Ohm.
    expect(charge(Number.POSITIVE_INFINITY).peak).toBeCloseTo(15, 12)
    expect(charge(Number.POSITIVE_INFINITY).coulomb).toBeCloseTo(0.015, 6)
    expect(charge(5).peak).toBe(5)
    expect(charge(5).coulomb).toBeCloseTo(0.015, 5)
  })
})

describe('the filter of a sense', () => {
  it('is the closed form of a step: 1 − exp(−t/T)', () => {
    const c = new DistrictCircuit(electrics)
    const f = new SenseFilter(c, 100)
    c.set(0, { on: true, shortOhm: 1 })
    for (const us of [0, 50, 100, 230, 1000]) expect(f.at(us)).toBeCloseTo(10 * (1 - Math.exp(-us / 100)), 10)
  })

  it('agrees with small steps of the differential equation while a capacitor charges', () => {
    for (const [farad, tauUs] of [
      [1e-4, 80],
      [1e-4, 100],
      [2e-3, 40],
    ] as const) {
      const c = new DistrictCircuit({ ...electrics, limitAmp: 9 })
      c.capacitors.push({ farad, ohm: 0.5, volt: 0 })
      const f = new SenseFilter(c, tauUs)
      c.set(0, { on: true, loadAmp: 0.4 })
      let y = 0
      const h = 0.05
      for (let us = 0; us < 600; us += h) y += ((c.ampAt(us + h / 2) - y) * h) / tauUs
      expect(f.at(600)).toBeCloseTo(y, 2)
    }
  })

  it('goes on from where it was when something changes', () => {
    const c = new DistrictCircuit(electrics)
    const f = new SenseFilter(c, 100)
    c.set(0, { on: true, shortOhm: 1 })
    f.advance(150)
    c.set(150, { shortOhm: Number.POSITIVE_INFINITY })
    expect(f.at(250)).toBeCloseTo(10 * (1 - Math.exp(-1.5)) * Math.exp(-1), 10)
  })
})
