// The recipe of docs/scenarios.md for the cores of one machine, run as it is printed.
import { spawnSync } from 'node:child_process'
import { chmodSync, cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { built, halfbit, main, root } from '../contract/halfbit.js'

const HAVE_PARALLEL = existsSync('/usr/bin/parallel')
if (!HAVE_PARALLEL) console.warn('SKIPPED, parts of a campaign side by side: no parallel')

const page = readFileSync(join(root, 'docs/scenarios.md'), 'utf8')
const folder = mkdtempSync(join(tmpdir(), 'halfbit-shards-'))

describe('a campaign in parts', () => {
  beforeAll(() => {
    built()
    cpSync(join(root, 'examples/exhibition'), folder, { recursive: true })
    writeFileSync(join(folder, 'halfbit'), `#!/bin/sh\nexec ${process.execPath} ${main} "$@"\n`)
    chmodSync(join(folder, 'halfbit'), 0o755)
  })
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  it.runIf(HAVE_PARALLEL)(
    'by the recipe is the same as in one piece on two threads, byte for byte',
    () => {
      const recipe = /```sh\n(parallel [\s\S]*?)```/.exec(page)![1]!
      const env = { ...process.env, PATH: `${folder}:${process.env.PATH}`, PARALLEL_HOME: folder }
      const done = spawnSync('sh', ['-ec', recipe], { cwd: folder, env, encoding: 'utf8', timeout: 110_000 })
      expect(done.stderr.replace(/[\s\S]*citation[\s\S]*/, '')).toBe('')
      expect(done.status).toBe(0)
      const whole = halfbit(
        ['bench', 'halfbit.yaml', 'every locomotive starts at once', '--runs', '4', '--jobs', '2', '--json'],
        { cwd: folder },
      )
      expect(whole.status).toBe(0)
      expect(readFileSync(join(folder, 'campaign.json'), 'utf8')).toBe(whole.stdout)
      const report = JSON.parse(whole.stdout)
      expect(report.runs).toHaveLength(4)
      // Four runs that hold show nothing yet.
      expect(report.verdict).toBe('undecided')
      // Three programs of their own.
    },
    240_000,
  )
})
