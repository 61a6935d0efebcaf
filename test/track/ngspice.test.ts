/** Direct current and edges against Debian's ngspice, an independent SPICE. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import {
  dcNetlist,
  FEEDER_PAIR,
  loadsOf,
  measureEdge,
  modelTrack,
  RAIL_PAIR,
  railConductor,
  ringCircuit,
  ringNetlist,
  runConstants,
  simulateEdge,
  wireConductor,
} from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'
import { random } from './random.js'

const NGSPICE = '/usr/bin/ngspice'
const missing = !existsSync(NGSPICE)
if (missing)
  console.warn(
    'SKIPPED: ngspice is not installed (apt-get install ngspice); the network is not checked against it.',
  )

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'halfbit-spice-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Run a netlist with a control block in place of its own analysis; returns the raw numbers of `wrdata`-free ASCII output. */
function spice(netlist: string, control: string[]): string {
  const path = join(folder, 'n.cir')
  writeFileSync(
    path,
    netlist.replace(/\.end\n$/, `.control\nset numdgt=12\n${control.join('\n')}\nquit\n.endc\n.end\n`),
  )
  const done = spawnSync(NGSPICE, ['-b', path], { encoding: 'utf8', maxBuffer: 1 << 28 })
  return done.stdout
}

/** A railroad made up by dice: one or two districts, sidings, loops through turnouts, trains of every law. */
function railroad(seed: number) {
  const next = random(seed)
  const pick = <T>(list: readonly T[]) => list[Math.floor(next() * list.length)]!
  const two = next() < 0.4
  const count = 2 + Math.floor(next() * 6)
  const feeders = (bus: string, n: number) => ({
    bus,
    at: '0 m',
    step: `${(3 / n).toFixed(3)} m`,
    every: 1 + Math.floor(next() * 2),
  })
  const track = trackOf({
    temperature: `${Math.round(next() * 60)} C`,
    defaults: {
      rail: pick([55, 70, 83, 100]),
      joiner: pick(['soldered', 'slip', 'bad']),
      feeder: { wire: pick(['22 AWG', '0.5 mm2']), length: '150 mm' },
    },
    bus: {
      west: { district: 'west', wire: pick(['14 AWG', '1.5 mm2', '18 AWG']), length: '6 m' },
      ...(two ? { east: { district: 'east', wire: '2.5 mm2', length: '8 m' } } : {}),
    },
    sections: {
      main: {
        count,
        length: `${(0.3 + next()).toFixed(2)} m`,
        from: 'a',
        to: 'T1.points',
        feeders: feeders('west', count),
      },
      upper: {
        count: 2,
        length: '0.8 m',
        from: 'T1.straight',
        to: 'T2.straight',
        feeders: feeders('west', 2),
      },
      lower: { count: 3, length: '0.6 m', from: 'T1.diverging', to: 'T2.diverging' },
      // Turned round in the file on purpose: phase must follow the rails.
      tail: {
        length: '1.2 m',
        to: 'T2.points',
        from: 'end',
        gaps: two ? 'to' : 'none',
        feeders: [{ bus: two ? 'east' : 'west', at: '3 m' }],
      },
    },
    turnouts: { T1: {}, T2: {} },
    joints: next() < 0.5 ? { 'lower.1/2': { gap: pick(['left', 'right']) } } : {},
  })
  const names = ['main.1', `main.${count}`, 'upper.1', 'lower.2', 'tail']
  const stock = stockOf(
    Object.fromEntries(
      Array.from({ length: 1 + Math.floor(next() * 4) }, (_, i) => [
        `train ${i}`,
        {
          running: `${(0.1 + next() * 0.8).toFixed(3)} A`,
          section: pick(names),
          load: pick(['current', 'power', 'resistor']),
        },
      ]),
    ),
  )
  const sources = new Map([['west', sourceOf(15 + next(), { sourceOhm: 0.05 + next() * 0.3 })]])
  if (two) sources.set('east', sourceOf(14 + next()))
  return { track, rollingStock: stock, sources }
}

