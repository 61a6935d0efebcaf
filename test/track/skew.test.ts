/**
 * What wheels carry while two drivers do not switch at one instant, against ngspice: both drivers as square waves, the wires of the
 * design written out by hand from copper's resistivity and the inductance of two round wires (transmission-line tables).
 */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { railroadOf } from '../../src/proof/index.js'
import { railConductor } from '../../src/track/index.js'
import { changed, type Part, two } from './station.js'

const NGSPICE = '/usr/bin/ngspice'
const missing = !existsSync(NGSPICE)
if (missing) console.warn('SKIPPED: ngspice is not installed (apt-get install ngspice); skew is not checked.')

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'halfbit-skew-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Bus and rails from a driver to the gap, with a feeder of 0.2 m between them. */
interface Side {
  busM: number
  railM: number
}

interface Case {
  sides: [Side, Side]
  volt: number
  /** Delays of either driver, us. */
  delays: [number, number][]
}

/** Both switches of a driver, hot and cold alike in these designs. */
const DRIVER_OHM = 0.2
const SUPPLY_OHM = 0.02
const RAIL_OHM = railConductor(100, 'nickel silver', 20).ohmPerM.low

function designOf({ sides, volt, delays }: Case): Part {
  const names = ['west', 'east'] as const
  const each = (what: (at: 0 | 1) => Part): Part =>
    Object.fromEntries(names.map((n, i) => [n, what(i as 0 | 1)]))
  return two(
    {
      temperature: '20 C',
      bus: each((i) => ({ length: `${sides[i]!.busM} m` })),
      sections: {
        w: { length: '4 m', feeders: { bus: 'west', place: `${4 - sides[0].railM} m` } },
        e: { length: '4 m', feeders: { bus: 'east', place: `${sides[1].railM} m` } },
      },
    },
    {
      power: {
        supplies: each(() => ({ voltage: `${volt} V`, tolerance: '0 %', resistance: `${SUPPLY_OHM} Ohm` })),
        drivers: each((i) => ({
          part: 'custom',
          figures: {
            supplyMin: '5 V',
            supplyMax: '30 V',
            continuous: '2.5 A',
            peak: '6 A',
            highOhm: `${DRIVER_OHM / 2} Ohm`,
            highOhmMax: `${DRIVER_OHM / 2} Ohm`,
            lowOhm: `${DRIVER_OHM / 2} Ohm`,
            lowOhmMax: `${DRIVER_OHM / 2} Ohm`,
            ohmPerKelvin: '0 %',
            risingDelayMin: `${delays[i]![0]} us`,
            risingDelayMax: `${delays[i]![1]} us`,
            fallingDelayMin: `${delays[i]![0]} us`,
            fallingDelayMax: `${delays[i]![1]} us`,
          },
        })),
      },
    },
  )
}

/** Least inductance and resistance of a side: 30 % less than the tables, wires at their least. */
function sideOf({ busM, railM }: Side): { henry: number; ohm: number } {
  const mm = Math.sqrt((4 * 2.5) / Math.PI)
  // A twisted pair of 2.5 mm² with 0.6 mm of insulation: µ0/π·acosh(D/d), 3 % for the twist.
  const bus = 4e-7 * Math.acosh((mm + 1.2) / mm) * 1.03
  const henry = 0.7 * (busM * bus + 0.2 * 0.8e-6 + railM * 1.3e-6)
  // Copper 17.2 nOhm·m; the table of rails is checked elsewhere.
  const copper = 2 * 17.2e-9 * (busM / 2.5e-6 + 0.2 / 1.5e-6)
  return { henry, ohm: DRIVER_OHM + SUPPLY_OHM + copper + 2 * RAIL_OHM * railM }
}

/**
 * Peak and mean size of the current through the wheels over one period, A, in the steady state: one driver rises `us` after the other
 * and falls as much before it.
 */
