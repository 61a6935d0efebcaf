// Questions about the railroad's solver, what is wanted beside what is now, as processor time with its spread:
//  1. the direct-current solution of 10,000 sections against Debian's ngspice on the same netlist, and against the plain factor;
//  2. a short at every place of 2,000 sections against one solution of the same network.
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, tmpdir } from 'node:os'
import { join } from 'node:path'
import { loadDesign } from '../dist/design/index.js'
import {
  analyse,
  buildNetwork,
  Circuit,
  dcNetlist,
  expandPlan,
  Factor,
  layOut,
  loadsOf,
  mapShorts,
  sourcesFromPower,
} from '../dist/track/index.js'
import { ring } from './ring.mjs'

const made = (sections) => madeOf(ring(sections))

function madeOf(text) {
  const { design } = loadDesign(text)
  const sources = sourcesFromPower(design.power, design.signal)
  const plan = expandPlan(design.track, design.rollingStock, [...sources.keys()])
  return { plan, sources }
}

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1]
/** Processor time, so that what else runs on the machine counts little. */
const cpuMs = () => {
  const { user, system } = process.cpuUsage()
  return (user + system) / 1000
}
const timed = (work, rounds) => {
  const ms = []
  let result
  for (let i = 0; i < rounds; i++) {
    const start = cpuMs()
    result = work()
    ms.push(cpuMs() - start)
  }
  return { ms, median: median(ms), result }
}
const spread = ({ ms, median }) =>
  `${median.toFixed(1)} ms (${Math.min(...ms).toFixed(1)} to ${Math.max(...ms).toFixed(1)})`
const row = (work, now, wanted) => console.log(`  ${work.padEnd(44)} ${now.padEnd(34)} ${wanted}`)

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
  const text = ring(10_000)
  const fromText = timed(() => solution(madeOf(text)), 9)
  const { circuit, net, loaded } = ours.result
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
  try {
    const last = net.places.at(-1)
    const netlist = dcNetlist(big.plan, circuit, loadsOf(big.plan, net), false)
    /** Processor seconds of ngspice, as the shell counts them, and what it says. */
    const spice = (name, commands) => {
      const path = join(folder, name)
      const control = `.control\nset numdgt=12\n${commands}quit\n.endc\n.end\n`
      writeFileSync(path, netlist.replace(/\.op\n\.end\n$/, control))
      const done = spawnSync('/bin/sh', ['-c', `/usr/bin/ngspice -b '${path}'; times`], {
        encoding: 'utf8',
        maxBuffer: 1 << 28,
      })
      const times = [...done.stdout.matchAll(/(\d+)m([\d.]+)s/g)].slice(-2)
      return {
        ms: times.reduce((sum, [, m, s]) => sum + 60e3 * Number(m) + 1e3 * Number(s), 0),
        text: done.stdout,
      }
    }
    const analysis = []
    const whole = []
    let volt = Number.NaN
    for (let i = 0; i < 3; i++) {
      // The same file read and nothing worked out: the rest is the analysis.
      const read = spice('read.cir', '')
      const done = spice('big.cir', `op\nprint v(n${last.a})\n`)
      whole.push(done.ms)
      analysis.push(done.ms - read.ms)
      volt = Number(/v\(n\d+\) = (\S+)/.exec(done.text)?.[1])
    }
    const mine = loaded.x[circuit.layout.rowOf[last.a]]
    if (!(Math.abs(mine - volt) < 1e-4)) throw new Error(`ngspice says ${volt}, we say ${mine}`)
    const plain = timed(() => {
      const { elimination, rowOf, rows } = circuit.layout
      const pairs = (side) => Int32Array.from(net.places, (p) => rowOf[p[side]])
      const joined = (list, more) => Int32Array.from([...list, ...more])
      const symbolic = analyse(
        rows,
        joined(elimination.edgeFrom, pairs('a')),
        joined(elimination.edgeTo, pairs('b')),
      )
      return new Circuit(circuit.layout, 'high', (siemens) => new Factor(symbolic, siemens))
    }, 9)
    const off = plain.result.open.reduce((most, v, i) => Math.max(most, Math.abs(v - circuit.open[i])), 0)
    console.log(`10,000 sections, ${circuit.layout.rows} nodes, ${net.from.length} resistors`)
    row('order, factor, solve', spread(solved), '')
    row('the same by the plain factor, one solution', spread(plain), `differs by ${off.toExponential(1)} V`)
    row('with making the network', spread(ours), '')
    row("from the design file's text", spread(fromText), '')
    row(
      'ngspice .op, analysis alone',
      `${median(analysis).toFixed(0)} ms (${Math.min(...analysis).toFixed(0)} to ${Math.max(...analysis).toFixed(0)})`,
      `now ${(median(analysis) / solved.median).toFixed(1)} times ours, wanted 45`,
    )
    row(
      'ngspice, with reading the file',
      `${median(whole).toFixed(0)} ms`,
      `${(median(whole) / fromText.median).toFixed(1)} times ours from the text`,
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
  row('one solution', spread(one), '')
  row('a short at every place', spread(map), `${(map.median / one.median).toFixed(2)} times one solution`)
}

console.log(`Node ${process.version}, ${cpus()[0]?.model}`)
againstNgspice()
everyShort()
