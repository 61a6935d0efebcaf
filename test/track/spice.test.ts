/** The SPICE engine behind the command line, if its optional package is there. */
import { existsSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { runSpice } from '../../src/cli/spice.js'
import { confirmRingingAt, modelTrack, ringingAt, spiceThrough } from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const missing = !existsSync('node_modules/eecircuit-engine')
if (missing) console.warn('SKIPPED: eecircuit-engine is not installed; its adapter is not tested.')

describe.skipIf(missing)('SPICE engine', () => {
  it('charges a capacitor as the exponential says', async () => {
    // v(t) = 10 V · (1 − e^(−t/RC)), R = 1 kOhm, C = 1 nF: closed form.
    const netlist = '* rc\nV1 a 0 PWL(0 0 1n 10)\nR1 a b 1k\nC1 b 0 1n\n.save v(b)\n.tran 5n 5u 0 5n\n.end\n'
    const vectors = await runSpice(netlist)
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

describe.skipIf(missing)('an edge at a place by SPICE', () => {
  it('is what the ladder finds, through an engine given from outside', async () => {
    const model = modelTrack({
      track: trackOf({
        bus: { bus: { wire: '1.5 mm2', length: '12 m', geometry: 'twisted' } },
        sections: { main: { count: 6, length: '1 m', feeders: { at: '2 m', step: '5 m', every: 3 } } },
        ringing: { edge: '0.2 us' },
      }),
      rollingStock: stockOf({ a: { running: '0.5 A', section: 'main.1' } }),
      sources: new Map([['main', sourceOf()]]),
    })
    const ladder = ringingAt(model, { section: 'main.6', atMm: 900 })!
    const spice = await confirmRingingAt(ladder, runSpice)
    expect([ladder.edges.by, spice.edges.by]).toEqual(['ladder', 'SPICE'])
    // The engine's own integration damps a little, and its diodes are bent: a few percent of a peak of some 40 V.
    expect(Math.abs(ladder.edges.far.peakVolt / spice.edges.far.peakVolt - 1)).toBeLessThan(0.06)
    expect(Math.abs(ladder.edges.far.slopeVoltPerUs / spice.edges.far.slopeVoltPerUs - 1)).toBeLessThan(0.15)
  }, 60_000)
})

describe('an engine given from outside', () => {
  const engine = (points: number) => async () => ({
    Simulation: class {
      netlist = ''
      async start() {}
      setNetList(text: string) {
        this.netlist = text
      }
      async runSim() {
        return { numPoints: points, data: [{ name: 'V(N1)', values: [1, 2, this.netlist.length] }] }
      }
      getError() {
        return ['no such thing']
      }
    },
  })

  it('gives its vectors by lower-case name', async () => {
    expect((await spiceThrough(engine(3))('abcd')).get('v(n1)')).toEqual(Float64Array.of(1, 2, 4))
  })

  it('says why there is nothing', async () => {
    await expect(spiceThrough(engine(1))('')).rejects.toThrow(/gave no waveform: no such thing/)
    const none = spiceThrough(() => Promise.reject(new Error('not here')))
    await expect(none('')).rejects.toThrow(/cannot be loaded: not here/)
  })
})
