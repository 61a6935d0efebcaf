// Scenarios in threads of their own say what they say one after the other.
import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { built, halfbit, root } from '../contract/halfbit.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-threads-'))

/** The one locomotive of its fleet. */
const TRAIN = 'trial'

const SHORT = `scenario: 1
name: a short of my own
lasts: 1 s
acts:
  - { at: 400 ms, short: { at: { district: trial }, lasts: 100 ms } }
expect:
  - shortOff: {}
`

describe('several scenarios', () => {
  beforeAll(() => {
    built()
    cpSync(join(root, 'examples/two-tracks'), folder, { recursive: true })
    writeFileSync(join(folder, 'short.yaml'), SHORT)
    // Whether a locomotive is on the rails is known only while the scenario is played.
    const lifted = SHORT.replace('acts:', 'acts:\n  - { at: 200 ms, remove: TRAIN }')
    writeFileSync(
      join(folder, 'wrong.yaml'),
      lifted.replace('district: trial', 'train: TRAIN').replaceAll('TRAIN', TRAIN),
    )
  })
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  const bench = (...args: string[]) => halfbit(['bench', 'halfbit.yaml', ...args], { cwd: folder })

  it('say the same in two threads as in one, in the order in which they were named', () => {
    const names = ['short in trial', 'short.yaml', 'stop during a short']
    const one = bench(...names, '--json', '--jobs', '1')
    const two = bench(...names, '--json', '--jobs', '2')
    expect(one.stderr).toBe('')
    expect(two.stdout).toBe(one.stdout)
    expect(two.status).toBe(one.status)
    const { scenarios } = JSON.parse(two.stdout)
    expect(scenarios.map((s: { name: string }) => s.name)).toEqual([names[0], 'a short of my own', names[2]])
  }, 240_000)

  it('that a design gives rise to may leave something not shown', () => {
    const automation = join(root, 'examples/automation/halfbit.yaml')
    const names = ['every locomotive starts at once', 'program hangs under way']
    for (const jobs of ['1', '2']) {
      const done = halfbit(['bench', automation, ...names, '--jobs', jobs])
      expect(done.stdout).toMatch(/not shown staysOn: [^:]*: not run, the design names\s+no locomotive there/)
      expect(done.status).toBe(0)
    }
  }, 240_000)

  it('end with what the bench does not model', () => {
    expect(bench('short.yaml').stdout).toMatch(/\nNot modelled: inductance of wires/)
  }, 240_000)

  it('of a campaign are those that are short, unless one is named', () => {
    const names = (...args: string[]) =>
      JSON.parse(bench(...args, '--runs', '1', '--jobs', '1', '--json').stdout).campaign.scenarios
    const long = 'a minute without commands'
    const all = bench('--list').stdout.trim().split('\n')
    expect(all).toContain(long)
    expect(names()).toEqual(all.filter((name) => name !== long))
    expect(names('short in trial', long)).toEqual(['short in trial', long])
  }, 240_000)

  it('are refused with the line of an act that cannot be done, in a thread too', () => {
    for (const jobs of ['1', '2']) {
      const done = bench('short.yaml', 'wrong.yaml', '--jobs', jobs)
      expect(done.status).toBe(2)
      expect(done.stderr).toMatch(/wrong\.yaml:6:\d+: "trial" is on no rails/)
    }
  }, 240_000)
})
