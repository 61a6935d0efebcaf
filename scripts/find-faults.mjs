#!/usr/bin/env node
/**
 * Plant every fault at every place of designs, follow the readings that the fault finder suggests, and print how often it
 * finds them: `npm run faults -- [--every N] [--start N] [--random N] [--misses] [DESIGN…]`. `--every 5` plants every fifth
 * fault; `--random 20` adds twenty designs made from random answers. Without a design file all examples are taken.
 */
import { readFileSync } from 'node:fs'
import { parseArgs } from 'node:util'

const { seededRandom } = await import('../dist/corner/index.js')
const { loadDesign } = await import('../dist/design/index.js')
const { Finder, follow } = await import('../dist/find/index.js')
const { QUESTIONS, settle, startDesign } = await import('../dist/start/index.js')

const { values, positionals } = parseArgs({
  options: {
    every: { type: 'string', default: '1' },
    start: { type: 'string', default: '1' },
    misses: { type: 'boolean' },
    random: { type: 'string', default: '0' },
  },
  allowPositionals: true,
})
const files =
  positionals.length > 0
    ? positionals
    : ['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'].map((e) => `examples/${e}/halfbit.yaml`)
const designs = files.map((file) => ({ name: file, loaded: loadDesign(readFileSync(file, 'utf8'), file) }))
const random = seededRandom(Number(values.start))
for (let tries = 0; designs.length < files.length + Number(values.random) && tries < 400; tries++) {
  const given = randomAnswers()
  const result = startDesign(given)
  if (!('started' in result)) continue
  const name = `random design ${designs.length - files.length + 1}`
  designs.push({ name, loaded: loadDesign(result.started.text, 'halfbit.yaml') })
}
const sum = { all: 0, first: 0, three: 0, readings: 0, minutes: 0 }
for (const { name, loaded } of designs) {
  const finder = new Finder(loaded)
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
    `${name}: ${finder.hypotheses.length - 1} faults and pairs, ${finder.spots.length} readings allowed; ${said(own)}`,
  )
  if (values.misses)
    for (const t of missed)
      console.log(`  ${t.planted}: rank ${t.rank}, ${t.readings} readings, ${t.outcome}`)
}
console.log(`all: ${said(sum)}`)

/** Random answers to about every third question that has choices. */
function randomAnswers() {
  const given = {}
  for (const q of QUESTIONS) {
    if (q.kind !== 'choice' || random.uniform() < 0.65) continue
    const list = q.choices(settle(given).answers)
    given[q.id] = list[Math.floor(random.uniform() * list.length)].value
  }
  return given
}

function said({ all, first, three, readings, minutes }) {
  const share = (n) => `${((100 * n) / all).toFixed(1)} %`
  return `${all} planted: first ${share(first)}, among three ${share(three)}; ${(readings / all).toFixed(1)} readings and ${(minutes / all).toFixed(0)} minutes in the mean`
}
