import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { halfbitHere } from '../../../test/contract/here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-check-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const SECOND = readFileSync('examples/two-tracks/halfbit.yaml', 'utf8')
const FIRST = SECOND.replace('halfbit: 2', 'halfbit: 1')
  .replace('  outputs:', '  tracks:')
  .replace('    output: service', '    track: service')

function saved(name: string, text: string): string {
  const path = join(folder, name)
  writeFileSync(path, text)
  return path
}

it('reads a design file of version 1 with one note', async () => {
  const path = saved('first.yaml', FIRST)
  const { status, stdout: out, stderr: err } = await halfbitHere(['check', path])
  expect(status).toBe(0)
  expect(out).toContain('main (operations')
  const notes = err.split('\n').filter((line) => line.includes('version'))
  expect(notes).toEqual([
    `${path} is version 1 of the design file; "halfbit check --upgrade ${path}" rewrites it as version 2`,
  ])
  expect(readFileSync(path, 'utf8')).toBe(FIRST)
})

it('rewrites it in place with --upgrade, comments kept', async () => {
  const path = saved('upgrade.yaml', FIRST)
  const { status, stderr: err } = await halfbitHere(['check', path, '--upgrade'])
  expect([status, readFileSync(path, 'utf8')]).toEqual([0, SECOND])
  expect(err).toContain(`${path} was version 1 and is now version 2\n`)
  expect((await halfbitHere(['check', path, '--upgrade'])).stderr).toContain(
    'is version 2 already; nothing was changed',
  )
})

it('leaves a file with problems as it is', async () => {
  const bad = FIRST.replace('pin: P', 'pn: P')
  const path = saved('bad.yaml', bad)
  const { status, stderr: err } = await halfbitHere(['check', path, '--upgrade'])
  expect([status, readFileSync(path, 'utf8')]).toEqual([2, bad])
  expect(err).toMatch(/bad\.yaml:\d+:\d+: .* no key "pn"/)
})

it('renames keys that version 2 had by another name, and says how when it refuses them', async () => {
  const now = readFileSync('examples/exhibition/halfbit.yaml', 'utf8')
  const before = now.replace('  capacity: 12', '  slots: 12').replace('  memoryEach:', '  slotMemory:')
  const path = saved('former.yaml', before)
  const refused = await halfbitHere(['check', path])
  expect(refused.status).toBe(2)
  expect(refused.stderr).toMatch(
    /former\.yaml:\d+:\d+: traffic has no key "slots"; it is called "capacity" now/,
  )
  expect(refused.stderr).toContain(`"halfbit check --upgrade ${path}"`)
  const { status, stderr } = await halfbitHere(['check', path, '--upgrade'])
  expect([status, readFileSync(path, 'utf8')]).toEqual([0, now])
  expect(stderr).toContain('they were renamed')
})
