import { describe, expect, it } from 'vitest'
import { wireConductor } from '../conductors/conductor.js'
import { neighbourShares } from './conductors.js'
import { ampacity, steadyC } from './steady.js'

/** IEC 60364-5-52, two loaded conductors of copper in PVC in free air (reference method E), 30 °C; from memory. */
const FREE_AIR: [string, number][] = [
  ['1.5 mm2', 22],
  ['2.5 mm2', 30],
  ['4 mm2', 40],
  ['6 mm2', 51],
]
/** Insulation and sheath of such a cable, mm; from memory. */
const SHEATHED_MM = 1.5
/** The same standard's Table B.52.17: so much of it with three circuits in one bundle; from memory. */
const THREE_CIRCUITS = 0.7

describe('the heat balance of a wire', () => {
  const of = (wire: string, laying: 'alone' | 'bundled') => {
    const c = wireConductor(wire, 'solid')
    return ampacity(c, c.ohmPerM20.high, 70, { airC: 30, laying, insulationMm: SHEATHED_MM })
  }

  it('gives the currents of the table where it reaches, within 12 % and never above', () => {
    for (const [wire, amp] of FREE_AIR) {
      expect(of(wire, 'alone') / amp, wire).toBeGreaterThan(0.88)
      expect(of(wire, 'alone') / amp, wire).toBeLessThan(1)
    }
  })

  it('gives the table’s share in a bundle of three pairs, within 0.12 and never above', () => {
    for (const [wire] of FREE_AIR) {
      const share = of(wire, 'bundled') / of(wire, 'alone')
      expect(share, wire).toBeLessThan(THREE_CIRCUITS)
      expect(share, wire).toBeGreaterThan(THREE_CIRCUITS - 0.12)
    }
  })

  it('has the temperature at which the current is the one it carries', () => {
    for (const wire of ['0.14 mm2', '0.5 mm2', '2.5 mm2', '30 AWG']) {
      const c = wireConductor(wire)
      const at = { airC: 25, laying: 'alone' as const, insulationMm: 0.4 }
      const amp = ampacity(c, c.ohmPerM20.high, 65, at)
      expect(steadyC(c, c.ohmPerM20.high, amp, at)).toBeCloseTo(65, 3)
      expect(steadyC(c, c.ohmPerM20.high, 0, at)).toBeCloseTo(25, 6)
    }
  })

  it('finds no temperature at all for six amperes in 30 AWG', () => {
    const c = wireConductor('30 AWG')
    // 0.35 Ohm/m · 36 A² are 13 W on a metre of a wire of one millimetre.
    const at = { airC: 30, laying: 'alone' as const, insulationMm: 0.3 }
    expect(steadyC(c, c.ohmPerM20.high, 6, at)).toBeGreaterThan(150)
  })
})

describe('shares between neighbours', () => {
  it('are those of a current divider', () => {
    // Source – 1 Ohm – u – 2 Ohm – v – 3 Ohm – source: an ampere drawn at v comes over u by 3 of 6 parts.
    const u = (1 * 5) / 6
    const v = (3 * 3) / 6
    const between = (2 * 4) / 6
    const [atV, atU] = neighbourShares(v, u, between, 2)
    expect(atV).toBeCloseTo(0.5, 12)
    expect(atU).toBeCloseTo(1 / 6, 12)
  })
})
