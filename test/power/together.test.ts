/** Districts that charge from one supply at the same time, against ngspice transients of the same circuit. All invented. */
import { execFileSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { fuseWear, inrush, waveOf } from '../../src/power/index.js'

const NGSPICE = '/usr/bin/ngspice'

/** Currents at some moments, A, by the name of their measurement. */
function measured(netlist: string): Record<string, number> {
  const dir = mkdtempSync(join(tmpdir(), 'together-'))
  try {
    const file = join(dir, 'c.cir')
    writeFileSync(file, netlist)
    const out = execFileSync(NGSPICE, ['-b', file], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] })
    return Object.fromEntries(
      [...out.matchAll(/^(\w+)\s+=\s+([-+.\de]+)/gm)].map(([, name, value]) => [name, Number(value)]),
    )
  } finally {
    rmSync(dir, { recursive: true, force: true })
  }
}

const [OPEN, SUPPLY_OHM, OWN_OHM, FAR_OHM] = [15, 0.05, 0.3, 0.6]
const AT_US = [20, 200, 2000, 8000]

describe.skipIf(!existsSync(NGSPICE))('two districts on one supply (referee ngspice)', () => {
  it.each([
    ['whose voltage gives way', Number.POSITIVE_INFINITY, 0],
    ['that holds its current at 5 A', 5, 0],
    ['that does so before output capacitors of 220 uF', 5, 220e-6],
  ])('a supply %s', (_, limitAmp, outputFarad) => {
    const found = inrush({
      volt: OPEN + 1.4,
      sourceOhm: SUPPLY_OHM + OWN_OHM,
      limitAmp,
      outputFarad,
      groups: [{ capacitanceFarad: 470e-6, resistanceOhm: 10, count: 4 }],
      besideAmp: 0,
      together: {
        supplyOhm: SUPPLY_OHM,
        besideAmp: 0,
        sameDriver: [],
        others: [
          {
            volt: OPEN + 1.4,
            ohm: FAR_OHM,
            groups: [{ capacitanceFarad: 47e-6, resistanceOhm: 0.5, count: 9 }],
          },
        ],
      },
    })
    // A source that holds its current: whichever is less, the current it would give or its limit.
    const source = Number.isFinite(limitAmp)
      ? `B1 0 bus I=min(${limitAmp}, (${OPEN}-v(bus))/${SUPPLY_OHM})`
      : `V1 top 0 ${OPEN}\nRs top bus ${SUPPLY_OHM}`
    const spice = measured(`two districts
${source}
${outputFarad > 0 ? `Cout bus 0 ${outputFarad} IC=${OPEN}` : ''}
R1 bus one ${OWN_OHM}
Rc1 one c1 2.5
C1 c1 0 1880u IC=0
R2 bus two ${FAR_OHM}
Rc2 two c2 ${0.5 / 9}
C2 c2 0 423u IC=0
.tran 1u 10m UIC
${AT_US.map(
  (us) => `.meas tran own${us} FIND par('(v(bus)-v(one))/${OWN_OHM}') AT=${us}u
.meas tran far${us} FIND par('(v(bus)-v(two))/${FAR_OHM}') AT=${us}u`,
).join('\n')}
.end
`)
    const [own, all] = [waveOf(found.points), waveOf(found.supply!)]
    for (const us of AT_US) {
      const [ownAmp, farAmp] = [spice[`own${us}`]!, spice[`far${us}`]!]
      expect(Math.abs(own(us) - ownAmp), `own at ${us} us: ${own(us)}, ${ownAmp}`).toBeLessThan(
        0.01 * ownAmp + 0.002,
      )
      expect(Math.abs(all(us) - ownAmp - farAmp), `all at ${us} us`).toBeLessThan(
        0.01 * (ownAmp + farAmp) + 0.004,
      )
    }
  })
})

describe('the wear of a fuse', () => {
  it('melts at the gates of IEC 60127-2 (time-lag glass, from memory), and by a stated I²t before them', () => {
    const steady = (amp: number, s: number) => [
      { us: 0, amp },
      { us: s * 1e6, amp },
    ]
    const fuse = { fuse: 2, fuseKind: 'glass' } as const
    // Ten times the rating: 20 ms at the soonest, 300 ms at the latest.
    expect(fuseWear(fuse, steady(20, 0.02), 0)).toBeCloseTo(1, 9)
    expect(fuseWear(fuse, steady(20, 0.3), 1)).toBeCloseTo(1, 9)
    // Twice that current with no time to cool: a quarter of the time.
    expect(fuseWear(fuse, steady(40, 0.005), 0)).toBeCloseTo(1, 9)
    // One and a half times the rating for an hour at the soonest, never at the latest.
    expect(fuseWear(fuse, steady(2.9, 3600), 0)).toBe(0)
    expect(fuseWear(fuse, steady(3.01, 3600), 1)).toBe(0)
    expect(fuseWear({ ...fuse, fuseI2t: 8 }, steady(4, 0.25), 0.5)).toBeCloseTo(0.5, 9)
  })
})
