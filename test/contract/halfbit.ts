/** Runs the built command line as a user does. */
import { spawnSync } from 'node:child_process'
import { mkdirSync, readdirSync, rmdirSync, statSync } from 'node:fs'
import { join } from 'node:path'

export const root = new URL('../../', import.meta.url).pathname
export const main = join(root, 'dist/cli/main.js')

export interface Ran {
  status: number | null
  stdout: string
  stderr: string
}

/** Build if a source is newer than what was built: a stale program would prove nothing. */
export function built(): void {
  const newest = Math.max(...sources(join(root, 'src')))
  const made = statSync(join(root, 'dist/cli.tsbuildinfo'), { throwIfNoEntry: false })?.mtimeMs ?? 0
  if (made >= newest) return
  const lock = join(root, 'dist.lock')
  try {
    mkdirSync(lock)
  } catch {
    waitFor(lock)
    return
  }
  try {
    const done = spawnSync(process.execPath, ['node_modules/typescript/bin/tsc', '-b'], { cwd: root })
    if (done.status !== 0) throw new Error(`the build failed:\n${done.stdout}${done.stderr}`)
  } finally {
    rmdirSync(lock)
  }
}

function waitFor(lock: string): void {
  for (let i = 0; i < 600; i++) {
    if (!statSync(lock, { throwIfNoEntry: false })) return
    Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 100)
  }
  throw new Error(`another build has not ended; if none runs, remove ${lock}`)
}

function sources(folder: string): number[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name)
    if (entry.isDirectory()) return sources(path)
    return entry.name.includes('.test.') ? [] : [statSync(path).mtimeMs]
  })
}

export function halfbit(
  args: readonly string[],
  options: { cwd?: string; env?: NodeJS.ProcessEnv } = {},
): Ran {
  const { status, stdout, stderr } = spawnSync(process.execPath, [main, ...args], {
    cwd: options.cwd ?? root,
    env: { ...process.env, ...options.env },
    encoding: 'utf8',
    maxBuffer: 256 << 20,
    timeout: 120_000,
  })
  return { status, stdout, stderr }
}
