// What both `npm start` and `npm test` need first: the project's own packages and its build.
// A second run finds the stamp and installs nothing.
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

export const root = fileURLToPath(new URL('..', import.meta.url))

/** Run a command in the project folder, its output on stderr (stdout stays the proof's); ends the process on failure. */
export function run(command, args, options = {}) {
  const done = spawnSync(command, args, { cwd: root, stdio: ['ignore', 2, 2], ...options })
  if (done.error) {
    console.error(`${command} could not be started: ${done.error.message}`)
    process.exit(1)
  }
  if (done.status !== 0) {
    console.error(`${command} ${args.join(' ')} ended with status ${done.status}`)
    process.exit(done.status ?? 1)
  }
}

/** Install the locked packages unless they are the ones already there. */
export function installPackages() {
  const stamp = `${root}node_modules/.halfbit-lock`
  const hash = createHash('sha256')
    .update(readFileSync(`${root}package-lock.json`))
    .digest('hex')
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === hash) return
  console.error('Installing the packages of package-lock.json …')
  run('npm', ['ci', '--no-audit', '--no-fund'])
  writeFileSync(stamp, hash)
}

export function build() {
  run(process.execPath, ['node_modules/typescript/bin/tsc', '-b'])
}
