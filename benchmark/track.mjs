// Three questions about the railroad's solver, each as a ratio against a referee in the same run:
//  1. the direct-current solution of 10,000 sections against Debian's ngspice on the same netlist;
//  2. a short at every place of 2,000 sections against one solution of the same network;
//  3. editing one number of the exhibition example and having every figure again.
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, tmpdir } from 'node:os'
import { join } from 'node:path'
import { loadDesign } from '../dist/design/index.js'
import {
  buildNetwork,
  Circuit,
  calculateTrack,
  dcNetlist,
  expandPlan,
  layOut,
  loadsOf,
  mapShorts,
  sourcesFromPower,
} from '../dist/track/index.js'

const YAML = (sections) => `halfbit: 2
name: benchmark (invented)
controller: { chip: rp2040, clock: { frequency: 125 MHz } }
signal: { outputs: { main: { pin: GP1 } } }
power:
  supplies: { s: { voltage: 15 V, rating: 6 A, limit: none } }
  drivers: { d: { part: DRV8874 } }
  districts: { main: { trip: { current: 4 A, by: breaker } } }
track:
  bus: { bus: { wire: 2.5 mm2, length: ${sections} m } }
  sections:
    line: { count: ${sections / 2}, length: 1 m, from: a, to: b, feeders: { at: 0 m, step: 2 m, every: 2 } }
    back: { count: ${sections / 2}, length: 1 m, from: b, to: a, feeders: { at: 1 m, step: 2 m, every: 2 } }
rollingStock:
  one: { running: 0.5 A, section: line.7 }
  two: { running: 0.4 A, section: back.${sections / 4} }
`

const made = (sections) => madeOf(YAML(sections))

function madeOf(text) {
  const { design } = loadDesign(text)
  const sources = sourcesFromPower(design.power, design.signal)
  const plan = expandPlan(design.track, design.rollingStock, [...sources.keys()])
  return { plan, sources }
}

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1]
const timed = (work, rounds) => {
  const ms = []
  let result
  for (let i = 0; i < rounds; i++) {
    const start = performance.now()
    result = work()
    ms.push(performance.now() - start)
  }
  return { ms, median: median(ms), result }
}

/** Everything between the written-out plan and the voltages of all nodes. */
function solution({ plan, sources }) {
  const net = buildNetwork(plan, sources)
  const circuit = new Circuit(layOut(net), 'high')
  return { net, circuit, loaded: circuit.withLoads(loadsOf(plan, net)) }
}

function againstNgspice() {
  const big = made(10_000)
  // The first rounds are the compiler's.
  timed(() => solution(big), 4)
  const ours = timed(() => solution(big), 9)
  const given = ours.result.net
  const solved = timed(() => {
    const c = new Circuit(layOut(given), 'high')
    return c.withLoads(loadsOf(big.plan, given))
  }, 9)
  const text = YAML(10_000)
  const fromText = timed(() => solution(madeOf(text)), 9)
  const { circuit, net, loaded } = ours.result
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
  try {
    const path = join(folder, 'big.cir')
    const last = net.places.at(-1)
    const control = `.control\nset numdgt=12\nop\nprint v(n${last.a})\nrusage\nquit\n.endc\n.end\n`
    const netlist = dcNetlist(big.plan, circuit, loadsOf(big.plan, net), false)
    writeFileSync(path, netlist.replace(/\.op\n\.end\n$/, control))
    const analysis = []
    const whole = []
    let volt = Number.NaN
    for (let i = 0; i < 3; i++) {
      const start = performance.now()
      const done = spawnSync('/usr/bin/ngspice', ['-b', path], { encoding: 'utf8', maxBuffer: 1 << 28 })
      whole.push(performance.now() - start)
      const text = done.stdout + done.stderr
      volt = Number(/v\(n\d+\) = (\S+)/.exec(text)?.[1])
      analysis.push(1000 * Number(/Total analysis time \(seconds\) = (\S+)/.exec(text)?.[1]))
    }
    const mine = loaded.x[circuit.layout.rowOf[last.a]]
    if (!(Math.abs(mine - volt) < 1e-4)) throw new Error(`ngspice says ${volt}, we say ${mine}`)
    const rows = circuit.layout.rows
    console.log(`10,000 sections, ${rows} nodes, ${net.from.length} resistors`)
    console.log(`  ours: order, factor, solve     ${solved.median.toFixed(1)} ms`)
    console.log(`  ours, with making the network  ${ours.median.toFixed(1)} ms`)
    console.log(`  ours, from the design file's text ${fromText.median.toFixed(1)} ms`)
    console.log(
      `  ngspice .op, analysis alone    ${median(analysis).toFixed(0)} ms   ${(median(analysis) / solved.median).toFixed(1)} times ours`,
    )
    console.log(
      `  ngspice, with reading the file ${median(whole).toFixed(0)} ms   ${(median(whole) / fromText.median).toFixed(1)} times ours, from the text of the file`,
    )
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

function everyShort() {
  const made2 = made(2000)
  const one = timed(() => solution(made2), 15)
  const { circuit } = one.result
  const map = timed(() => mapShorts(circuit, 0.1, 40), 15)
  console.log(`2,000 sections, ${map.result.places.length} places`)
  console.log(`  one solution                   ${one.median.toFixed(1)} ms`)
  console.log(
    `  a short at every place         ${map.median.toFixed(1)} ms   ${(map.median / one.median).toFixed(2)} times one solution`,
  )
}

function oneEdit() {
  const file = new URL('../examples/exhibition/halfbit.yaml', import.meta.url)
  const { design } = loadDesign(readFileSync(file, 'utf8'))
  const sources = sourcesFromPower(design.power, design.signal)
  const input = { track: design.track, rollingStock: design.rollingStock, sources }
  const edit = (i, options) => {
    input.track = {
      ...design.track,
      bus: { ...design.track.bus, front: { ...design.track.bus.front, length: 7000 + i } },
    }
    return calculateTrack(input, options)
  }
  let i = 0
  timed(() => edit(i++), 10)
  const all = timed(() => edit(i++), 31)
  const still = timed(() => edit(i++, { ringing: false }), 31)
  console.log(`exhibition example, ${all.result.sections.length} sections and legs of turnouts`)
  console.log(
    `  every figure after an edit     ${all.median.toFixed(1)} ms, fastest ${Math.min(...all.ms).toFixed(1)}, slowest ${Math.max(...all.ms).toFixed(1)} ms`,
  )
  console.log(`  without the edges on the bus   ${still.median.toFixed(1)} ms`)
}

console.log(`Node ${process.version}, ${cpus()[0]?.model}`)
againstNgspice()
everyShort()
oneEdit()
