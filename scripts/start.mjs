// Sets up everything and proves the example.
import { spawnSync } from 'node:child_process'
import { build, installPackages, root } from './setup.mjs'

installPackages()
build()
const done = spawnSync(
  process.execPath,
  ['dist/run/main.js', 'prove', 'examples/exhibition/halfbit.yaml', ...process.argv.slice(2)],
  {
    cwd: root,
    stdio: 'inherit',
  },
)
process.exit(done.status ?? 1)
