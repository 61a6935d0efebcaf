// What the rows share: processor time, medians, and programs run for their time.
import { spawnSync } from 'node:child_process'
import { existsSync } from 'node:fs'
import { join } from 'node:path'

/** Seconds of processor time that work takes: what else runs on the machine counts little. */
export function cpuSeconds(work) {
  const before = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1e6
}

/**
 * Repeats work until the compiler has done its part, which is not counted, and then until it can be timed.
 * @returns seconds of processor time of one repetition.
 */
export function warmSeconds(work, { warmSeconds = 1.5, leastSeconds = 2 } = {}) {
  for (let spent = 0, n = 0; spent < warmSeconds || n < 3; n++) spent += cpuSeconds(work)
  let spent = 0
  let n = 0
  while (spent < leastSeconds || n < 3) {
    spent += cpuSeconds(work)
    n++
  }
  return spent / n
}

export function median(list) {
  const sorted = [...list].sort((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

/** A referee is not there: its figure is left out, and this says what brings it. */
export class Missing extends Error {}

/** @throws {Missing} naming the Debian package where the program is not installed. */
export function needs(program, debianPackage) {
  const found = (process.env.PATH ?? '').split(':').some((folder) => existsSync(join(folder, program)))
  if (!found) throw new Missing(`${program} is not installed (apt-get install ${debianPackage})`)
}

/** Runs a program to its end. @throws with what it said where its status is not allowed. */
export function run(program, args, allowed = [0]) {
  const done = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 28 })
  if (done.error) throw done.error
  if (!allowed.includes(done.status)) {
    const said = (done.stderr || done.stdout).trim().split('\n').slice(-3).join(' ')
    throw new Error(`${[program, ...args].join(' ')} ended with ${done.status ?? done.signal}: ${said}`)
  }
  return done
}

/** @returns seconds on the clock. */
export function wallSeconds(program, args, allowed) {
  const start = performance.now()
  run(program, args, allowed)
  return (performance.now() - start) / 1000
}

/** @returns seconds of processor time of a program and its threads, as the shell counts them. */
export function programCpuSeconds(program, args, allowed) {
  const script = '"$@" >/dev/null 2>&1; status=$?; times >&2; exit $status'
  const { stderr } = run('/bin/sh', ['-c', script, 'sh', program, ...args], allowed)
  const children = stderr.trim().split('\n').at(-1)
  let sum = 0
  for (const [, minutes, seconds] of children.matchAll(/(\d+)m([\d.]+)s/g)) sum += 60 * minutes + +seconds
  return sum
}

/** The command as it is installed; older versions have it as modules only. */
const BUNDLES = ['dist/run/main.js', 'dist/cli/main.js']

/** The rooms and files of one build. */
export function buildAt(root) {
  return {
    root,
    room: (name) => import(join(root, 'dist', name, 'index.js')),
    cli: join(
      root,
      BUNDLES.find((file) => existsSync(join(root, file))),
    ),
    example: (path) => join(root, 'examples', path),
  }
}
