// The everyday loop: types, lint of what is changed, and the tests that need no other program, with fewer tries each.
// `npm run quick -- --changed` runs only the tests of what is changed since the last commit; `-- --changed main` since there.
import { spawnSync } from 'node:child_process'
import { root } from './setup.mjs'

const RUNS = '0.1'

function step(program, args, env = {}) {
  const options = { cwd: root, stdio: 'inherit', env: { ...process.env, ...env } }
  const { status } = spawnSync(process.execPath, [program, ...args], options)
  if (status !== 0) process.exit(status ?? 1)
}

step('node_modules/typescript/bin/tsc', ['-b'])
step('node_modules/@biomejs/biome/bin/biome', [
  'check',
  '--changed',
  '--since=HEAD',
  '--no-errors-on-unmatched',
])
const projects = ['--project', 'rooms', '--project', 'faces']
step('node_modules/vitest/vitest.mjs', ['run', '--reporter=dot', ...projects, ...process.argv.slice(2)], {
  HALFBIT_RUNS: process.env.HALFBIT_RUNS ?? RUNS,
})
