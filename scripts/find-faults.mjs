#!/usr/bin/env node
/**
 * Plant every fault at every place of designs, follow the readings that the fault finder suggests, and print how often it
 * finds them: `node scripts/find-faults.mjs [--every N] [--start N] [DESIGN…]`. `--every 5` plants every fifth fault.
 */
import { readFileSync } from 'node:fs'
import { parseArgs } from 'node:util'

const { seededRandom } = await import('../dist/corner/index.js')
const { loadDesign } = await import('../dist/design/index.js')
const { Finder, follow } = await import('../dist/find/index.js')

const { values, positionals } = parseArgs({
  options: {
    every: { type: 'string', default: '1' },
    start: { type: 'string', default: '1' },
    misses: { type: 'boolean' },
  },
  allowPositionals: true,
})
const files =
  positionals.length > 0
    ? positionals
    : ['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'].map((e) => `examples/${e}/halfbit.yaml`)
const sum = { all: 0, first: 0, three: 0, readings: 0, minutes: 0 }
for (const file of files) {
  const finder = new Finder(loadDesign(readFileSync(file, 'utf8'), file))
  const own = { all: 0, first: 0, three: 0, readings: 0, minutes: 0 }
  const missed = []
  for (let h = 1; h < finder.hypotheses.length; h += Number(values.every)) {
    const trial = follow(finder, h, seededRandom(Number(values.start) * 100003 + h))
    for (const s of [own, sum]) {
      s.all++
      if (trial.rank === 1) s.first++
      if (trial.rank <= 3) s.three++
      s.readings += trial.readings
      s.minutes += trial.minutes
    }
    if (trial.rank > 1) missed.push(trial)
  }
  console.log(
    `${file}: ${finder.hypotheses.length - 1} faults and pairs, ${finder.spots.length} readings allowed; ${said(own)}`,
  )
  if (values.misses)
    for (const t of missed)
      console.log(`  ${t.planted}: rank ${t.rank}, ${t.readings} readings, ${t.outcome}`)
}
console.log(`all: ${said(sum)}`)

function said({ all, first, three, readings, minutes }) {
  const share = (n) => `${((100 * n) / all).toFixed(1)} %`
  return `${all} planted: first ${share(first)}, among three ${share(three)}; ${(readings / all).toFixed(1)} readings and ${(minutes / all).toFixed(0)} minutes in the mean`
}
