// Builds of commits, each in a worktree of its own.
import { spawnSync } from 'node:child_process'
import { existsSync, symlinkSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

export const here = fileURLToPath(new URL('..', import.meta.url))

function git(...args) {
  const done = spawnSync('git', ['-C', here, ...args], { encoding: 'utf8' })
  return done.status === 0 ? done.stdout.trim() : undefined
}

/** @returns the commit's short name, or undefined where there is none of that name. */
export function commitOf(name) {
  if (name.startsWith('-')) return undefined
  const whole = git('rev-parse', '--verify', '--quiet', `${name}^{commit}`)
  return whole && git('rev-parse', '--short=7', whole)
}

/** What git tracks differs from the commit that is checked out. */
export const isChanged = () => git('status', '--porcelain', '--untracked-files=no') !== ''

/** Compiles rooms and command line at `root`. @throws with the compiler's first lines. */
export function compile(root) {
  const tsc = join(here, 'node_modules/typescript/bin/tsc')
  const done = spawnSync(process.execPath, [tsc, '-b', 'tsconfig.cli.json'], { cwd: root, encoding: 'utf8' })
  if (done.signal) throw new Error(`stopped by ${done.signal}`)
  if (done.status !== 0)
    throw new Error(`it does not compile:\n${done.stdout.split('\n').slice(0, 5).join('\n')}`)
  const bundle = join(root, 'scripts/bundle.mjs')
  if (existsSync(bundle)) spawnSync(process.execPath, [bundle], { cwd: root })
}

/** Checks a commit out below `folder` and compiles it with the packages that are installed here. @returns its root. */
export function buildCommit(commit, folder) {
  const root = join(folder, commit)
  const done = spawnSync('git', ['-C', here, 'worktree', 'add', '--detach', '--force', root, commit], {
    encoding: 'utf8',
  })
  if (done.status !== 0) throw new Error(`${commit} cannot be checked out: ${done.stderr.trim()}`)
  symlinkSync(join(here, 'node_modules'), join(root, 'node_modules'))
  compile(root)
  return root
}

export function dropBuild(root) {
  git('worktree', 'remove', '--force', root)
}
