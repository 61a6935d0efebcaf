// The coupled bench against the bare simulation of the same firmware, and two hundred decoders on one track. Same process, in turn.
import { readFileSync } from 'node:fs'
import * as bench from '../dist/bench/index.js'
import { loadFirmware, SimulatedController } from '../dist/controller/index.js'
import { loadDesign } from '../dist/design/index.js'
import { benchSetup } from '../dist/proof/index.js'

const SECONDS = 10
const ROUNDS = Number(process.env.ROUNDS ?? 3)
const folder = new URL('../examples/exhibition/', import.meta.url)
const loaded = loadDesign(readFileSync(new URL('halfbit.yaml', folder), 'utf8'))
const image = loadFirmware(readFileSync(new URL('firmware/station.elf', folder)), 'station.elf')
const setup = benchSetup(loaded, image, loaded.design.controller.chip)

function cpu(work) {
  const start = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(start)
  return (user + system) / 1e6
}

/** The exhibition's five trains, all moving. */
function coupled(plan) {
  const run = new bench.CoupledRun(plan)
  for (const [i, { address }] of plan.decoders.slice(0, 12).entries())
    run.at(300e3 + 20e3 * i, () => {
      run.do({ act: 'command', command: { kind: 'speed', address, speed: 0.5, forward: true } })
    })
  run.runTo(SECONDS * 1e6)
}

function bare() {
  const machine = new SimulatedController(setup.chip, setup.clockHz, image, {})
  machine.runTo(SECONDS * setup.clockHz)
}

const crowd = {
  ...setup,
  decoders: Array.from({ length: 200 }, (_, i) => ({
    ...setup.decoders[i % 5],
    name: `decoder ${i}`,
    address: i + 1,
    cvs: { ...setup.decoders[i % 5].cvs, 1: (i % 120) + 1, 29: 6 },
  })),
}

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1]
const times = { bare: [], coupled: [], crowd: [] }
for (let i = 0; i < ROUNDS; i++) {
  times.bare.push(cpu(bare))
  times.coupled.push(cpu(() => coupled(setup)))
  times.crowd.push(cpu(() => coupled(crowd)))
}
const [b, c, d] = [times.bare, times.coupled, times.crowd].map(median)
console.log(`bare firmware: ${(SECONDS / b).toFixed(1)} s of railroad time per s of CPU`)
console.log(
  `coupled, five trains: ${(SECONDS / c).toFixed(1)}, ${(b / c).toFixed(2)} of the bare speed (wanted: 0.6)`,
)
console.log(`coupled, 200 decoders: ${(SECONDS / d).toFixed(2)} (wanted: 1)`)
