#!/usr/bin/env node
/**
 * Plant every fault at every place of designs, follow the readings that the fault finder suggests, and print how often it
 * finds them, and how often it names another one: `npm run faults -- [--every N] [--start N] [--random N] [--misses] [DESIGN…]`.
 * `--every 5` plants every fifth fault; `--random 20` adds twenty designs made from random answers, no two of which expect the
 * same readings. Without a design file all examples are taken, with `--random` alone none of them.
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
const wanted = Number(values.random)
const files =
  positionals.length > 0 || wanted > 0
    ? positionals
    : ['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'].map((e) => `examples/${e}/halfbit.yaml`)
const designs = files.map((file) => ({ name: file, loaded: loadDesign(readFileSync(file, 'utf8'), file) }))
const random = seededRandom(Number(values.start))
const known = new Set()
for (let tries = 0; designs.length < files.length + wanted && tries < 1000; tries++) {
  const given = randomAnswers()
  const result = startDesign(given)
  if (!('started' in result)) continue
  const loaded = loadDesign(result.started.text, 'halfbit.yaml')
  const finder = new Finder(loaded)
  const expected = JSON.stringify(finder.spots.map((s) => [s.key, finder.expected(0, s)]))
  if (known.has(expected)) continue
  known.add(expected)
  const name = `random design ${known.size} (${Object.values(given).join(', ')})`
  designs.push({ name, loaded })
}
const nothing = () => ({ all: 0, first: 0, three: 0, named: 0, wrong: 0, readings: 0, minutes: 0 })
const sum = nothing()
for (const { name, loaded } of designs) {
  const finder = new Finder(loaded)
  const own = nothing()
  const missed = []
  for (let h = 1; h < finder.hypotheses.length; h += Number(values.every)) {
    const trial = follow(finder, h, seededRandom(Number(values.start) * 100003 + h))
    for (const s of [own, sum]) {
      s.all++
      if (trial.rank === 1) s.first++
      if (trial.rank <= 3) s.three++
      if (isNamed(trial)) s.named++
      if (isNamed(trial) && trial.rank > 1) s.wrong++
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
      console.log(
        `  ${t.planted}: rank ${t.rank}, ${t.readings} readings, ${t.wrong} of them wrong, ${t.outcome}; first: ${t.leader} ${t.probability.toFixed(3)}`,
      )
}
console.log(`all: ${said(sum)}`)

function isNamed({ outcome }) {
  return outcome === 'found' || outcome === 'class'
}

/** A shape and its size, and random answers to about every third other question that has choices. */
function randomAnswers() {
  const given = {}
  for (const q of QUESTIONS) {
    const { answers } = settle(given)
    if (q.applies && !q.applies(answers)) continue
    if (['length', 'depth', 'feeders'].includes(q.id)) {
      const times = 0.7 + 0.9 * random.uniform()
      const [figure, unit] = q.usual(answers).split(' ')
      given[q.id] = `${Number((Number(figure) * times).toPrecision(3))} ${unit}`
    } else if (q.kind === 'choice' && (q.id === 'shape' || random.uniform() > 0.65)) {
      const list = q.choices(answers)
      given[q.id] = list[Math.floor(random.uniform() * list.length)].value
    }
  }
  return given
}

function said({ all, first, three, named, wrong, readings, minutes }) {
  const share = (n, of) => `${((100 * n) / Math.max(1, of)).toFixed(1)} %`
  return `${all} planted: first ${share(first, all)}, among three ${share(three, all)}; another one named in ${wrong} of ${named}; ${(readings / all).toFixed(1)} readings and ${(minutes / all).toFixed(0)} minutes in the mean`
}
