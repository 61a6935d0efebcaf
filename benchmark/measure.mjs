// One measurement in a process of its own: node measure.mjs ROW FIGURE ours|referee|prepare ROOT SCRATCH. Prints JSON.
import { Missing } from './measuring.mjs'
import { ROWS } from './rows/index.mjs'

const [name, id, step, root, scratch] = process.argv.slice(2)
const row = ROWS.find((r) => r.name === name)
const figure = row.figures.find((f) => f.id === id)
try {
  const value = step === 'prepare' ? await row.prepare(scratch) : await row[step](figure, root, scratch)
  console.log(JSON.stringify({ value: value ?? null }))
} catch (error) {
  console.log(JSON.stringify({ failed: error.message, missing: error instanceof Missing }))
}
// What a row has started may still be open.
process.exit(0)
