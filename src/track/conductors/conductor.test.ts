import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { InputError } from '../../units/index.js'
import { ALLOYS, IEC_MAX_MOHM_PER_M, RAIL_OUTLINES } from './conductor.data.js'
import {
  adiabaticRiseK,
  awgMilliohmPerM,
  railAreaMm2,
  railConductor,
  temperatureFactor,
  wireConductor,
} from './conductor.js'

function published(name: string) {
  return JSON.parse(readFileSync(new URL(`../../../test/published/${name}`, import.meta.url), 'utf8'))
}

/** Half a unit in the last of three or four printed digits. */
function printed(value: number): number {
  const digits = String(value).split('.')[1]?.length ?? 0
  return 0.51 * 10 ** -digits
}

describe('wire', () => {
  it('follows ASTM B258 and IEC 60028 for every gauge of the table', () => {
    const { rows } = published('astm-b258-awg.json')
    expect(rows).toHaveLength(21)
    for (const r of rows) {
      const wire = wireConductor(`${r.awg} AWG`)
      expect(Math.abs(wire.diameterMm - r.mm)).toBeLessThanOrEqual(printed(r.mm) + 5e-4)
      expect(wire.ohmPerM.low * 1000).toBeCloseTo(awgMilliohmPerM(r.awg), 9)
      expect(awgMilliohmPerM(r.awg) / r.mOhmPerM).toBeGreaterThan(0.993)
      expect(awgMilliohmPerM(r.awg) / r.mOhmPerM).toBeLessThan(1.007)
    }
  })

  it('keeps to the limits of IEC 60228 as its worst case', () => {
    const { rows } = published('iec-60228-max-resistance.json')
    expect(rows).toHaveLength(Object.keys(IEC_MAX_MOHM_PER_M).length)
    for (const r of rows) {
      for (const kind of ['solid', 'flexible', 'tinned'] as const) {
        if (r[kind] === null) continue
        const wire = wireConductor(`${r.mm2} mm2`, kind)
        expect(wire.ohmPerM.high * 1000).toBeCloseTo(r[kind], 6)
        expect(wire.ohmPerM.low).toBeLessThanOrEqual(wire.ohmPerM.high)
      }
    }
  })

  it('warms: +7.9 % at 40 °C, +15.7 % at 60 °C (derived from 0.00393 /K)', () => {
    expect(temperatureFactor(0.00393, 40)).toBeCloseTo(1.079, 3)
    expect(temperatureFactor(0.00393, 60)).toBeCloseTo(1.157, 3)
    expect(wireConductor('14 AWG', 'solid', 60).ohmPerM.low).toBeCloseTo(
      1.1572 * wireConductor('14 AWG', 'solid', 20).ohmPerM.low,
      6,
    )
  })

  it.each(['', 'AWG', '99 AWG', '0 mm2', '1e9 mm2', '14.5 AWG', '1.5'])('refuses "%s"', (text) => {
    expect(() => wireConductor(text)).toThrow(InputError)
  })
})

describe('rail', () => {
  it('has the outlines of RP-15.1 and the areas derived from them', () => {
    const { rows, areas, resistance } = published('nmra-rp-15-1-rail.json')
    expect(rows).toHaveLength(Object.keys(RAIL_OUTLINES).length)
    for (const { code, h: _web, ...outline } of rows) expect(RAIL_OUTLINES[code]).toEqual(outline)
    for (const a of areas) {
      const got = railAreaMm2(a.code)
      expect(Math.abs(got.usual / a.usual - 1)).toBeLessThan(0.015)
      if (a.low === undefined) continue
      expect(Math.abs(got.low / a.low - 1)).toBeLessThan(0.03)
      expect(Math.abs(got.high / a.high - 1)).toBeLessThan(0.03)
    }
    for (const r of resistance) {
      const mOhm = (10 * r.resistivity) / railAreaMm2(r.code).usual
      expect(Math.abs(mOhm / r.mOhmPerM - 1)).toBeLessThan(0.02)
    }
  })

  it('carries nickel silver as a range from the softest to the hardest alloy', () => {
    const { alloys } = published('nmra-rp-15-1-rail.json')
    const by = Object.fromEntries(
      alloys.map((a: { name: string; resistivity: number }) => [a.name, a.resistivity]),
    )
    expect(ALLOYS['nickel silver'].resistivity).toEqual({
      low: by['C74500'],
      usual: by['C73100'],
      high: by['C75200'],
    })
    expect(ALLOYS.brass.resistivity.usual).toBe(by['C26000'])
    const r = railConductor(55, 'nickel silver').ohmPerM
    expect(r.low).toBeLessThan(r.usual)
    expect(r.usual).toBeLessThan(r.high)
  })

  it('names the codes there are', () => {
    expect(() => railConductor(101, 'brass')).toThrow(/unknown rail code 101; expected one of 40, 55/)
  })
})

describe('heat', () => {
  it('agrees with the copper short-circuit constant of 70 °C to 160 °C insulation', () => {
    // I²t = k²S² with k = 115 A·s½/mm² for copper in PVC, 70 to 160 °C: IEC 60364-4-43 Table 43A, from memory.
    const wire = wireConductor('1.5 mm2', 'solid', 70)
    const exact = { ...wire, ohmPerM: { ...wire.ohmPerM, high: wire.ohmPerM.low } }
    exact.temperaturePerK = 0.00393 / temperatureFactor(0.00393, 70)
    const rise = adiabaticRiseK(exact, 115 * 1.5, 1e6)
    expect(rise).toBeGreaterThan(86)
    expect(rise).toBeLessThan(94)
  })
})
