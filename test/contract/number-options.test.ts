import { spawnSync } from 'node:child_process'
import { beforeAll, expect, it } from 'vitest'
import { built, main, root } from './halfbit.js'

beforeAll(built, 120_000)

it.each(['-1', '-NaN', '1e99', 'NaN', 'text'])('refuses the seed "%s" with one line of its own', (seed) => {
  const ran = spawnSync(
    process.execPath,
    [main, 'power', `${root}examples/flawed/halfbit.yaml`, '--seed', seed],
    { encoding: 'utf8' },
  )
  expect(ran.status).toBe(2)
  expect(ran.stdout).toBe('')
  expect(ran.stderr).toBe(`halfbit: --seed ${seed}; expected a whole number from 0 to 999999999\n`)
})
