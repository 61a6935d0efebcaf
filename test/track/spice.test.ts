/** The SPICE engine behind the command line, if its optional package is there. */
import { existsSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { runSpice } from '../../src/cli/spice.js'

const missing = !existsSync('node_modules/eecircuit-engine')
if (missing) console.warn('SKIPPED: eecircuit-engine is not installed; its adapter is not tested.')

describe.skipIf(missing)('SPICE engine', () => {
  it('charges a capacitor as the exponential says', async () => {
    // v(t) = 10 V · (1 − e^(−t/RC)), R = 1 kOhm, C = 1 nF: closed form.
    const netlist = '* rc\nV1 a 0 PWL(0 0 1n 10)\nR1 a b 1k\nC1 b 0 1n\n.save v(b)\n.tran 5n 5u 0 5n\n.end\n'
    const { vectors } = await runSpice(netlist)
    const [time, volt] = [vectors.get('time')!, vectors.get('v(b)')!]
    expect(time.length).toBeGreaterThan(500)
    for (let i = 0; i < time.length; i += 50) {
      if (time[i]! < 20e-9) continue
      const exact = 10 * (1 - Math.exp(-(time[i]! - 0.5e-9) / 1e-6))
      expect(Math.abs(volt[i]! - exact)).toBeLessThan(0.02)
    }
  }, 30_000)

  it('says so when a netlist is no netlist', async () => {
    await expect(
      runSpice('* nothing\nX1 a b nowhere\n.tran 1n 1u\n.end\n', { limitMs: 20_000 }),
    ).rejects.toThrow(/SPICE engine/)
  }, 30_000)
})
