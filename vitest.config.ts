/** The tests in four projects: `rooms` and `faces` are the everyday loop, `referees` and `browser` need other programs. */
import { execFileSync } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { defineConfig } from 'vitest/config'

type Project = 'rooms' | 'faces' | 'referees' | 'browser'

const files = ['src', 'test'].flatMap((top) =>
  readdirSync(top, { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith('.test.ts'))
    .map((file) => join(top, file)),
)

/** By what a test uses, so that a new one needs no entry anywhere. */
function projectOf(file: string): Project {
  if (/^test\/(web|parity)\//.test(file)) return 'browser'
  const text = readFileSync(file, 'utf8')
  // Compilers, simulators, built programs: whatever runs in a process of its own.
  if (/child_process|(contract|\.)\/halfbit|firmware\/compile|referee\/|\/spice\.js|eecircuit/.test(text))
    return 'referees'
  return /^(src\/(cli|web)|test\/(contract|examples))\/|command\.test\.ts$/.test(file) ? 'faces' : 'rooms'
}

const of = (project: Project) => files.filter((file) => projectOf(file) === project)

/**
 * Where random tests draw from: the committed sources, so that one state of them is tried alike everywhere and every change
 * draws anew. `HALFBIT_DRAWS=N` draws from N.
 */
function draws(): string {
  const given = process.env['HALFBIT_DRAWS']
  if (given) return given
  try {
    const tree = execFileSync('git', ['rev-parse', 'HEAD^{tree}'], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    })
    return `${Number.parseInt(tree.slice(0, 7), 16)}`
  } catch {
    // Not a clone: an archive of the sources, say.
    return `${Date.now() % 1e9}`
  }
}

process.env['HALFBIT_DRAWS'] = draws()

export default defineConfig({
  // As the build of the pages fills it in.
  define: { HALFBIT_VERSION: JSON.stringify('0.0.0-test') },
  test: {
    testTimeout: 60_000,
    hookTimeout: 120_000,
    // What is waited for may take its time on a busy machine; one second is the usual.
    expect: { poll: { timeout: 20_000 } },
    // The runner leaves one core idle by itself: on a machine with two that doubles the wait.
    maxWorkers: '100%',
    setupFiles: ['test/runs.ts'],
    projects: [
      // Pure code: nothing that one test could leave behind for the next.
      { extends: true, test: { name: 'rooms', include: of('rooms'), isolate: false } },
      { extends: true, test: { name: 'faces', include: of('faces') } },
      { extends: true, test: { name: 'referees', include: of('referees') } },
      // A browser keeps both cores busy by itself, and a page that waits for its turn looks as if it did not answer. What
      // passes on the second try only is named at the end of the run.
      {
        extends: true,
        test: {
          name: 'browser',
          include: of('browser'),
          maxWorkers: 1,
          sequence: { groupOrder: 1 },
          retry: 1,
        },
      },
    ],
  },
})
