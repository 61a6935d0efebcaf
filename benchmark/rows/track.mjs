// The railroad: the direct-current solution against ngspice, the whole command on 10,000 sections, and an edit.
import { spawn } from 'node:child_process'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildAt, cpuSeconds, median, needs, programCpuSeconds, warmSeconds } from '../measuring.mjs'
import { ring } from '../ring.mjs'

/** Each version reads design files of its own number. */
function designText(build, sections) {
  const own = readFileSync(buildAt(build).example('exhibition/halfbit.yaml'), 'utf8')
  return ring(sections, Number(/^halfbit: (\d+)/m.exec(own)[1]))
}

async function circuitOf(build) {
  const { loadDesign } = await buildAt(build).room('design')
  const track = await buildAt(build).room('track')
  const { design } = loadDesign(designText(build, 10_000))
  const sources = track.sourcesFromPower(design.power, design.signal)
  const plan = track.expandPlan(design.track, design.rollingStock, [...sources.keys()])
  const net = track.buildNetwork(plan, sources)
  const solve = () => {
    const circuit = new track.Circuit(track.layOut(net), 'high')
    return { circuit, loaded: circuit.withLoads(track.loadsOf(plan, net)) }
  }
  return { track, plan, net, solve }
}

export const dc = {
  name: 'dc',
  figures: [
    {
      id: 'dc',
      work: 'DC of 10,000 sections',
      unit: 'ms',
      better: 'less',
      referee: { name: '× ngspice, analysis', as: 'times' },
      wanted: { of: 'referee', atLeast: 45 },
    },
  ],
  async ours(_figure, build) {
    const { solve } = await circuitOf(build)
    return 1000 * warmSeconds(solve)
  },
  async referee(_figure, build, scratch) {
    needs('ngspice', 'ngspice')
    const { track, plan, net, solve } = await circuitOf(build)
    const netlist = track.dcNetlist(plan, solve().circuit, track.loadsOf(plan, net), false)
    const seconds = (name, commands) => {
      const path = join(scratch, name)
      const control = `.control\nset numdgt=12\n${commands}quit\n.endc\n.end\n`
      writeFileSync(path, netlist.replace(/\.op\n\.end\n$/, control))
      return programCpuSeconds('ngspice', ['-b', path])
    }
    // The same file read and nothing calculated: the rest is the analysis.
    const read = median([1, 2, 3].map(() => seconds('read.cir', '')))
    return 1000 * (median([1, 2, 3].map(() => seconds('whole.cir', 'op\n'))) - read)
  },
}

export const track = {
  name: 'track',
  rounds: 3,
  figures: [
    {
      id: 'whole',
      work: '`halfbit track`, 10,000 sections, whole',
      unit: 's',
      better: 'less',
      wanted: { of: 'commit', atLeast: 4 },
    },
    {
      id: 'report',
      work: '  until its report is there (on the clock)',
      unit: 's',
      better: 'less',
      wanted: { text: 'before the proposals' },
    },
  ],
  async ours({ id }, build, scratch) {
    const file = join(scratch, 'big.yaml')
    writeFileSync(file, designText(build, 10_000))
    const args = [buildAt(build).cli, 'track', file]
    return id === 'whole'
      ? programCpuSeconds(process.execPath, args, [0, 1])
      : secondsToFirstOutput(process.execPath, args)
  },
}

function secondsToFirstOutput(program, args) {
  return new Promise((resolve, reject) => {
    const start = performance.now()
    const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'ignore'] })
    child.on('error', reject)
    child.on('close', (status) => reject(new Error(`halfbit track said nothing and ended with ${status}`)))
    child.stdout.once('data', () => {
      resolve((performance.now() - start) / 1000)
      child.kill()
    })
  })
}

export const edit = {
  name: 'edit',
  figures: [
    {
      id: 'railroad',
      work: 'every figure of the railroad after an edit',
      unit: 'ms',
      better: 'less',
      wanted: { of: 'now', atMost: 16 },
    },
    {
      id: 'evidence',
      work: 'all evidence after an edit of one district',
      unit: 'ms',
      better: 'less',
      wanted: { of: 'now', atMost: 16 },
    },
  ],
  ours: ({ id }, build) => (id === 'railroad' ? railroadEdit(build) : evidenceEdit(build)),
}

const EDITS = 60
const WARM_EDITS = 30

/** The bus of the exhibition a little longer each time. */
async function railroadEdit(build) {
  const { loadDesign } = await buildAt(build).room('design')
  const { calculateTrack, sourcesFromPower } = await buildAt(build).room('track')
  const { design } = loadDesign(readFileSync(buildAt(build).example('exhibition/halfbit.yaml'), 'utf8'))
  const sources = sourcesFromPower(design.power, design.signal)
  const bus = Object.keys(design.track.bus)[0]
  const once = (i) => {
    const edited = { ...design.track.bus, [bus]: { ...design.track.bus[bus], length: 7000 + i } }
    const track = { ...design.track, bus: edited }
    return 1000 * cpuSeconds(() => calculateTrack({ track, rollingStock: design.rollingStock, sources }))
  }
  return median(Array.from({ length: EDITS + WARM_EDITS }, (_, i) => once(i)).slice(WARM_EDITS))
}

/** The trip of the yard a little higher each time, from the changed text on. */
async function evidenceEdit(build) {
  const { loadDesign, setInDesign } = await buildAt(build).room('design')
  const { evidenceOfDesign } = await buildAt(build).room('proof')
  if (evidenceOfDesign === undefined) return null
  const file = buildAt(build).example('exhibition/halfbit.yaml')
  const text = readFileSync(file, 'utf8')
  const path = ['power', 'districts', 'yard', 'trip', 'current']
  const memory = new Map()
  const calculate = (design) => evidenceOfDesign(loadDesign(design, file), { file }, { memory, pace: 'soon' })
  calculate(text)
  const once = (i) => {
    const edited = setInDesign(text, path, `${(2 + i / 1000).toFixed(3)} A`)
    return 1000 * cpuSeconds(() => calculate(edited))
  }
  return median(Array.from({ length: EDITS + WARM_EDITS }, (_, i) => once(i)).slice(WARM_EDITS))
}
