// What both `npm start` and `npm test` need first: the project's own packages and its build.
// A second run finds the stamp and installs nothing.
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import * as path from 'node:path'
import { fileURLToPath } from 'node:url'
import { npmCall } from './npm-call.mjs'

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

/** npm by the Node that runs this, as on Windows `npm` is a script that only a shell starts. */
function npm(args) {
  const { program, before } = npmCall({
    execPath: process.execPath,
    env: process.env,
    rules: path,
    isThere: existsSync,
  })
  run(program, [...before, ...args])
}

/** Install the locked packages unless they are the ones already there. */
export function installPackages() {
  const stamp = `${root}node_modules/.halfbit-lock`
  const hash = createHash('sha256')
    .update(readFileSync(`${root}package-lock.json`))
    .digest('hex')
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === hash) return
  console.error('Installing the packages of package-lock.json …')
  npm(['ci', '--no-audit', '--no-fund'])
  writeFileSync(stamp, hash)
}

export function build() {
  run(process.execPath, ['node_modules/typescript/bin/tsc', '-b'])
  run(process.execPath, ['scripts/bundle.mjs'])
}

/** What the pages of the workbench and of the documentation are made of. */
const WEB_SOURCES = ['src', 'examples', 'docs', 'scripts/docs', 'vite.config.ts', 'package-lock.json']

/** Build the pages of the workbench into dist/web, unless they are there and made of the same files. */
export function buildWeb() {
  const sum = createHash('sha256')
  for (const source of WEB_SOURCES) {
    const files = source.includes('.') ? [''] : readdirSync(`${root}${source}`, { recursive: true }).sort()
    for (const file of files) {
      const full = path.join(root, source, file)
      if (!/\.\w+$/.test(full) || /\.test\.ts$/.test(full)) continue
      sum.update(full.slice(root.length)).update(readFileSync(full))
    }
  }
  const stamp = `${root}dist/web/.made-of`
  const made = sum.digest('hex')
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === made) return
  run(process.execPath, ['node_modules/vite/bin/vite.js', 'build', '--logLevel', 'warn'])
  writeFileSync(stamp, made)
}

/** Write the manual pages into dist/man. */
export function buildManPages() {
  run(process.execPath, ['scripts/man-pages.mjs'])
}
