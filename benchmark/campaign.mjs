// One-second scenarios of a campaign, by CPU time: RUNS of them on one thread; the time for 1,000 on two cores is worked out.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

const RUNS = Number(process.env.RUNS ?? 30)
const folder = fileURLToPath(new URL('../examples/exhibition/', import.meta.url))

const { loadFirmware } = await import('../dist/controller/index.js')
const { loadDesign } = await import('../dist/design/index.js')
const { benchOf, CampaignPlayer, drawRanges } = await import('../dist/proof/index.js')

const elf = `${folder}firmware/station.elf`
const image = loadFirmware(readFileSync(elf), elf)
const loaded = loadDesign(readFileSync(`${folder}halfbit.yaml`, 'utf8'))
const { chip } = loaded.design.controller
const bench = benchOf(loaded, image, chip, 'station.elf')

function cpu(work) {
  const before = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1e6
}

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
const player = new CampaignPlayer(bench, drawRanges(loaded, bench), [second], { seed: 1 })
player.do({ run: 0 })
const took = cpu(() => {
  for (let run = 0; run < RUNS; run++) player.do({ run })
})
console.log(
  `campaign: ${RUNS} scenarios of one second take ${took.toFixed(1)} s of CPU; 1,000 on two cores would take ${((took / RUNS) * 500).toFixed(0)} s (wanted 90 s)`,
)
