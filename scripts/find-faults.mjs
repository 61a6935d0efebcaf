#!/usr/bin/env node
/**
 * Plant every fault at every place of designs, follow the readings that the fault finder suggests, and print how often it
 * finds them, and how often it names another one: `npm run faults -- [--every N] [--start N] [--random N] [--misses] [--trials FILE] [--write] [DESIGN…]`.
 * `--every 5` plants every fifth fault; `--random 20` adds twenty designs made from random answers, no two of which expect the
 * same readings. Without a design file all examples are taken, with `--random` alone none of them. `--write` puts the figures
 * into docs/find.md. `DESIGN:5` plants every fifth fault of this one, `--random 20:40` every fortieth of each random design.
 * `--trials FILE` keeps each trial in FILE and takes from there what this same program has tried before, so that a long run
 * may be stopped and taken up again.
 */
import { createHash } from 'node:crypto'
import { appendFileSync, existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { parseArgs } from 'node:util'

const { seededRandom } = await import('../dist/corner/index.js')
const { loadDesign } = await import('../dist/design/index.js')
const { Finder, follow, smallCases } = await import('../dist/find/index.js')
const { AnswerError, QUESTIONS, settle, startDesign } = await import('../dist/start/index.js')

const { values, positionals } = parseArgs({
  options: {
    every: { type: 'string', default: '1' },
    start: { type: 'string', default: '1' },
    misses: { type: 'boolean' },
    write: { type: 'boolean' },
    random: { type: 'string', default: '0' },
    trials: { type: 'string' },
  },
  allowPositionals: true,
})
const [wanted, everyRandom] = values.random.split(':').map(Number)
const tried = values.trials === undefined ? new Map() : triedBefore(values.trials)
const files =
  positionals.length > 0 || wanted > 0
    ? positionals
    : ['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'].map((e) => `examples/${e}/halfbit.yaml`)
const designs = files.map((given) => {
  const [file, every = values.every] = given.split(':')
  const text = readFileSync(file, 'utf8')
  return { name: file, every: Number(every), text, loaded: loadDesign(text, file) }
})
const random = seededRandom(Number(values.start))
const known = new Set()
for (let tries = 0; designs.length < files.length + wanted && tries < 1000; tries++) {
  const given = randomAnswers()
  const result = answered(given)
  if (!result || !('started' in result)) continue
  const { text } = result.started
  const loaded = loadDesign(text, 'halfbit.yaml')
  const finder = new Finder(loaded)
  const expected = JSON.stringify(finder.spots.map((s) => [s.key, finder.expected(0, s)]))
  if (known.has(expected)) continue
  known.add(expected)
  const name = `random design ${known.size} (${Object.values(given).join(', ')})`
  designs.push({ name, every: everyRandom ?? Number(values.every), text, loaded, isRandom: true })
}
/** So many cases of six faults each, for the plan beside the best plan of all. */
const CASES = 24
const nothing = () => ({ of: 0, all: 0, first: 0, three: 0, named: 0, wrong: 0, readings: 0, minutes: 0 })
const sum = nothing()
const ofRandom = nothing()
const rows = []
const misses = []
const plans = []
for (const { name, text, loaded, every, isRandom } of designs) {
  const finder = new Finder(loaded)
  const own = nothing()
  for (const s of isRandom ? [own, sum, ofRandom] : [own, sum]) s.of += finder.hypotheses.length - 1
  const missed = []
  for (let h = 1; h < finder.hypotheses.length; h += every) {
    const trial = tryFault(finder, text, h)
    for (const s of isRandom ? [own, sum, ofRandom] : [own, sum]) {
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
  if (!isRandom && finder.spots.some((s) => s.kind.words))
    plans.push({
      name: name.replace(/^.*examples\/([^/]+)\/.*$/, '*$1*'),
      ...smallCases(finder, CASES, seededRandom(77)),
    })
  console.log(
    `${name}: ${finder.hypotheses.length - 1} faults and pairs, ${finder.spots.length} readings allowed; ${said(own)}`,
  )
  if (!isRandom) rows.push([name.replace(/^.*examples\/([^/]+)\/.*$/, 'the example *$1*'), own])
  misses.push(...missed)
  if (values.misses)
    for (const t of missed)
      console.log(
        `  ${t.planted}: rank ${t.rank}, ${t.readings} readings, ${t.wrong} of them wrong, ${t.outcome}; first: ${t.leader} ${t.probability.toFixed(3)}`,
      )
}
console.log(`all: ${said(sum)}`)
if (values.write) write()

function tryFault(finder, text, h) {
  const key = `${createHash('sha256').update(text).digest('hex')} ${values.start} ${h}`
  const had = tried.get(key)
  if (had) return had
  const trial = follow(finder, h, seededRandom(Number(values.start) * 100003 + h))
  if (values.trials !== undefined)
    appendFileSync(values.trials, `${JSON.stringify({ program: programSum(), key, trial })}\n`)
  return trial
}

/** Trials by what was tried, out of a file; those of another state of the program are not taken. */
function triedBefore(file) {
  const lines = existsSync(file) ? readFileSync(file, 'utf8').split('\n').filter(Boolean) : []
  const all = lines.map((line) => JSON.parse(line))
  // JSON has no infinity: the rank of what is not ranked at all.
  const ranked = (trial) => ({ ...trial, rank: trial.rank ?? Number.POSITIVE_INFINITY })
  return new Map(all.filter((t) => t.program === programSum()).map((t) => [t.key, ranked(t.trial)]))
}

/** The sum of all modules that a trial may use. */
function programSum() {
  programSum.known ??= (() => {
    const dist = new URL('../dist/', import.meta.url)
    const hash = createHash('sha256')
    for (const name of readdirSync(dist, { recursive: true }).toSorted())
      if (/^(?!cli|run|web|man).*\.js$/.test(name))
        hash.update(name).update(readFileSync(new URL(name, dist)))
    return hash.digest('hex')
  })()
  return programSum.known
}

/** The figures, between their heading and the next one. */
function write() {
  const file = new URL('../docs/find.md', import.meta.url)
  const text = readFileSync(file, 'utf8')
  const heading = '## How often it finds the fault\n'
  const at = text.indexOf(heading)
  if (at < 0) throw new Error(`docs/find.md has no "${heading.trim()}"`)
  const end = text.indexOf('\n## ', at + 1)
  const share = (n, of) => `${((100 * n) / Math.max(1, of)).toFixed(1)} %`
  const list = [...rows, ...(wanted > 0 ? [[`${known.size} random designs`, ofRandom]] : []), ['all', sum]]
  const lines = list.map(
    ([name, s]) =>
      `| ${name} | ${s.all} of ${s.of} | ${share(s.first, s.all)} | ${share(s.three, s.all)} | ${s.wrong} of ${s.named} | ${(s.readings / s.all).toFixed(1)} | ${(s.minutes / s.all).toFixed(0)} |`,
  )
  const why = misses.map(
    (t) =>
      `- ${t.planted}: ${t.leader === 'sound' ? 'no fault' : t.leader} was likelier; ${t.wrong} of ${t.readings} readings wrong`,
  )
  const section = `${heading}
Measured by \`npm run faults -- --write\`: faults planted in networks of their own, with the errors of the meters and one wrong
reading in fifty; the suggested readings are followed until the finder has no other to suggest. Faults that no allowed reading separates count as one.
Of the faults and pairs of each station all were planted, or one in so many, evenly through the list; the shares are those of this sample.

| station | faults planted | first | among three | another one named | readings, mean | minutes, mean |
|---|---|---|---|---|---|---|
${lines.join('\n')}

The finder's plan against the best possible one, found by brute force over ${CASES} cases of six faults each, with readings in words. Means:

| station | readings, finder / best | minutes, finder / best |
|---|---|---|
${plans.map(planLine).join('\n')}

Not first:

${why.length > 0 ? why.join('\n') : '- none'}
`
  writeFileSync(file, text.slice(0, at) + section + (end < 0 ? '' : text.slice(end)))
}

/** The plan beside the best one of all, for one design. */
function planLine({ name, readings, minutes }) {
  const of = ({ followed, best }) => `${followed.toFixed(2)} / ${best.toFixed(2)}`
  return `| ${name} | ${of(readings)} | ${of(minutes)} |`
}

/** Random answers may ask for what cannot be built: these are left out. */
function answered(given) {
  try {
    return startDesign(given)
  } catch (error) {
    if (error instanceof AnswerError) return undefined
    throw error
  }
}

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
