/**
 * What an edit of one district costs: every figure of the power stage and of the railroad of the exhibition example, corners
 * included, from the changed text on. CPU time after a warm-up; median and spread over the edits.
 *
 *   node benchmark/edit.mjs [EDITS]
 */
import { readFileSync } from 'node:fs'
import { loadDesign, setInDesign } from '../dist/design/index.js'
import { powerReport } from '../dist/power/index.js'
import { evidenceOfDesign, powerInput, railroadOf } from '../dist/proof/index.js'

const edits = Number(process.argv[2] ?? 31)
const file = new URL('../examples/exhibition/halfbit.yaml', import.meta.url).pathname
const text = readFileSync(file, 'utf8')
const path = ['power', 'districts', 'yard', 'trip', 'current']

function cpuMs(work) {
  const from = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(from)
  return (user + system) / 1000
}

/** The yard's trip a little higher each time, so that nothing is known from the edit before. */
const editsFrom = (tenths) =>
  Array.from({ length: edits + 8 }, (_, i) =>
    setInDesign(text, path, `${(1.8 + tenths / 10 + i / 1000).toFixed(4)} A`),
  )
const memory = new Map()
evidenceOfDesign(loadDesign(text, file), { file }, { memory, pace: 'soon' })

/** What comes before a step is done outside its time; what an edit is read for the first time in, is read within it. */
const steps = {
  'read the text': { step: (design) => loadDesign(design, file) },
  'power stage': {
    before: (design) => {
      const loaded = loadDesign(design, file)
      railroadOf(loaded).model
      return loaded
    },
    step: (_, loaded) => powerReport(powerInput(loaded).input),
  },
  railroad: { before: (design) => loadDesign(design, file), step: (_, loaded) => railroadOf(loaded).report },
  'all evidence that depends on it': {
    step: (design) => evidenceOfDesign(loadDesign(design, file), { file }, { memory, pace: 'soon' }),
  },
}
let first = 2
const rows = Object.entries(steps).map(([name, { before, step }]) => {
  first++
  // Each step has edits of its own, so that none is remembered from the step before.
  const took = editsFrom(first).map((design) => {
    const made = before?.(design)
    return cpuMs(() => step(design, made))
  })
  const sorted = took.slice(8).sort((a, b) => a - b)
  const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]
  return { name, median: at(0.5), low: at(0.1), high: at(0.9) }
})
console.log(`${edits} edits of one district of the exhibition, ms of CPU`)
for (const { name, median, low, high } of rows)
  console.log(
    `${name.padEnd(34)} median ${median.toFixed(1).padStart(6)}   from ${low.toFixed(1)} to ${high.toFixed(1)} (10 to 90 %)`,
  )
