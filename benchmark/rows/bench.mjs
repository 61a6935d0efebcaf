// The coupled bench against the bare simulation of the same firmware, and campaigns of its scenarios.
import { readFileSync } from 'node:fs'
import { buildAt, cpuSeconds } from '../measuring.mjs'

const SECONDS = 10
const RUNS = 30
/** A campaign of a thousand scenarios on two cores takes so many times one run. */
const OF_A_CAMPAIGN = 1000 / 2

export const coupled = {
  name: 'coupled',
  figures: [
    {
      id: 'trains',
      work: 'coupled run, five trains',
      unit: '× real time',
      better: 'more',
      referee: { name: 'of the bare firmware', as: 'share' },
      wanted: { of: 'referee', atLeast: 0.6 },
    },
    {
      id: 'cold',
      work: '  the same in a new process, its compiler included',
      unit: '× real time',
      better: 'more',
      referee: { name: 'of the bare firmware', as: 'share' },
    },
    {
      id: 'crowd',
      work: 'coupled run, 200 decoders',
      unit: '× real time',
      better: 'more',
      referee: { name: 'of the bare firmware', as: 'share' },
      wanted: { of: 'now', atLeast: 1 },
    },
  ],
  async ours({ id }, build) {
    const setup = await setupOf(build)
    if (setup === null) return null
    const { CoupledRun } = await buildAt(build).room('bench')
    const plan = id === 'crowd' ? crowded(setup.plan) : setup.plan
    return timed(id, () => {
      const run = new CoupledRun(plan)
      for (const [i, { address }] of plan.decoders.slice(0, 12).entries())
        run.at(300e3 + 20e3 * i, () => {
          run.do({ act: 'command', command: { kind: 'speed', address, speed: 0.5, forward: true } })
        })
      return (seconds) => run.runTo(seconds * 1e6)
    })
  },
  async referee({ id }, build) {
    const setup = await setupOf(build)
    if (setup === null) return null
    const { SimulatedController } = await buildAt(build).room('controller')
    const { chip, clockHz } = setup.plan
    return timed(id, () => {
      const machine = new SimulatedController(chip, clockHz, setup.image, {})
      return (seconds) => machine.runTo(seconds * clockHz)
    })
  },
}

/**
 * Simulated seconds per second, of the same ten on both sides: those after the first, in which the trains start. Before it a
 * whole run goes by that is not counted, or the compiler would be measured, which has more to do for the larger program.
 */
function timed(id, start) {
  if (id !== 'cold') start()(SECONDS + 1)
  const runTo = start()
  runTo(1)
  return SECONDS / cpuSeconds(() => runTo(SECONDS + 1))
}

export const campaign = {
  name: 'campaign',
  rounds: 3,
  figures: [
    {
      id: 'campaign',
      work: '1,000 scenarios of a second on two cores',
      unit: 's',
      better: 'less',
      wanted: { of: 'now', atMost: 90 },
    },
  ],
  async ours(_figure, build) {
    const setup = await setupOf(build)
    if (setup === null) return null
    const { benchOf, CampaignPlayer, drawRanges } = await buildAt(build).room('proof')
    const bench = benchOf(setup.loaded, setup.image, setup.plan.chip, 'station.elf')
    const second = {
      scenario: 1,
      name: 'one second',
      lasts: 750e3,
      seed: 1,
      acts: [
        { at: 300e3, drive: { train: 'express', speed: 0.6 } },
        { at: 450e3, short: { at: { district: 'main' }, lasts: 100e3 } },
      ],
      expect: [{ shortOff: {} }],
    }
    const player = new CampaignPlayer(bench, drawRanges(setup.loaded, bench), [second], { seed: 1 })
    player.do({ run: 0 })
    const seconds = cpuSeconds(() => {
      for (let run = 0; run < RUNS; run++) player.do({ run })
    })
    return (seconds / RUNS) * OF_A_CAMPAIGN
  },
}

/** @returns null for a version that has no bench. */
async function setupOf(build) {
  const rooms = buildAt(build)
  const { benchSetup } = await rooms.room('proof')
  if (benchSetup === undefined) return null
  const { loadFirmware } = await rooms.room('controller')
  const { loadDesign } = await rooms.room('design')
  const elf = rooms.example('exhibition/firmware/station.elf')
  const image = loadFirmware(readFileSync(elf), elf)
  const loaded = loadDesign(readFileSync(rooms.example('exhibition/halfbit.yaml'), 'utf8'))
  return { loaded, image, plan: benchSetup(loaded, image, loaded.design.controller.chip) }
}

function crowded(plan) {
  const decoders = Array.from({ length: 200 }, (_, i) => {
    const pattern = plan.decoders[i % 5]
    const cvs = { ...pattern.cvs, 1: (i % 120) + 1, 29: 6 }
    return { ...pattern, name: `decoder ${i}`, address: i + 1, cvs }
  })
  return { ...plan, decoders }
}
