// Runs the oval on the bench: node run.mjs [SECONDS] [SEED]. An hour takes some minutes.
import { readFileSync } from 'node:fs'
import * as bench from '../../dist/bench/index.js'
import { loadFirmware } from '../../dist/controller/index.js'
import { loadDesign } from '../../dist/design/index.js'
import { benchSetup } from '../../dist/proof/index.js'
import { runEvening, within } from './evening.js'

const here = new URL('.', import.meta.url)
const read = (name) => readFileSync(new URL(name, here))
const loaded = loadDesign(read('halfbit.yaml').toString())
const firmware = loadFirmware(read(loaded.design.firmware.file), loaded.design.firmware.file)
const setup = benchSetup(loaded, firmware, loaded.design.controller.chip)
const [seconds = 60, seed = 1] = process.argv.slice(2).map(Number)

const r = runEvening(bench, setup, {
  seconds,
  seed,
  onMinute: (n) => process.stderr.write(`\r${n} min`),
})
const late = (share) => `${Math.round(within(r.lateMs, share))} ms`
console.log(`
${seconds} s of railroad time, contact lost ${r.lost} times, ${(r.ranMm / 1000).toFixed(1)} m run
two trains in one block: ${r.together.length}
stops: ${r.stops}, outside their block: ${r.outside.length}
commands: ${r.lateMs.length}, acted on within ${late(0.5)} (half), ${late(0.95)} (95 of 100), ${late(1)} (all); never: ${r.unheard.length}`)
process.exitCode = r.together.length + r.outside.length + r.unheard.length > 0 ? 1 : 0
