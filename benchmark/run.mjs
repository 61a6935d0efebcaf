// `npm run bench`: measures every row, or those named, prints the table, and keeps the figures of the commit in a file.
//
//   npm run bench -- [ROW…] [--against COMMIT] [--rounds N] [--large]
//
// The working tree is built and measured as it is. With --against, the commit that is checked out and the other one are
// built in worktrees of their own, and each round measures both in turn, each on design files of its own version.
import { spawn } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, loadavg, tmpdir } from 'node:os'
import { join, relative } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { buildCommit, commitOf, compile, dropBuild, here, isChanged } from './builds.mjs'
import { ROWS } from './rows/index.mjs'
import { tableText } from './table.mjs'

const USUAL_ROUNDS = 5

function refuse(message) {
  console.error(`bench: ${message}`)
  process.exit(2)
}

function asked() {
  try {
    return parseArgs({
      allowPositionals: true,
      options: {
        against: { type: 'string' },
        rounds: { type: 'string' },
        large: { type: 'boolean', default: false },
      },
    })
  } catch (error) {
    return refuse(error.message.split('\n')[0])
  }
}

const { values, positionals } = asked()
const unknown = positionals.find((name) => !ROWS.some((row) => row.name === name))
if (unknown !== undefined) refuse(`no row "${unknown}"; rows: ${ROWS.map((row) => row.name).join(', ')}`)
const rounds = values.rounds === undefined ? undefined : Number(values.rounds)
if (rounds !== undefined && !(Number.isInteger(rounds) && rounds >= 1 && rounds <= 1000))
  refuse(`--rounds ${values.rounds}: expected a whole number from 1 to 1000`)
const head = commitOf('HEAD')
if (head === undefined) refuse('this folder is no git repository with a commit: results are kept by commit')
const other = values.against === undefined ? undefined : commitOf(values.against)
if (values.against !== undefined && other === undefined)
  refuse(`--against ${values.against}: no such commit in this repository`)
const chosen = ROWS.filter((row) =>
  positionals.length > 0 ? positionals.includes(row.name) : values.large || !row.large,
)

const scratch = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
const builds = []
let stopped = false
function clear() {
  for (const root of builds.splice(0)) dropBuild(root)
  rmSync(scratch, { recursive: true, force: true })
}
for (const signal of ['SIGINT', 'SIGTERM'])
  process.on(signal, () => {
    stopped = true
  })

function built(commit) {
  console.error(`building ${commit} …`)
  const root = join(scratch, commit)
  builds.push(root)
  try {
    return buildCommit(commit, scratch)
  } catch (error) {
    clear()
    return refuse(`${commit}: ${error.message}`)
  }
}

/** Waits without holding up the signals that stop the whole. */
function measure(row, figure, step, root) {
  const script = fileURLToPath(new URL('measure.mjs', import.meta.url))
  const args = ['--max-old-space-size=4096', script, row.name, figure?.id ?? '', step, root ?? here, scratch]
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'] })
  let out = ''
  let err = ''
  child.stdout.setEncoding('utf8').on('data', (text) => (out += text))
  child.stderr.setEncoding('utf8').on('data', (text) => (err = (err + text).slice(-4096)))
  return new Promise((resolve) => {
    child.on('error', (error) => resolve({ failed: error.message }))
    child.on('close', (status, signal) => {
      try {
        resolve(JSON.parse(out.trim().split('\n').at(-1)))
      } catch {
        resolve({ failed: `ended with ${status ?? signal}: ${err.trim().split('\n').at(-1)}` })
      }
    })
  })
}

/** Adds a measurement; the first that fails is the last of its side. */
async function take(side, ...what) {
  if (side.failed !== undefined) return
  const { value, failed } = await measure(...what)
  if (failed !== undefined) side.failed = failed
  else if (value === null) side.failed = 'not in this version'
  else side.samples.push(value)
}

async function measureFigure(row, figure, mine, theirs) {
  const side = () => ({ samples: [] })
  const result = { row: row.name, figure: figure.id, unit: figure.unit, ...side() }
  if (row.referee && figure.referee) result.referee = { name: figure.referee.name, ...side() }
  if (theirs) result.against = { commit: other, ...side() }
  const times = rounds ?? row.rounds ?? USUAL_ROUNDS
  for (let round = 0; round < times && !stopped; round++) {
    console.error(`${row.name}: ${figure.work.trim()}, ${round + 1} of ${times}`)
    const turns = [() => take(result, row, figure, 'ours', mine)]
    if (result.against) turns.push(() => take(result.against, row, figure, 'ours', theirs))
    if (result.referee) turns.push(() => take(result.referee, row, figure, 'referee', mine))
    // Who comes first alternates.
    for (const turn of round % 2 ? turns.reverse() : turns) await turn()
  }
  return result
}

/** Figures measured before stay in the file unless they were measured again. */
function keep(path, results, facts) {
  const before = existsSync(path) ? JSON.parse(readFileSync(path, 'utf8')).results : []
  const isNew = (old) => results.some((r) => r.row === old.row && r.figure === old.figure)
  const order = (r) => ROWS.findIndex((row) => row.name === r.row)
  const all = [...before.filter((old) => !isNew(old)), ...results].sort((a, b) => order(a) - order(b))
  mkdirSync(new URL('results', import.meta.url), { recursive: true })
  writeFileSync(path, `${JSON.stringify({ ...facts, results: all }, null, 1)}\n`)
}

const load = () => loadavg()[0].toFixed(1)
try {
  const mine = other === undefined ? here : built(head)
  const theirs = other === undefined ? undefined : built(other)
  if (other === undefined) compile(here)
  else if (isChanged()) console.error(`changes that are not committed are not measured: this is ${head}`)
  const state = other === undefined && isChanged() ? `${head}-changed` : head
  const facts = { commit: state, node: process.version, processor: `${cpus().length} × ${cpus()[0]?.model}` }
  const loadBefore = load()
  const results = []
  for (const row of chosen) {
    if (stopped) break
    const prepared = row.prepare ? await measure(row, undefined, 'prepare') : {}
    for (const figure of row.figures) {
      if (stopped) break
      const failed = prepared.failed
      results.push(
        failed
          ? { row: row.name, figure: figure.id, unit: figure.unit, failed }
          : await measureFigure(row, figure, mine, theirs),
      )
    }
  }
  // What was being measured then is not whole.
  if (stopped) results.pop()
  const path = fileURLToPath(new URL(`results/${state}.json`, import.meta.url))
  keep(path, results, { ...facts, load: `${loadBefore} to ${load()}` })
  const compared = other === undefined ? '' : `, beside ${other}`
  console.log(`${state}${compared}; ${facts.processor}, Node ${facts.node}, load ${loadBefore} to ${load()}`)
  console.log('Medians, in brackets the least and the greatest; processor time unless "on the clock".\n')
  console.log(tableText(results, ROWS, other))
  console.log(`\nkept in ${relative(here, path)}`)
  process.exitCode = stopped ? 130 : results.some((r) => r.failed !== undefined) ? 1 : 0
} catch (error) {
  process.exitCode = 1
  console.error(`bench: ${error.message}`)
} finally {
  clear()
}