function ngspice({ sides, volt }: Case, us: number): { peakAmp: number; meanAmp: number } {
  const square = (lateUs: number) =>
    `PULSE(${-volt} ${volt} ${5 + lateUs}u 20n 20n ${54.98 - 2 * lateUs}u 110u)`
  const [a, b] = sides.map(sideOf)
  const path = join(folder, 'skew.cir')
  writeFileSync(
    path,
    `* two drivers across a gap
V1 a 0 ${square(0)}
R1 a a1 ${a!.ohm}
L1 a1 w ${a!.henry} IC=0
Rw w w1 0.02
L2 w1 b1 ${b!.henry} IC=0
R2 b1 b ${b!.ohm}
V2 b 0 ${square(us)}
Bi m 0 V=abs(i(V1))
.tran 5n 555u 0 5n UIC
.control
run
meas tran peak MAX v(m) from=442u to=552u
meas tran mean AVG v(m) from=442u to=552u
quit
.endc
.end
`,
  )
  const { stdout } = spawnSync(NGSPICE, ['-b', path], { encoding: 'utf8', maxBuffer: 1 << 26 })
  const read = (name: string) => Number(new RegExp(`^${name}\\s*=\\s*(\\S+)`, 'm').exec(stdout)?.[1])
  return { peakAmp: read('peak'), meanAmp: read('mean') }
}

const CASES: Record<string, Case> = {
  'two metres of bus either side': {
    sides: [
      { busM: 2, railM: 1 },
      { busM: 2, railM: 1 },
    ],
    volt: 15,
    delays: [
      [0.4, 0.8],
      [0.4, 0.8],
    ],
  },
  'next to no wire, and edges 3 us apart': {
    sides: [
      { busM: 0.3, railM: 0.1 },
      { busM: 0.5, railM: 0.1 },
    ],
    volt: 18,
    delays: [
      [1, 2],
      [3, 4],
    ],
  },
  'long wires, and edges 10 us apart': {
    sides: [
      { busM: 12, railM: 2 },
      { busM: 8, railM: 0.5 },
    ],
    volt: 12,
    delays: [
      [0, 0.5],
      [2, 10],
    ],
  },
}

const skewOf = (c: Case, change: Part = {}) => {
  const loaded = loadDesign(JSON.stringify(changed(designOf(c), change)))
  return railroadOf(loaded)!.report.gaps[0]!
}

describe('drivers that do not switch at one instant', () => {
  it.skipIf(missing).each(Object.entries(CASES))('drive what ngspice says: %s', (_, c) => {
    const { skew } = skewOf(c)
    const late = Math.max(c.delays[1]![1] - c.delays[0]![0], c.delays[0]![1] - c.delays[1]![0])
    expect(skew!.us!.high).toBeCloseTo(late, 6)
    const found = ngspice(c, late)
    expect(found.peakAmp).toBeGreaterThan(1)
    expect(Math.abs(skew!.peakAmp / found.peakAmp - 1)).toBeLessThan(0.03)
    expect(Math.abs(skew!.meanAmp / found.meanAmp - 1)).toBeLessThan(0.03)
  })

  it('are met, undecided and broken as the peak that is left of a driver decides', () => {
    const first = CASES['two metres of bus either side']!
    const { peakAmp } = skewOf(first).skew!
    // 0.3 A of trains and what both supplies differ by are drawn beside it.
    const peak = (amp: number) =>
      skewOf(first, {
        power: {
          drivers: {
            west: { figures: { peak: `${amp} A` } },
            east: { figures: { peak: `${amp} A` } },
          },
        },
      }).verdict
    expect(peak(peakAmp + 1)).toBe('met')
    expect(peak(peakAmp + 0.1)).toBe('undecided')
    const apart = {
      ...first,
      delays: [
        [0, 0.1],
        [4, 4.1],
      ] as [number, number][],
    }
    expect(skewOf(apart).verdict).toBe('broken')
    expect(
      skewOf({
        ...first,
        delays: [
          [0.5, 0.5],
          [0.5, 0.5],
        ],
      }).skew,
    ).toBeUndefined()
  })
})