describe.skipIf(missing)('against ngspice', () => {
  it('finds the same direct-current voltages in 100 random networks, to 1e-6', () => {
    const cases = Array.from({ length: 100 }, (_, i) => {
      const model = modelTrack(railroad(i + 1))
      const circuit = i % 2 ? model.bestCase : model.worstCase
      const loads = loadsOf(model.plan, model.net)
      const got = circuit.withLoads(loads)
      expect(got.converged).toBe(true)
      const { rowOf } = circuit.layout
      const nodes = [...new Set(model.net.places.flatMap((p) => [p.a, p.b]))].filter((n) => rowOf[n]! >= 0)
      const netlist = dcNetlist(model.plan, circuit, loads, false).replace('.op\n', '')
      return { netlist, nodes, ours: (n: number) => got.x[rowOf[n]!]! }
    })
    const solve = (list: readonly { netlist: string; nodes: number[] }[]) => {
      // One process for all: starting it costs more than the solutions.
      const script = list.flatMap(({ netlist, nodes }, k) => {
        writeFileSync(join(folder, `n${k}.cir`), netlist)
        const print = `print ${nodes.map((n) => `v(n${n})`).join(' ')}`
        return [
          `source ${join(folder, `n${k}.cir`)}`,
          `echo case ${k}`,
          'option reltol=1e-9 abstol=1e-12 vntol=1e-10 itl1=500',
          'op',
          print,
          'destroy all',
          'remcirc',
        ]
      })
      const out = spice('* all\nr1 a 0 1\n.end\n', script)
      return list.map((_, k) => {
        const part = out.split(`case ${k}\n`)[1]?.split(/case \d+\n/)[0] ?? ''
        return new Map([...part.matchAll(/v\(n(\d+)\) = (\S+)/g)].map((m) => [Number(m[1]), Number(m[2])]))
      })
    }
    const found = solve(cases)
    // Constant-power loads on bad joiners: from nothing ngspice finds no way. Started near, it must stay there.
    const again = cases.flatMap((c, k) => (found[k]!.size === 0 ? [{ ...c, k }] : []))
    expect(again.length).toBeLessThan(10)
    solve(
      again.map((c) => {
        const near = c.nodes.map((n) => `v(n${n})=${c.ours(n).toFixed(1)}`).join(' ')
        return { ...c, netlist: c.netlist.replace('.end\n', `.nodeset ${near}\n.end\n`) }
      }),
    ).forEach((volts, i) => {
      found[again[i]!.k] = volts
    })
    let compared = 0
    let worst = 0
    cases.forEach((c, k) => {
      const volts = found[k]!
      expect(volts.size, `network ${k + 1}`).toBe(c.nodes.length)
      const scale = Math.max(...[...volts.values()].map(Math.abs))
      for (const [n, v] of volts) {
        worst = Math.max(worst, Math.abs(c.ours(n) - v) / scale)
        compared++
      }
    })
    expect(worst).toBeLessThan(1e-6)
    expect(compared).toBeGreaterThan(3000)
  }, 60_000)

  it.each([
    ['twisted, no terminator', 'twisted', undefined],
    ['apart, with 100 Ohm and 100 nF', 'spaced', { resistance: '100 Ohm', capacitance: '100 nF' }],
  ] as const)(
    'finds the same edge: %s',
    (_, geometry, terminator) => {
      const track = trackOf({
        bus: {
          bus: {
            wire: '1.5 mm2',
            length: '15 m',
            geometry,
            ...(geometry === 'spaced' ? { spacing: '50 mm' } : {}),
            ...(terminator ? { terminator } : {}),
          },
        },
        sections: { main: { count: 8, length: '1 m', feeders: { at: '1 m', step: '2 m' } } },
        ringing: { edge: '0.3 us' },
      })
      const model = modelTrack({
        track,
        rollingStock: stockOf({
          a: { running: '0.5 A', section: 'main.8' },
          b: { running: '0.3 A', section: 'main.3' },
        }),
        sources: new Map([['main', sourceOf()]]),
      })
      const c = ringCircuit(model.plan, model.net, 0)!
      const untilUs = 9
      const out = join(folder, 'edge.txt')
      const vectors = c.probes.map((k) => `v(n${k})`).join(' ')
      spice(ringNetlist(c, untilUs, 2).replace(/\.tran[^\n]*\n/, ''), [
        'set wr_singlescale',
        `tran 2n ${untilUs}u 0 2n`,
        `wrdata ${out} ${vectors}`,
      ])
      const rows = readFileSync(out, 'utf8')
        .trim()
        .split('\n')
        .map((l) => l.trim().split(/\s+/).map(Number))
      const waves = simulateEdge(c, untilUs)
      c.probes.forEach((node, i) => {
        const theirs = measureEdge(
          rows.map((r) => r[0]! * 1e6),
          rows.map((r) => r[i + 1]!),
        )
        const ours = measureEdge(waves.timeUs, waves.volt.get(node)!)
        // The diodes are bent in SPICE and straight here: half a volt of 30 V is the difference that makes.
        expect(Math.abs(ours.peakVolt - theirs.peakVolt)).toBeLessThan(0.6)
        expect(Math.abs(ours.finalVolt - theirs.finalVolt)).toBeLessThan(0.4)
        expect(Math.abs(ours.slopeVoltPerUs / theirs.slopeVoltPerUs - 1)).toBeLessThan(0.1)
        expect(ours.recrossings).toBe(theirs.recrossings)
      })
    },
    60_000,
  )

  it.each(['0.05 us', '0.1 us', '0.2 us'])(
    'finds the peak of its lossy lines, edge of %s, to 2 %%',
    (edge) => {
      const track = trackOf({
        temperature: '20 C',
        bus: { bus: { wire: '1.5 mm2', length: '10 m', geometry: 'twisted' } },
        sections: { only: { length: '4 m', feeders: { wire: '0.5 mm2', length: '300 mm' } } },
        ringing: { edge },
      })
      const model = modelTrack({ track, sources: new Map([['main', sourceOf()]]) })
      const c = ringCircuit(model.plan, model.net, 0, { highFrequencyLosses: false })!
      // One decoder at an end of the rails; every stretch of line whole, not in pieces.
      const bus = runConstants('twisted', wireConductor('1.5 mm2').diameterMm)
      const lines = [
        ['bus', 'n0', 'a', bus, 2 * wireConductor('1.5 mm2').ohmPerM.usual, 10],
        ['feed', 'a', 'b', FEEDER_PAIR, 2 * wireConductor('0.5 mm2').ohmPerM.usual, 0.3],
        ['one', 'b', 'far', RAIL_PAIR, 2 * railConductor(100, 'nickel silver').ohmPerM.usual, 2],
        ['two', 'b', 'near', RAIL_PAIR, 2 * railConductor(100, 'nickel silver').ohmPerM.usual, 2],
      ] as const
      const netlist = [
        '* lossy lines',
        `V1 src 0 PWL(0 ${-c.volt} 1u ${-c.volt} ${1 + c.edgeUs}u ${c.volt})`,
        `Rs src n0 ${c.sourceOhm}`,
        ...lines.flatMap(([name, from, to, line, ohm, metres]) => [
          `O${name} ${from} 0 ${to} 0 M${name}`,
          `.model M${name} LTRA(R=${ohm} L=${line.henryPerM} C=${line.faradPerM} G=0 LEN=${metres} REL=1 COMPACTREL=1e-3)`,
        ]),
        'Cdecoder far 0 1n',
        'Cdriver n0 0 20p',
        '.end\n',
      ].join('\n')
      const out = join(folder, 'lossy.txt')
      spice(netlist, ['set wr_singlescale', 'tran 1n 4u 0 1n', `wrdata ${out} v(far)`])
      const rows = readFileSync(out, 'utf8')
        .trim()
        .split('\n')
        .map((l) => l.trim().split(/\s+/).map(Number))
      const theirs = Math.max(...rows.map((r) => r[1]!))
      const ours = measureEdge(...wave(simulateEdge(c, 4), c.farNode)).peakVolt
      expect(theirs).toBeGreaterThan(20)
      expect(Math.abs(ours / theirs - 1)).toBeLessThan(0.02)
    },
  )

  it('finds it from the netlist as it is exported, on a short bus too', () => {
    const track = trackOf({
      bus: { bus: { wire: '2.5 mm2', length: '3 m' } },
      defaults: { feeder: { wire: '0.5 mm2', length: '200 mm' } },
      sections: { main: { count: 3, length: '1 m', feeders: { at: '1 m' } } },
      ringing: { edge: '0.375 us' },
    })
    const model = modelTrack({
      track,
      rollingStock: stockOf({ a: { running: '0.9 A', section: 'main.3' } }),
      sources: new Map([['main', sourceOf()]]),
    })
    const c = ringCircuit(model.plan, model.net, 0)!
    const out = join(folder, 'short.txt')
    // With a step of 5 ns Gear's method takes a quarter of this overshoot away.
    spice(ringNetlist(c, 6), ['set wr_singlescale', 'run', `wrdata ${out} v(n${c.farNode})`])
    const rows = readFileSync(out, 'utf8')
      .trim()
      .split('\n')
      .map((l) => l.trim().split(/\s+/).map(Number))
    const theirs = measureEdge(
      rows.map((r) => r[0]! * 1e6),
      rows.map((r) => r[1]!),
    )
    const ours = measureEdge(...wave(simulateEdge(c, 6), c.farNode))
    expect(ours.overshootVolt).toBeGreaterThan(3)
    expect(Math.abs(ours.peakVolt - theirs.peakVolt)).toBeLessThan(0.9)
  })
})

function wave(waves: ReturnType<typeof simulateEdge>, node: number): [Float64Array, Float64Array] {
  return [waves.timeUs, waves.volt.get(node)!]
}
