/**
 * Seeded signals through the importers and the reader, and seeded analog records, a tenth as many and at least 1,000:
 * npm run campaign [-- SEEDS [FIRST [RECORDS]]]. Prints one table; status 1 when a legal signal is called broken, or a
 * fault beyond what its record can tell is called met.
 */
import { fileURLToPath } from 'node:url'
import { runnerImport } from 'vite'

const [seeds = '10000', first = '1', records = String(Math.max(1000, Number(seeds) / 10))] =
  process.argv.slice(2)
const { module } = await runnerImport(fileURLToPath(new URL('../test/signal/campaign.ts', import.meta.url)))
const { module: shapes } = await runnerImport(
  fileURLToPath(new URL('../test/capture/shape-campaign.ts', import.meta.url)),
)
let told = 0
const rows = module.campaign(Number(seeds), Number(first), ({ seed, way, rateHz, digitUs, wrong }) => {
  if (told++ < 20)
    console.error(`seed ${seed}, ${way}, ${rateHz.toPrecision(6)} Hz, digits of ${digitUs} us: ${wrong[0]}`)
})
console.log(
  `${'record'.padEnd(16)}${'fault or clause'.padEnd(20)}${'signals'.padStart(8)}${'undecided'.padStart(11)}${'wrong'.padStart(7)}`,
)
for (const { way, fault, seeds: n, undecided, wrong } of rows)
  console.log(
    `${way.padEnd(16)}${fault.padEnd(20)}${String(n).padStart(8)}${String(undecided).padStart(11)}${String(wrong).padStart(7)}`,
  )
const shapeRows = shapes.shapeCampaign(Math.floor(Number(records)), Number(first), (seed, says) => {
  if (told++ < 20) console.error(`seed ${seed}, analog: ${says}`)
})
for (const { clause, records: n, undecided, wrong } of shapeRows)
  console.log(
    `${'analog'.padEnd(16)}${clause.padEnd(20)}${String(n).padStart(8)}${String(undecided).padStart(11)}${String(wrong).padStart(7)}`,
  )
const wrong = [...rows, ...shapeRows].reduce((sum, r) => sum + r.wrong, 0)
console.log(`\n${seeds} signals and ${records} analog records, ${wrong} judged wrongly`)
process.exitCode = wrong > 0 ? 1 : 0
