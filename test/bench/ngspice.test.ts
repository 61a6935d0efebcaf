// The electrical side of a short on the exhibition's railroad, against a transient of Debian's ngspice on the netlist that the track
// room exports, with decoders, the short and the filter of the sense added to it.
import { spawnSync } from 'node:child_process'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { type RailLoad, RailNetwork, Rails, SenseFilter } from '../../src/bench/index.js'
import { loadDesign } from '../../src/design/index.js'
import { railroadOf } from '../../src/proof/railroad.js'
import { Circuit, dcNetlist } from '../../src/track/index.js'
import { workFolder } from '../firmware/compile.js'

const NGSPICE = '/usr/bin/ngspice'
if (!existsSync(NGSPICE)) console.error('SKIPPED, referee not installed: ngspice (apt-get install ngspice)')

const text = readFileSync(new URL('../../examples/exhibition/halfbit.yaml', import.meta.url), 'utf8')
const { model } = railroadOf(loadDesign(text))!
const circuit = new Circuit(model.worstCase.layout, 'usual')
const { districts, places } = model.net
/** Decoders: place, current, capacitor. */
const DECODERS = [
  { section: 'south.1', amp: 0.6, farad: 47e-6 },
  { section: 'north.4', amp: 0.3, farad: 220e-6 },
  { section: 'lead', amp: 1.1, farad: 100e-6 },
]
const RECTIFIER_OHM = 0.5
const SHORT = { section: 'platform.3', ohm: 0.6, fromMs: 20, toMs: 25 }
const FILTER_US = 100
const WATCHED_MS = [0.05, 0.1, 0.2, 0.5, 1, 5, 19.9, 20.02, 20.1, 20.3, 21, 24.9, 25.02, 25.1, 25.4, 27, 39]
const main = districts.indexOf('main')

const network = () =>
  new RailNetwork(
    districts,
    districts.map(() => 0),
    model,
  )

function placeOf(n: RailNetwork, section: string): number {
  const { track, mm } = n.named(section)!
  return n.placeAt(track, mm)
}

function ours() {
  const rails = new Rails(
    network(),
    districts.map((name, d) => ({
      name,
      volt: circuit.openVolt(d),
      ohm: 0.01,
      limit: 'none' as const,
      limitAmp: Number.POSITIVE_INFINITY,
    })),
    districts.map((district, d) => ({
      district,
      supply: district,
      dropVolt: 0,
      ohm: circuit.sourceOhm(d) - 0.01,
      holdsAmp: Number.POSITIVE_INFINITY,
    })),
  )
  const filter = new SenseFilter(rails, main, FILTER_US)
  const loads = DECODERS.map(
    ({ section, amp, farad }): RailLoad => ({
      spot: rails.network.place(placeOf(rails.network, section)),
      contact: true,
      amp,
      ohm: RECTIFIER_OHM,
      farad,
      volt: 0,
    }),
  )
  rails.change(0, () => {
    for (const s of rails.sources) s.output = 'driving'
    rails.loads.push(...loads)
  })
  const spot = rails.network.place(placeOf(rails.network, SHORT.section))
  const change = (ms: number, apply: () => void) => {
    filter.at(ms * 1000)
    rails.change(ms * 1000, apply)
  }
  let begun = 0
  return WATCHED_MS.map((ms) => {
    if (ms >= SHORT.fromMs && begun < 1)
      change(SHORT.fromMs, () => void rails.shorts.set('a', { spot, ohm: SHORT.ohm }))
    if (ms >= SHORT.fromMs) begun = Math.max(begun, 1)
    if (ms >= SHORT.toMs && begun < 2) change(SHORT.toMs, () => rails.shorts.clear())
    if (ms >= SHORT.toMs) begun = 2
    return { amp: rails.sourceAmp(main, ms * 1000), sensed: filter.at(ms * 1000) }
  })
}

function theirs() {
  const { rowOf } = circuit.layout
  const node = (n: number) => (rowOf[n]! < 0 ? '0' : `n${n}`)
  const n = network()
  const rails = (section: string) => {
    const { a, b } = places[placeOf(n, section)]!
    return [node(a), node(b)] as const
  }
  const lines = dcNetlist(model.plan, circuit, [], false)
    .split('\n')
    .filter((l) => !/^\.(op|end)/.test(l))
  DECODERS.forEach(({ section, amp, farad }, i) => {
    const [a, b] = rails(section)
    lines.push(
      `Brect${i} ${a} d${i} I=max(0,(v(${a})-v(d${i}))/${RECTIFIER_OHM})`,
      `Cdec${i} d${i} ${b} ${farad} ic=0`,
      `Bdec${i} d${i} ${b} I=${amp}*min(1,max(0,v(d${i},${b})/0.5))`,
    )
  })
  const [a, b] = rails(SHORT.section)
  const { fromMs, toMs, ohm } = SHORT
  // A source with corners makes the transient stop at them.
  lines.push(
    `Von on 0 PWL(0 0 ${fromMs}m 0 ${fromMs}.0001m 1 ${toMs}m 1 ${toMs}.0001m 0)`,
    `Bshort ${a} ${b} I=v(on)*v(${a},${b})/${ohm}`,
    `Bsense sense 0 V=-i(V${main})`,
    `Rfilter sense filtered ${FILTER_US}`,
    'Cfilter filtered 0 1u ic=0',
    '.tran 1u 40m 0 1u uic',
    '.control',
    'run',
    'wrdata out.txt v(sense) v(filtered)',
    '.endc',
    '.end',
  )
  const cwd = workFolder()
  writeFileSync(join(cwd, 'bench.cir'), `${lines.join('\n')}\n`)
  // It ends with 1 where nothing is plotted; what counts is the file.
  spawnSync(NGSPICE, ['-b', 'bench.cir'], { cwd, timeout: 120_000 })
  const rows = readFileSync(join(cwd, 'out.txt'), 'utf8')
    .trim()
    .split('\n')
    .map((l) => l.trim().split(/\s+/).map(Number))
  return WATCHED_MS.map((ms) => {
    const i = rows.findIndex((r) => r[0]! * 1000 >= ms)
    const [x, y] = [rows[i - 1]!, rows[i]!]
    const share = (ms / 1000 - x[0]!) / (y[0]! - x[0]!)
    const mix = (k: number) => x[k]! + share * (y[k]! - x[k]!)
    return { amp: mix(1), sensed: mix(3) }
  })
}

describe.runIf(existsSync(NGSPICE))('a start and a short (referee ngspice)', () => {
  it('have the currents and sense voltages of a transient within 1 %', () => {
    const [mine, spice] = [ours(), theirs()]
    mine.forEach(({ amp, sensed }, i) => {
      const s = spice[i]!
      const at = `at ${WATCHED_MS[i]} ms`
      expect(Math.abs(amp - s.amp) / Math.abs(s.amp), `${amp} and ${s.amp} A ${at}`).toBeLessThan(0.01)
      expect(
        Math.abs(sensed - s.sensed) / Math.abs(s.sensed),
        `sensed ${sensed} and ${s.sensed} ${at}`,
      ).toBeLessThan(0.01)
    })
  })
})
